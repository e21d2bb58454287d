//! What the witness knows of releases and of the song's way.

/// What is known of a release.
#[derive(Debug, Clone, Copy, Default)]
pub struct Course {
    /// A person said that the fabric stays, before it was sent.
    pub stays: bool,
    /// A person said that it is down.
    pub down: bool,
    /// A person said that it is stuck.
    pub stuck: bool,
    /// By how much later than planned it is tried once more.
    pub shift: Option<i64>,
    /// When anything of it last changed.
    pub changed: i64,
}

impl Course {
    /// Whether a person said anything of it.
    pub const fn is_bent(&self) -> bool {
        self.stays || self.down || self.stuck || self.shift.is_some()
    }
}

/// Where the song leaves the straight line.
#[derive(Debug, Clone, Default)]
#[allow(clippy::struct_excessive_bools)] // each is a fact of its own
pub struct Way {
    pub wait: Option<i64>,
    pub vamp: Option<(i64, i64)>,
    pub leaving: bool,
    pub left: Option<i64>,
    pub cut: Option<(i64, i64)>,
    /// It stands there.
    pub waits: Option<i64>,
    /// People send each group by a key.
    pub by_hand: bool,
    /// Keys for groups that were pressed: the latest.
    pub next: Option<i64>,
    /// Another clock leads.
    pub led: bool,
    /// From outside one cannot tell any more where the song is.
    pub lost: bool,
    /// A clock from outside jumped, or began it: what was settled before stays settled.
    pub jumped: bool,
    /// When people last chose anything of it.
    pub chosen: i64,
    /// When a band or a clock moved the song, and by how much.
    pub moves: Vec<(i64, i64)>,
    /// Since when nobody is sure where the band is.
    pub unsure: Option<i64>,
    /// When it last left the straight line, by the machine's clock.
    pub turned: i64,
}

impl Way {
    /// A run that a person begins.
    pub fn straight() -> Way {
        Way { turned: i64::MIN / 2, chosen: i64::MIN / 2, ..Way::default() }
    }

    /// A run that another clock leads.
    pub fn led() -> Way {
        Way { led: true, jumped: true, ..Way::straight() }
    }
}
