//! Figures as points on a screen.

/// A figure as points. What lies far beyond any screen stays there, and finite.
#[allow(clippy::cast_possible_truncation)]
pub fn points(value: f64) -> f32 {
    value.clamp(-1e6, 1e6) as f32
}
