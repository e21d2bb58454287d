//! The top of a peak between samples.

/// How far the top of the parabola through three neighbours lies from the middle one, in samples: -0.5 to 0.5. 0 if they make no peak.
pub fn part(before: f64, top: f64, after: f64) -> f64 {
    let bend = before - 2.0 * top + after;
    if bend < 0.0 { (0.5 * (before - after) / bend).clamp(-0.5, 0.5) } else { 0.0 }
}
