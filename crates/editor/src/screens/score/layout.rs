//! The positions of the rows: one per track, from top to bottom.

use letfall_core::prepared::Prepared;
use letfall_core::show::Kind;

/// A track's place on screen.
pub struct RowPlace {
    /// Its upper edge.
    pub top: f32,
    /// Its lower edge.
    pub bottom: f32,
}

/// Divides the height: a release row, which shows a fall, gets more than a plain one.
pub fn layout(plan: &Prepared, top: f32, bottom: f32, down: f32) -> Vec<RowPlace> {
    // Outputs are stacked in their row, and each needs enough height for its words.
    let lanes = f32::from(u8::try_from(plan.show().outputs.len()).unwrap_or(u8::MAX));
    let weight = |kind| match kind {
        Kind::Release => 1.7,
        Kind::Output => (0.6 * lanes).max(1.0),
        _ => 1.0,
    };
    let total: f32 = plan.tracks().iter().map(|t| weight(t.kind)).sum();
    let unit = ((bottom - top) / total.max(1.0)).clamp(34.0, ((bottom - top) / 8.0).clamp(72.0, 150.0));
    let mut y = top - down;
    plan.tracks()
        .iter()
        .map(|track| {
            let place = RowPlace { top: y, bottom: y + unit * weight(track.kind) };
            y = place.bottom;
            place
        })
        .collect()
}
