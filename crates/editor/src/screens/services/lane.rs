//! The contents of a lane: a service's cues, and which of them differ from those of the service on screen. Computed once per
//! change, in the background if it may take long.

use crate::document::{BESIDE, Document};
use crate::jobs::Job;
use letfall_core::edit::{self, Difference, Match};
use letfall_core::prepared::PreparedShow;
use letfall_core::show::Label;
use letfall_core::time::{Grid, SongTime};
use std::collections::BTreeSet;
use std::sync::Arc;

/// A service's grid, the times of its cues, and how it differs from the service on screen.
pub struct Lane {
    /// Its grid.
    pub grid: Arc<Grid>,
    /// Its cues, and the song times at which they land.
    pub cues: Vec<(Label, SongTime)>,
    /// Cues that differ, or that only this service has.
    pub differs: BTreeSet<Label>,
    /// The differences; `None` for the service on screen itself.
    pub found: Option<Vec<Difference>>,
}

/// What the lanes depend on: revision of the show, service on screen, what counts as the same position.
type Of = (u64, usize, Match);

/// One lane per service; `None` if its grid cannot be built.
pub type All = Vec<Option<Lane>>;

/// The lanes, as last computed.
#[derive(Default)]
pub struct Lanes {
    all: All,
    of: Option<Of>,
    coming: Option<(Of, Job<All>)>,
}

impl Lanes {
    /// The lanes, computed again after a change. With very many cues, they show the previous state for a moment.
    pub fn of(&mut self, ctx: &egui::Context, document: &Document, matching: Match) -> &All {
        let now = (document.revision, document.service, matching);
        if let Some((of, job)) = &mut self.coming
            && let Some(done) = job.poll()
        {
            if let Ok(all) = done {
                (self.all, self.of) = (all, Some(*of));
            }
            self.coming = None;
        }
        let wanted = self.of != Some(now) && self.coming.as_ref().is_none_or(|(of, _)| *of != now);
        if let (true, Ok(plan)) = (wanted, document.plan()) {
            let (show, at) = (PreparedShow::new(document.show.clone(), plan.prepared_show().facts().clone()), now.1);
            let cues: usize = document.show.services.iter().map(|s| s.cues.len()).sum();
            if cues <= BESIDE {
                (self.all, self.of, self.coming) = (all(&show, at, matching), Some(now), None);
            } else {
                let ctx = ctx.clone();
                let wake = Arc::new(move || ctx.request_repaint());
                let job = Job::start("Services", 1, wake, move |_| all(&show, at, matching));
                self.coming = job.ok().map(|job| (now, job));
            }
        }
        &self.all
    }
}

fn all(show: &Arc<PreparedShow>, on_screen: usize, matching: Match) -> All {
    let services = &show.show().services;
    let Some(here) = services.get(on_screen) else { return Vec::new() };
    let lane = |(at, service): (usize, &letfall_core::show::Service)| {
        let grid = show.prepare(at).ok()?.grid().clone();
        let cues = service.cues.iter().map(|c| (c.label, c.at.time(&grid))).collect();
        let found = if at == on_screen {
            None
        } else {
            Some(edit::compare(show.show(), &here.name, &service.name, matching).ok()?)
        };
        let differs = found.iter().flatten().filter_map(|difference| match difference {
            Difference::OnlySecond(label) | Difference::Differs(label, _) => Some(*label),
            Difference::OnlyFirst(_) => None,
        });
        let differs = differs.collect();
        Some(Lane { grid, cues, differs, found })
    };
    services.iter().enumerate().map(lane).collect()
}
