//! The parts of the engine's state, each with what can be said of it alone: what became of releases, the song's way, what goes by hand.

use crate::event::Fate;
use crate::units::{ItemIndex, MachineTime, ReleaseIndex};
use letfall_core::show::Course;
use letfall_core::time::{SongSpan, SongTime};

/// How many messages may overtake the next one.
pub(super) const OVERTAKING: usize = 256;

/// What is known of a release in this run.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct ReleaseCourse {
    pub fate: Fate,
    /// How much later than planned it is tried once more.
    pub shift: SongSpan,
    /// The other course that it took last, and where in the song.
    pub instead: Option<(Course, SongTime)>,
    /// Something that depends on it was not sent.
    pub missed: bool,
}

/// A message that waits until it is known whether the releases that it depends on left.
#[derive(Debug, Clone, Copy)]
pub(super) struct Unsettled {
    pub item: ItemIndex,
    pub due: MachineTime,
    pub until: MachineTime,
}

/// What goes by hand.
#[derive(Debug)]
pub(super) struct Hand {
    /// The group that is sent next, by its number.
    pub next: usize,
    /// Where the last group landed.
    pub reached: SongTime,
    /// Messages that are still to leave, each with its time by the machine's clock; the next one last.
    pub queue: Vec<(MachineTime, ItemIndex)>,
    /// The release whose message is being sent.
    pub leaving: Option<ReleaseIndex>,
    /// The release that fell early, whose pictures wait until people are looked after.
    pub pictures: Option<ReleaseIndex>,
}

impl Hand {
    pub fn with_capacity(items: usize) -> Hand {
        Hand { next: 0, reached: SongTime::ZERO, queue: Vec::with_capacity(items), leaving: None, pictures: None }
    }
}

/// What the song does where it leaves the straight line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Then {
    /// It stands until somebody goes on.
    Wait,
    /// It goes round, from here.
    Round(SongTime),
    /// It goes on here.
    GoOn(SongTime),
}

/// The next place where the song leaves the straight line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Turn {
    pub at: SongTime,
    pub then: Then,
}

/// A message for what comes after a bend.
#[derive(Debug, Clone, Copy)]
pub(super) struct Ahead {
    pub item: ItemIndex,
    /// When it is due in the song, on this side of the bend, at the planned tempo.
    pub due: SongTime,
    /// Whether it has left.
    pub left: bool,
}

/// The song's way, as far as it is settled.
#[derive(Debug, Default)]
pub(super) struct Path {
    /// Where it leaves the straight line next.
    pub turn: Option<Turn>,
    /// Messages for what comes after it, in the order of the plan. Those that are due before it leave ahead of it.
    pub ahead: Vec<Ahead>,
    /// Where the present stretch began. What is due before and lands before has been sent.
    pub begun: Option<SongTime>,
    /// Where the song was begun, or goes on after a wait, so that it does not wait there again.
    pub waited: Option<SongTime>,
    /// The vamp that was gone round last, and which round of it this is.
    pub rounds: Option<(SongTime, SongTime, u32)>,
    /// The vamp is to be left at its end after this round.
    pub leaving: bool,
    /// The end of a vamp that is left.
    pub left: Option<SongTime>,
    /// What was chosen during the run.
    pub wait: Option<SongTime>,
    pub vamp: Option<(SongTime, SongTime)>,
    pub cut: Option<(SongTime, SongTime)>,
}

impl Path {
    /// The song is begun at a place, and does not wait there.
    pub fn begin(&mut self, song: SongTime) {
        self.waited = Some(song);
    }

    pub fn with_capacity(items: usize) -> Path {
        Path { ahead: Vec::with_capacity(items), ..Path::default() }
    }

    /// The run was broken off: nothing that was chosen holds any more.
    pub fn leave(&mut self) {
        let mut ahead = std::mem::take(&mut self.ahead);
        ahead.clear();
        *self = Path { ahead, ..Path::default() };
    }

    /// Whether something has left ahead of the next bend: then the song is bound for it.
    pub fn is_bound(&self) -> bool {
        self.ahead.iter().any(|ahead| ahead.left)
    }

    /// Whether a place lies in the vamp that is being gone round, in any round but the first.
    pub fn was_round(&self, place: SongTime) -> bool {
        self.rounds.is_some_and(|(from, to, round)| round > 1 && from <= place && place < to)
    }
}
