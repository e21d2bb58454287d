//! A bar of the recording that the user knows and from which all others are found.

use letfall_sound::bars::GivenBar;

/// What the user says about one bar.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct KnownBar {
    /// Whether the user has given a bar.
    pub says: bool,
    /// Its two ends, and how many beats it has.
    pub bar: GivenBar,
    /// The tapped bar when it was last checked.
    pub tapped: Option<GivenBar>,
}

impl Default for KnownBar {
    fn default() -> KnownBar {
        KnownBar { says: false, tapped: None, bar: GivenBar { from: 0.0, to: 2.0, beats: Some(4) } }
    }
}

impl KnownBar {
    /// The bar, if the user has given one.
    pub fn bar(&self) -> Option<GivenBar> {
        self.says.then_some(self.bar)
    }
}
