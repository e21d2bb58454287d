//! Which cues are looked for, in which region, when, and how far around.

use super::{Filming, Seek, course, film_time};
use crate::align::Run;
use crate::picture::{Region, Regions, Unseen, Wanted};
use letfall_core::prepared::Prepared;
use letfall_core::schedule::Row;
use letfall_core::show::{Action, Label, Show};

/// How far around its planned time a cue is looked for at most, seconds.
const REACH: f64 = 0.8;
/// A run was found by stretches of sound of two seconds; the film shows a little more of it, seconds.
const AROUND_RUN: f64 = 2.0;
/// Closer than this to its neighbour, nobody can say which of both changed a region, seconds.
const LEAST_REACH: f64 = 0.1;

/// One cue that is looked for.
#[derive(Debug, Clone, PartialEq)]
pub struct Sought {
    pub run: usize,
    pub label: Label,
    pub region: usize,
    /// Its land, seconds of the song.
    pub lands: f64,
    /// The same by the film's clock.
    pub planned: f64,
    /// By how much sound is planned late for the seat, seconds.
    pub seat: f64,
    pub wanted: Wanted,
    pub does: Seek,
}

/// What is looked for in a film.
#[derive(Debug, Clone, PartialEq)]
pub struct Look {
    /// The cues.
    pub cues: Vec<Sought>,
    /// Cues that no region shows.
    pub nowhere: Vec<Label>,
    /// Every run.
    pub runs: Vec<Run>,
    /// When the sound begins by the film's clock, seconds.
    pub begins: f64,
}

impl Look {
    /// The stretches of the film's clock that are needed, seconds.
    pub fn stretches(&self) -> Vec<(f64, f64)> {
        self.cues.iter().filter(|c| !matches!(c.does, Seek::Nothing(_))).map(|c| c.wanted.stretch()).collect()
    }
}

/// A name that the show does not have.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("region \"{region}\" shows \"{name}\", which is no receiver, output or fabric of this show; it has {there}")]
pub struct LookError {
    region: String,
    name: String,
    there: String,
}

/// Decides what is looked for.
///
/// # Errors
/// [`LookError`] if a region names what the show does not have.
pub fn look(
    plan: &Prepared,
    regions: &Regions,
    runs: Vec<Run>,
    begins: f64,
    filming: &Filming,
) -> Result<Look, LookError> {
    let show = plan.show();
    known(show, regions)?;
    let mut cues = Vec::new();
    let mut nowhere = Vec::new();
    for row in sent(plan) {
        let cue = plan.cue(row);
        let names = names(show, row, &cue.does);
        let shows = |region: &&Region| region.shows.iter().any(|shown| names.contains(&shown.as_str()));
        if !regions.regions.iter().any(|region| shows(&region)) {
            nowhere.push(row.label);
        }
        for (number, region) in regions.regions.iter().enumerate().filter(|(_, region)| shows(region)) {
            for (at, run) in runs.iter().enumerate() {
                let Some(planned) = planned_at(plan, row, run, begins, filming) else { continue };
                let (lands, seat) = lands_and_seat(row);
                let (fade, share) = course(plan, &cue.does);
                let fade = fade * run.slow;
                let does = match cue.does {
                    Action::Release { lands, .. } if is_fabric(show, region) => Seek::Fall(lands),
                    Action::Release { .. } => continue,
                    _ => Seek::Change,
                };
                let reach = if matches!(does, Seek::Fall(_)) { crate::picture::FALL_REACH } else { REACH };
                let reach = reach * run.slow;
                let wanted = Wanted { lands: planned, fade, share, reach: (reach, reach), step: 0.04 };
                cues.push(Sought { run: at, label: row.label, region: number, lands, planned, seat, wanted, does });
            }
        }
    }
    part(&mut cues);
    Ok(Look { cues, nowhere, runs, begins })
}

/// The cues that are sent.
pub fn sent(plan: &Prepared) -> impl Iterator<Item = &Row> {
    plan.schedule().rows.iter().filter(|row| !plan.cue(row).resting && row.fault.is_none())
}

/// When a cue lands, and by how much sound is planned late for the seat, seconds.
fn lands_and_seat(row: &Row) -> (f64, f64) {
    (row.land.micros() as f64 / 1e6, row.lead.sound.micros() as f64 / 1e6)
}

/// When a cue should be seen in a run, seconds of the film's clock, wherever the run ends.
pub fn planned(plan: &Prepared, row: &Row, run: &Run, begins: f64, filming: &Filming) -> f64 {
    let (lands, seat) = lands_and_seat(row);
    film_time(run, begins, filming, plan.show().settings.air_c, seat, lands)
}

/// The same; `None` if the run does not show it.
pub fn planned_at(plan: &Prepared, row: &Row, run: &Run, begins: f64, filming: &Filming) -> Option<f64> {
    let planned = planned(plan, row, run, begins, filming);
    (run.from - AROUND_RUN..=run.to + AROUND_RUN).contains(&(planned - begins)).then_some(planned)
}

/// The names under which a cue may be seen: its receiver, its output, its fabric.
pub fn names<'a>(show: &'a Show, row: &Row, does: &Action) -> Vec<&'a str> {
    let mut names: Vec<&str> = row.receiver.map(|at| show.receivers[at as usize].name.as_str()).into_iter().collect();
    match does {
        Action::Output { route } => {
            let output = show.route(route).and_then(|route| show.output(&route.output));
            names.extend(output.map(|output| output.name.as_str()));
        }
        Action::Release { release, .. } => {
            let hang = show.release(release).and_then(|release| show.hang(&release.hang));
            names.extend(hang.map(|hang| hang.name.as_str()));
        }
        Action::Lighting { .. } | Action::Media { .. } => {}
    }
    names
}

fn is_fabric(show: &Show, region: &Region) -> bool {
    show.hangs.iter().any(|hang| region.shows.contains(&hang.name))
}

/// Checks that the show has everything that regions name.
///
/// # Errors
/// [`LookError`] names the first that it does not have.
pub fn known(show: &Show, regions: &Regions) -> Result<(), LookError> {
    let receivers = show.receivers.iter().map(|r| &r.name);
    let all: Vec<&String> =
        receivers.chain(show.outputs.iter().map(|o| &o.name)).chain(show.hangs.iter().map(|h| &h.name)).collect();
    for region in &regions.regions {
        for name in &region.shows {
            if !all.contains(&name) {
                let there = all.iter().map(|name| format!("\"{name}\"")).collect::<Vec<_>>().join(", ");
                return Err(LookError { region: region.name.clone(), name: name.clone(), there });
            }
        }
    }
    Ok(())
}

/// Neighbours in one region share the time between them; those that leave no room are not looked for.
fn part(cues: &mut [Sought]) {
    cues.sort_by(|a, b| (a.run, a.region).cmp(&(b.run, b.region)).then(a.planned.total_cmp(&b.planned)));
    for n in 1..cues.len() {
        let (before, after) = cues.split_at_mut(n);
        let (Some(one), Some(next)) = (before.last_mut(), after.first_mut()) else { continue };
        if (one.run, one.region) != (next.run, next.region) {
            continue;
        }
        // A fall hides what changes at the same time, and is not hidden by it.
        if matches!(one.does, Seek::Fall(_)) || matches!(next.does, Seek::Fall(_)) {
            continue;
        }
        let ends = one.planned + (1.0 - one.wanted.share) * one.wanted.fade;
        let begins = next.planned - next.wanted.share * next.wanted.fade;
        let room = begins - ends - 2.0 * crate::picture::AROUND;
        if room >= one.wanted.reach.1 + next.wanted.reach.0 {
            continue;
        }
        if room < 2.0 * LEAST_REACH {
            (one.does, next.does) = (Seek::Nothing(Unseen::Crowded), Seek::Nothing(Unseen::Crowded));
            continue;
        }
        one.wanted.reach.1 = one.wanted.reach.1.min(room / 2.0);
        next.wanted.reach.0 = next.wanted.reach.0.min(room / 2.0);
    }
}
