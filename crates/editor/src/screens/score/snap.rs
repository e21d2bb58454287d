//! What times snap to.

/// What times snap to while dragging.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Snap {
    /// Bar lines.
    Bar,
    /// Counted beats.
    #[default]
    Beat,
    /// Quarters of a beat.
    Division,
    /// Nothing.
    Off,
}

impl Snap {
    /// All of them, with their names.
    pub const ALL: [(Snap, &'static str); 4] =
        [(Snap::Bar, "bars"), (Snap::Beat, "beats"), (Snap::Division, "quarter beats"), (Snap::Off, "nothing")];
}
