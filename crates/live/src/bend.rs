//! Bends of a run: what a person chooses when the evening does not go as planned.

use crate::units::{MachineTime, ReleaseIndex};
use letfall_core::time::{SongSpan, SongTime};

/// Which part of a fabric is stuck.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Part {
    /// All of it.
    All,
    /// The left, as the audience sees it.
    Left,
    /// The right, as the audience sees it.
    Right,
}

impl Part {
    /// As it is said.
    pub const fn word(self) -> &'static str {
        match self {
            Part::All => "all",
            Part::Left => "left",
            Part::Right => "right",
        }
    }
}

/// What a person chooses.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Bend {
    /// Time is to stand at a place ahead.
    Wait {
        /// Where.
        at: SongTime,
    },
    /// Time goes on after a wait.
    GoOn,
    /// A stretch is to go round, from now on.
    Vamp {
        /// Its beginning.
        from: SongTime,
        /// Its end.
        to: SongTime,
    },
    /// The vamp is left.
    Leave {
        /// At this place in it. `None`: at its end.
        at: Option<SongTime>,
    },
    /// The song leaves out a part ahead.
    Cut {
        /// Where it leaves.
        from: SongTime,
        /// Where it goes on.
        to: SongTime,
    },
    /// What was chosen for a place ahead is taken back.
    TakeBack,
    /// The fabric stays, although somebody might arm it.
    Stays {
        /// Which release.
        release: ReleaseIndex,
    },
    /// The release was sent, and the fabric is stuck.
    Stuck {
        /// Which release.
        release: ReleaseIndex,
        /// What of it.
        part: Part,
    },
    /// The fabric fell before its time.
    Early {
        /// Which release.
        release: ReleaseIndex,
    },
    /// A person saw that the fabric is down.
    Down {
        /// Which release.
        release: ReleaseIndex,
    },
    /// The release is tried once more, to land at a place ahead.
    TryAt {
        /// Which release.
        release: ReleaseIndex,
        /// Where it is to land.
        land: SongTime,
    },
    /// From now on a person sends each group of cues.
    ByHand,
    /// Sends the next group of cues.
    Next,
}

/// What came of a person's choice.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Answer {
    /// It is done, or will be when its place comes.
    Done,
    /// The vamp goes round once more first, because what must leave ahead of its end can no longer leave in time.
    OnceMore,
    /// Nothing changed.
    Refused(Refusal),
}

/// Why a choice changed nothing.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Refusal {
    /// Nothing is running.
    NotRunning,
    /// Another clock leads the time.
    Led,
    /// The place has passed, or something that must leave ahead of it has left or can no longer leave in time.
    TooLate,
    /// The part is shorter than a second, or goes the wrong way.
    Short,
    /// There is nothing of the kind to change.
    Nothing,
    /// The release was not sent.
    NotSent,
    /// The release was sent.
    Sent,
    /// It was tried twice.
    TriedTwice,
    /// The release could not be armed in time there.
    NoTimeToArm,
    /// A rehearsal sends no release.
    Rehearsing,
}

impl Refusal {
    /// Why, as a clause for people.
    pub const fn words(self) -> &'static str {
        match self {
            Refusal::NotRunning => "nothing is running",
            Refusal::Led => {
                "another clock leads the time: a playback machine, or timecode that comes in. Wait, vamp and cut only work where Letfall \
                 leads, or where it follows the band"
            }
            Refusal::TooLate => "that place has passed, or a message for it has left already",
            Refusal::Short => "a part must be at least a second long, and go on later than it begins",
            Refusal::Nothing => "there is nothing like that to change here",
            Refusal::NotSent => "that release was not sent",
            Refusal::Sent => "that release was sent already",
            Refusal::TriedTwice => {
                "it was tried twice. The zone stays shut until the audience has left and the competent person has isolated the release"
            }
            Refusal::NoTimeToArm => "nobody could arm it in time there. Choose a later bar",
            Refusal::Rehearsing => "this is a rehearsal, and no release leaves",
        }
    }
}

impl Answer {
    /// Its word in the log. These words must not change, because scripts and old logs use them.
    pub const fn word(self) -> &'static str {
        match self {
            Answer::Done => "done",
            Answer::OnceMore => "once-more",
            Answer::Refused(_) => "refused",
        }
    }
}

impl Bend {
    /// Its word in the log and in scripts. These words must not change.
    pub const fn word(self) -> &'static str {
        match self {
            Bend::Wait { .. } => "wait",
            Bend::GoOn => "go-on",
            Bend::Vamp { .. } => "vamp",
            Bend::Leave { .. } => "leave",
            Bend::Cut { .. } => "cut",
            Bend::TakeBack => "take-back",
            Bend::Stays { .. } => "fabric-stays",
            Bend::Stuck { .. } => "stuck",
            Bend::Early { .. } => "early",
            Bend::Down { .. } => "down",
            Bend::TryAt { .. } => "try-at",
            Bend::ByHand => "by-hand",
            Bend::Next => "next",
        }
    }

    /// The release that it is about.
    pub const fn release(self) -> Option<ReleaseIndex> {
        match self {
            Bend::Stays { release }
            | Bend::Stuck { release, .. }
            | Bend::Early { release }
            | Bend::Down { release }
            | Bend::TryAt { release, .. } => Some(release),
            _ => None,
        }
    }
}

/// How fast a song goes by the machine's clock: microseconds of song in a million microseconds of the machine. A band that plays
/// slower than planned has less than a million.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Rate(i64);

impl Rate {
    /// As planned.
    pub const PLANNED: Rate = Rate(1_000_000);
    /// It stands.
    pub const STANDS: Rate = Rate(0);
    /// The slowest and the fastest that is followed: beyond that it is not this song. Our own figure.
    const RANGE: (i64, i64) = (500_000, 2_000_000);

    /// So many microseconds of song in a million of the machine, within what is followed.
    pub const fn per_million(micros: i64) -> Rate {
        let (least, most) = Rate::RANGE;
        Rate(if micros < least {
            least
        } else if micros > most {
            most
        } else {
            micros
        })
    }

    /// Microseconds of song in a million of the machine.
    pub const fn micros(self) -> i64 {
        self.0
    }

    /// How much later in the song a message is due than planned, if it leaves so long before its land: its lead takes as long as ever, and the
    /// song goes faster or slower meanwhile. While it stands, as planned.
    pub fn pace(self, lead: SongSpan) -> SongSpan {
        if self == Rate::PLANNED || self == Rate::STANDS {
            return SongSpan::ZERO;
        }
        lead - SongSpan::from_micros(self.song(lead.micros()))
    }

    pub(crate) const fn from_raw(micros: i64) -> Rate {
        Rate(micros)
    }

    /// How much song passes in some microseconds of the machine.
    pub const fn song(self, machine: i64) -> i64 {
        if self.0 == Rate::PLANNED.0 { machine } else { machine.saturating_mul(self.0) / 1_000_000 }
    }

    /// How many microseconds of the machine some song takes. The song must not stand.
    pub const fn machine(self, song: i64) -> i64 {
        if self.0 == Rate::PLANNED.0 || self.0 == 0 { song } else { song.saturating_mul(1_000_000) / self.0 }
    }
}

/// Where a band is, as its taps say.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct BandPlace {
    /// A place of the song.
    pub song: SongTime,
    /// When the band is there.
    pub at: MachineTime,
    /// How fast it goes.
    pub rate: Rate,
    /// Whether the taps agree. While they do not, no release leaves.
    pub sure: bool,
    /// How many turns of the song the sender has heard of: see [`crate::Event::Turned`]. A place from before a turn that the song has taken
    /// since says nothing about where it is.
    pub turns: u32,
}
