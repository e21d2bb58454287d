//! The lock of one release. It is closed unless a person, by name, is holding it open, within the release's own window.
//!
//! No path through it lets a release out unarmed, twice, or outside its window: `tests/interlock.rs` walks all of them.

use crate::units::{HolderId, MachineSpan, MachineTime};
use letfall_core::time::SongTime;

/// How long a person must hold before the lock opens, as Letfall has it: longer than any slip of the hand.
pub const HOLD: MachineSpan = MachineSpan::from_millis(1000);

/// A hold that is not renewed for so long has ended; a hand that let go, or a screen that no longer answers.
/// Our own figure.
pub const HEARTBEAT: MachineSpan = MachineSpan::from_millis(500);

/// Why an open lock, or one that was being opened, closed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum DisarmReason {
    /// The person let go.
    LetGo,
    /// Nothing was heard of the hold any more.
    Silence,
    /// The window is over.
    WindowOver,
    /// The run stopped.
    Stopped,
    /// The playhead was set elsewhere.
    Located,
    /// The machine slept, or its clock jumped.
    Slept,
    /// A port was lost.
    PortLost,
    /// Another person took hold.
    OtherHolder,
}

impl DisarmReason {
    /// In words, for screen and log.
    pub const fn words(self) -> &'static str {
        match self {
            DisarmReason::LetGo => "let go",
            DisarmReason::Silence => "the hold was not renewed",
            DisarmReason::WindowOver => "the window is over",
            DisarmReason::Stopped => "stopped",
            DisarmReason::Located => "moved to another place",
            DisarmReason::Slept => "the machine slept or its clock jumped",
            DisarmReason::PortLost => "a port was lost",
            DisarmReason::OtherHolder => "another person took hold",
        }
    }
}

/// Where the lock stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Lock {
    /// Closed.
    Closed,
    /// Somebody holds, not yet long enough.
    Opening {
        /// Since when.
        since: MachineTime,
        /// Renewed last.
        renewed: MachineTime,
        /// Who.
        holder: HolderId,
    },
    /// Open.
    Armed {
        /// Renewed last.
        renewed: MachineTime,
        /// Who.
        holder: HolderId,
    },
    /// The release was sent; the lock stays closed for the rest of the run.
    Spent,
}

/// The lock of one release.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Interlock {
    /// When its window begins.
    from: SongTime,
    /// When it ends.
    to: SongTime,
    lock: Lock,
}

impl Interlock {
    /// A closed lock whose window is from one song time to another, both within it.
    pub const fn new(from: SongTime, to: SongTime) -> Interlock {
        Interlock { from, to, lock: Lock::Closed }
    }

    /// Where it stands.
    pub const fn lock(&self) -> Lock {
        self.lock
    }

    /// Whether a song time is within its window.
    pub fn is_within(&self, song: SongTime) -> bool {
        self.from <= song && song <= self.to
    }

    /// A person holds, or goes on holding. `song` is the song time while the run goes on. Gives whether this armed it.
    pub fn hold(&mut self, now: MachineTime, song: Option<SongTime>, holder: HolderId) -> Result<bool, DisarmReason> {
        self.tick(now, song)?;
        let Some(song) = song else { return Ok(false) };
        if !self.is_within(song) {
            return Ok(false);
        }
        match self.lock {
            Lock::Spent => Ok(false),
            Lock::Closed => {
                self.lock = Lock::Opening { since: now, renewed: now, holder };
                Ok(false)
            }
            Lock::Opening { holder: own, .. } | Lock::Armed { holder: own, .. } if own != holder => {
                self.lock = Lock::Closed;
                Err(DisarmReason::OtherHolder)
            }
            Lock::Opening { since, .. } if now - since >= HOLD => {
                self.lock = Lock::Armed { renewed: now, holder };
                Ok(true)
            }
            Lock::Opening { since, .. } => {
                self.lock = Lock::Opening { since, renewed: now, holder };
                Ok(false)
            }
            Lock::Armed { .. } => {
                self.lock = Lock::Armed { renewed: now, holder };
                Ok(false)
            }
        }
    }

    /// Time goes on: what is over closes.
    ///
    /// # Errors
    /// Why it closed, if it did.
    pub fn tick(&mut self, now: MachineTime, song: Option<SongTime>) -> Result<(), DisarmReason> {
        let renewed = match self.lock {
            Lock::Opening { renewed, .. } | Lock::Armed { renewed, .. } => renewed,
            Lock::Closed | Lock::Spent => return Ok(()),
        };
        let why = match song {
            None => DisarmReason::Stopped,
            Some(song) if song > self.to => DisarmReason::WindowOver,
            Some(song) if song < self.from => DisarmReason::Located,
            Some(_) if now - renewed > HEARTBEAT => DisarmReason::Silence,
            // A clock that went back is no clock to send a release by.
            Some(_) if now < renewed => DisarmReason::Slept,
            Some(_) => return Ok(()),
        };
        self.lock = Lock::Closed;
        Err(why)
    }

    /// Closes it. Gives whether it was open or being opened.
    pub fn close(&mut self) -> bool {
        let was = matches!(self.lock, Lock::Opening { .. } | Lock::Armed { .. });
        if was {
            self.lock = Lock::Closed;
        }
        was
    }

    /// Asks whether the release may leave now; if so, it has left: the lock is spent. Gives who held it.
    pub fn pass(&mut self, now: MachineTime, song: Option<SongTime>) -> Option<HolderId> {
        self.tick(now, song).ok()?;
        let (Lock::Armed { holder, .. }, Some(song)) = (self.lock, song) else { return None };
        if !self.is_within(song) {
            return None;
        }
        self.lock = Lock::Spent;
        Some(holder)
    }

    /// A new run begins: what was spent can be armed again.
    pub fn renew(&mut self) {
        self.lock = Lock::Closed;
    }
}
