//! Distances between times.

/// The median gap between times; `None` if there are fewer than two.
pub(super) fn middle_gap(times: &[f64]) -> Option<f64> {
    let mut gaps: Vec<f64> = times.windows(2).map(|w| w[1] - w[0]).collect();
    gaps.sort_by(f64::total_cmp);
    gaps.get(gaps.len() / 2).copied()
}
