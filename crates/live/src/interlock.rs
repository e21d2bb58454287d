//! The lock of one release. It is closed unless a person, by name, is holding it open, within the release's own window.
//!
//! No path through it lets a release out unarmed, twice, or outside its window: `tests/interlock.rs` walks all of them.

/// How long a person must hold before the lock opens, in microseconds. Our own figure: longer than any slip of the hand.
pub const HOLD: i64 = 1_000_000;

/// A hold that is not renewed for so long has ended, in microseconds: a hand that let go, or a screen that no longer answers.
/// Our own figure.
pub const HEARTBEAT: i64 = 500_000;

/// Why an open lock, or one that was being opened, closed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Lapse {
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

impl Lapse {
    /// In words, for screen and log.
    pub const fn words(self) -> &'static str {
        match self {
            Lapse::LetGo => "let go",
            Lapse::Silence => "the hold was not renewed",
            Lapse::WindowOver => "the window is over",
            Lapse::Stopped => "stopped",
            Lapse::Located => "moved to another place",
            Lapse::Slept => "the machine slept or its clock jumped",
            Lapse::PortLost => "a port was lost",
            Lapse::OtherHolder => "another person took hold",
        }
    }
}

/// Where the lock stands. Times are microseconds of the machine's clock; holders are numbers that the screen gives names to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Lock {
    /// Closed.
    Closed,
    /// Somebody holds, not yet long enough.
    Opening {
        /// Since when.
        since: i64,
        /// Renewed last.
        renewed: i64,
        /// Who.
        holder: u16,
    },
    /// Open.
    Armed {
        /// Renewed last.
        renewed: i64,
        /// Who.
        holder: u16,
    },
    /// The release was sent; the lock stays closed for the rest of the run.
    Spent,
}

/// The lock of one release.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Interlock {
    /// Song time at which its window begins, µs.
    from: i64,
    /// Song time at which it ends, µs.
    to: i64,
    lock: Lock,
}

impl Interlock {
    /// A closed lock whose window is from and to a song time in microseconds.
    pub const fn new(from: i64, to: i64) -> Interlock {
        Interlock { from, to, lock: Lock::Closed }
    }

    /// Where it stands.
    pub const fn lock(&self) -> Lock {
        self.lock
    }

    /// Whether a song time is within its window.
    pub const fn is_within(&self, song: i64) -> bool {
        self.from <= song && song <= self.to
    }

    /// A person holds, or goes on holding. `song` is the song time while the run goes on. Gives whether this armed it.
    pub fn hold(&mut self, now: i64, song: Option<i64>, holder: u16) -> Result<bool, Lapse> {
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
                Err(Lapse::OtherHolder)
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
    pub fn tick(&mut self, now: i64, song: Option<i64>) -> Result<(), Lapse> {
        let renewed = match self.lock {
            Lock::Opening { renewed, .. } | Lock::Armed { renewed, .. } => renewed,
            Lock::Closed | Lock::Spent => return Ok(()),
        };
        let why = match song {
            None => Lapse::Stopped,
            Some(song) if song > self.to => Lapse::WindowOver,
            Some(song) if song < self.from => Lapse::Located,
            Some(_) if now - renewed > HEARTBEAT => Lapse::Silence,
            // A clock that went back is no clock to send a release by.
            Some(_) if now < renewed => Lapse::Slept,
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
    pub fn pass(&mut self, now: i64, song: Option<i64>) -> Option<u16> {
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
