//! A bar of the recording that a person knows, from which all others are found.

use letfall_sound::bars::GivenBar;

/// What a person says of one bar.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct KnownBar {
    /// Whether they say anything.
    pub says: bool,
    /// Its two ends, and how many beats it has.
    pub bar: GivenBar,
    /// The bar that was tapped when it was last looked.
    pub tapped: Option<GivenBar>,
}

impl Default for KnownBar {
    fn default() -> KnownBar {
        KnownBar { says: false, tapped: None, bar: GivenBar { from: 0.0, to: 2.0, beats: Some(4) } }
    }
}

impl KnownBar {
    /// The bar, where one is said.
    pub fn bar(&self) -> Option<GivenBar> {
        self.says.then_some(self.bar)
    }
}
