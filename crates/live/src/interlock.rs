//! The lock of one release. It is closed unless a named person holds it open within the release's window.
//!
//! No path lets a release out unarmed, twice, or outside its window. `tests/interlock.rs` tries all of them.

use crate::orders::Grip;
use crate::units::{HolderId, MachineSpan, MachineTime};
use letfall_core::show::Release;
use letfall_core::time::SongTime;

/// How long a person must hold before the lock opens, by the machine's clock: what the checks count with too.
pub const HOLD: MachineSpan = MachineSpan::of_song(Release::HOLD);

/// A hold that is not renewed for longer than this has ended: the person let go, or the screen no longer responds.
/// Our own figure.
pub const HEARTBEAT: MachineSpan = MachineSpan::from_millis(500);

/// Why a lock that was armed or opening was closed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum DisarmReason {
    /// The person let go.
    LetGo,
    /// The screen did not renew the hold.
    Silence,
    /// The window is over.
    WindowOver,
    /// The run stopped.
    Stopped,
    /// The run moved to another place.
    Located,
    /// The machine slept, or sending stalled.
    Slept,
    /// A port that the release or its handover needs was lost.
    PortLost,
    /// Another person took hold, or the same person pressed again.
    OtherHolder,
    /// It is settled that the fabric stays.
    Stays,
    /// It is not known where the band is.
    Unsure,
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
            DisarmReason::Slept => "the machine slept or sending stood still",
            DisarmReason::PortLost => "a port was lost",
            DisarmReason::OtherHolder => "another person took hold",
            DisarmReason::Stays => "the fabric stays",
            DisarmReason::Unsure => "it is not sure where the band is",
        }
    }
}

/// The state of a lock.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Lock {
    /// Closed.
    Closed,
    /// Somebody holds it, but not yet for long enough.
    Opening {
        /// Since when.
        since: MachineTime,
        /// Renewed last.
        renewed: MachineTime,
        /// Who.
        holder: HolderId,
        /// By which press of the hand.
        grip: Grip,
    },
    /// Open: the release may leave.
    Armed {
        /// Renewed last.
        renewed: MachineTime,
        /// Who.
        holder: HolderId,
        /// By which press of the hand.
        grip: Grip,
    },
    /// The release was sent; the lock stays closed unless somebody asks for a second try.
    Spent,
    /// It is settled that the release is not sent; the lock stays closed unless somebody asks for a second try.
    Withheld,
}

/// The lock of one release.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Interlock {
    /// The start and end of the planned window, both inclusive.
    window: (SongTime, SongTime),
    /// The window of the second try, once somebody asked for it.
    second: Option<(SongTime, SongTime)>,
    lock: Lock,
}

impl Interlock {
    /// A closed lock, with a window from one song time to another, both inclusive.
    pub const fn new(from: SongTime, to: SongTime) -> Interlock {
        Interlock { window: (from, to), second: None, lock: Lock::Closed }
    }

    /// Its state.
    pub const fn lock(&self) -> Lock {
        self.lock
    }

    /// The press that holds it, if any.
    pub const fn grip(&self) -> Option<Grip> {
        match self.lock {
            Lock::Opening { grip, .. } | Lock::Armed { grip, .. } => Some(grip),
            Lock::Closed | Lock::Spent | Lock::Withheld => None,
        }
    }

    /// Whether it can open, now or later in the run, without a second try.
    pub const fn is_settled(&self) -> bool {
        matches!(self.lock, Lock::Spent | Lock::Withheld)
    }

    /// Whether somebody asked for a second try.
    pub const fn is_second_try(&self) -> bool {
        self.second.is_some()
    }

    const fn window(&self) -> (SongTime, SongTime) {
        match self.second {
            Some(window) => window,
            None => self.window,
        }
    }

    /// Whether a song time is within the current window: the second try's if there is one, or else the planned one.
    pub fn is_within(&self, song: SongTime) -> bool {
        let (from, to) = self.window();
        crate::planted!(NoWindow) || from <= song && song <= to
    }

    /// A person holds it, or still holds it. The screen saw this at `given`, and it arrived here at `now`. `song` is the song
    /// time, or `None` while the run is stopped. Returns whether this armed the lock.
    ///
    /// # Errors
    /// Why it closed, if it did.
    pub fn hold(
        &mut self,
        (given, now): (MachineTime, MachineTime),
        song: Option<SongTime>,
        holder: HolderId,
        grip: Grip,
    ) -> Result<bool, DisarmReason> {
        self.tick(now, song)?;
        let renewed = given.min(now);
        if now - renewed > HEARTBEAT {
            return Ok(false);
        }
        let Some(song) = song else { return Ok(false) };
        if !self.is_within(song) {
            return Ok(false);
        }
        let needed = if crate::planted!(HalfAHold) { MachineSpan::from_millis(500) } else { HOLD };
        match self.lock {
            Lock::Spent | Lock::Withheld => Ok(false),
            Lock::Closed => {
                self.lock = Lock::Opening { since: now, renewed, holder, grip };
                Ok(false)
            }
            Lock::Opening { holder: own, grip: by, .. } | Lock::Armed { holder: own, grip: by, .. }
                if own != holder || by != grip =>
            {
                self.lock = Lock::Closed;
                Err(DisarmReason::OtherHolder)
            }
            Lock::Opening { since, .. } if now - since >= needed => {
                self.lock = Lock::Armed { renewed, holder, grip };
                Ok(true)
            }
            Lock::Opening { since, .. } => {
                self.lock = Lock::Opening { since, renewed, holder, grip };
                Ok(false)
            }
            Lock::Armed { .. } => {
                self.lock = Lock::Armed { renewed, holder, grip };
                Ok(false)
            }
        }
    }

    /// Closes the lock if the run stopped, its window is over, or its hold was not renewed.
    ///
    /// # Errors
    /// Why it closed, if it did.
    pub fn tick(&mut self, now: MachineTime, song: Option<SongTime>) -> Result<(), DisarmReason> {
        let renewed = match self.lock {
            Lock::Opening { renewed, .. } | Lock::Armed { renewed, .. } => renewed,
            Lock::Closed | Lock::Spent | Lock::Withheld => return Ok(()),
        };
        let why = match song {
            None => DisarmReason::Stopped,
            Some(song) if !self.is_within(song) => {
                if song > self.window().1 {
                    DisarmReason::WindowOver
                } else {
                    DisarmReason::Located
                }
            }
            Some(_) if now - renewed > HEARTBEAT => DisarmReason::Silence,
            // The clock went back. It cannot be trusted for a release.
            Some(_) if now < renewed => DisarmReason::Slept,
            Some(_) => return Ok(()),
        };
        self.lock = Lock::Closed;
        Err(why)
    }

    /// Closes it. Returns whether it was armed or opening.
    pub fn close(&mut self) -> bool {
        let was = matches!(self.lock, Lock::Opening { .. } | Lock::Armed { .. });
        if was {
            self.lock = Lock::Closed;
        }
        was
    }

    /// It is settled that the release is not sent. Returns whether it was armed or opening.
    pub fn withhold(&mut self) -> bool {
        let was = self.close();
        self.lock = Lock::Withheld;
        was
    }

    /// Asks whether the release may leave now. If so, it counts as sent and the lock is spent. Returns who held it, with which
    /// press.
    pub fn pass(&mut self, now: MachineTime, song: Option<SongTime>) -> Option<(HolderId, Grip)> {
        self.tick(now, song).ok()?;
        let (Lock::Armed { holder, grip, .. }, Some(song)) = (self.lock, song) else { return None };
        if !self.is_within(song) {
            return None;
        }
        self.lock = Lock::Spent;
        Some((holder, grip))
    }

    /// Somebody asks for a second try of a release that was sent or withheld, with a window from one song time to another. Returns whether
    /// it is allowed: once per run.
    pub fn begin_second_try(&mut self, from: SongTime, to: SongTime) -> bool {
        let may = self.is_settled() && self.second.is_none();
        if may {
            (self.second, self.lock) = (Some((from, to)), Lock::Closed);
        }
        may
    }

    /// A new run begins. A spent lock can be armed again.
    pub fn renew(&mut self) {
        (self.second, self.lock) = (None, Lock::Closed);
    }
}
