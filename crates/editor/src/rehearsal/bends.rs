//! How a run bends, as the screen sees it: what became of each release, where the song stands or goes round, what goes by hand.

use letfall_core::time::SongTime;
use letfall_live::{Answer, Bend, Event, Fate, Moves, Place, ReleaseIndex, RunPlan};

/// What is known of the bends of a run.
#[derive(Debug, Clone, Default)]
pub struct Bends {
    /// What became of each release, and whether something that depends on it had left by then.
    pub fates: Vec<(Fate, bool)>,
    /// The stretch that goes round, and which round this is.
    pub round: Option<(SongTime, SongTime, u32)>,
    /// The vamp is left at its end, or there once more and then.
    pub leaving: Option<Answer>,
    /// A place ahead at which the song is to wait.
    pub wait: Option<SongTime>,
    /// A part ahead that is left out.
    pub cut: Option<(SongTime, SongTime)>,
    /// A stretch that was made to go round during the run.
    pub vamp: Option<(SongTime, SongTime)>,
    /// The group that goes next by hand, by its number, once that is known.
    pub next_group: Option<usize>,
    /// A release whose fabric fell early, and whose pictures wait for a key.
    pub pictures: Option<ReleaseIndex>,
    /// What came of the last choice, and whether it is a warning.
    pub line: Option<(String, bool)>,
}

impl Bends {
    /// For a run with this many releases, as it begins.
    pub fn new(releases: usize) -> Bends {
        Bends { fates: vec![(Fate::Open, false); releases], ..Bends::default() }
    }

    /// What is known of a release.
    pub fn fate(&self, release: ReleaseIndex) -> Fate {
        self.fates.get(release.index()).map_or(Fate::Open, |(fate, _)| *fate)
    }

    /// Takes in what was reported.
    pub fn hear(&mut self, event: &Event, plan: &RunPlan, place: Place) {
        match *event {
            Event::Started { .. } => self.path_ends(),
            Event::Stopped { .. } => {
                self.path_ends();
                self.pictures = None;
            }
            Event::Fate { release, fate, late, .. } => {
                if let Some(of) = self.fates.get_mut(release.index()) {
                    *of = (fate, late);
                }
                if fate == Fate::Early {
                    self.pictures = Some(release);
                }
            }
            Event::Waits { .. } => (self.wait, self.round) = (None, None),
            Event::Turned { from, to, round, .. } => {
                self.round = round.map(|round| (to, from, round));
                match (round, self.leaving) {
                    (Some(_), Some(Answer::OnceMore)) => self.leaving = Some(Answer::Done),
                    (None, _) => (self.leaving, self.cut, self.vamp) = (None, None, None),
                    _ => {}
                }
            }
            Event::Group { group, .. } => self.next_group = Some(group as usize + 1),
            Event::Bent { bend, answer, .. } => self.answered(bend, answer, plan, place),
            _ => {}
        }
        if place.moves == Moves::Runs
            && self.leaving == Some(Answer::Done)
            && self.round.is_some_and(|(_, to, _)| place.song >= to)
        {
            (self.leaving, self.round) = (None, None);
        }
    }

    fn path_ends(&mut self) {
        (self.round, self.leaving, self.wait, self.cut, self.vamp) = (None, None, None, None, None);
    }

    fn answered(&mut self, bend: Bend, answer: Answer, plan: &RunPlan, place: Place) {
        let label = bend.release().and_then(|release| plan.release(release)).map(|r| r.label.to_string());
        let label = label.unwrap_or_default();
        if let Answer::Refused(why) = answer {
            self.line = Some((format!("{}: {}", name(bend), why.words()), true));
            return;
        }
        match bend {
            Bend::Wait { at } => self.wait = Some(at),
            Bend::Cut { from, to } => self.cut = Some((from, to)),
            Bend::Vamp { from, to } => self.vamp = Some((from, to)),
            Bend::Leave { at: None } => self.leaving = Some(answer),
            Bend::Leave { at: Some(_) } => self.leaving = Some(Answer::Done),
            Bend::TakeBack => (self.wait, self.cut, self.vamp, self.leaving) = (None, None, None, None),
            Bend::ByHand => {
                let ahead =
                    |item: &letfall_live::ItemIndex| plan.item(*item).is_some_and(|item| item.due >= place.song);
                self.next_group = Some(plan.groups.partition_point(|group| !group.items.iter().any(ahead)));
            }
            Bend::Next => self.pictures = None,
            _ => {}
        }
        let words = match answer {
            Answer::OnceMore => {
                "the vamp goes round once more first: what must leave ahead of its end could not any more".to_owned()
            }
            _ => format!("{}{}{label}", name(bend), if label.is_empty() { "" } else { ": " }),
        };
        self.line = Some((words, false));
    }
}

/// A choice, as it is written on screen.
pub const fn name(bend: Bend) -> &'static str {
    match bend {
        Bend::Wait { .. } => "wait",
        Bend::GoOn => "resume",
        Bend::Vamp { .. } => "vamp",
        Bend::Leave { .. } => "leave the vamp",
        Bend::Cut { .. } => "cut",
        Bend::TakeBack => "taken back",
        Bend::Stays { .. } => "fabric stays",
        Bend::Stuck { .. } => "stuck",
        Bend::Early { .. } => "early",
        Bend::Down { .. } => "fabric is down",
        Bend::TryAt { .. } => "second try",
        Bend::ByHand => "by hand",
        Bend::Next => "next group by hand",
    }
}
