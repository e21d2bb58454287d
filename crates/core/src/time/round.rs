//! The one rounding rule in Letfall: to the nearest whole number, halves away from zero.

/// Rounds to the nearest whole number, halves away from zero.
///
/// Values beyond the `i64` range are clamped; not-a-number gives 0. Song time stays within ±24 h (8.64 × 10¹⁰ µs), where an
/// `f64` is exact to 0.00002 µs, so nothing that reaches the file is lost here.
#[allow(clippy::cast_possible_truncation)] // `as` saturates, which is the documented behaviour
pub fn nearest(x: f64) -> i64 {
    libm::round(x) as i64
}

/// Divides whole numbers and rounds to the nearest, halves away from zero. `denominator` must be positive.
pub fn div_nearest(numerator: i128, denominator: i128) -> i128 {
    debug_assert!(denominator > 0, "div_nearest needs a positive denominator");
    let half = denominator / 2;
    if numerator < 0 { -((-numerator + half) / denominator) } else { (numerator + half) / denominator }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn halves_go_away_from_zero() {
        assert_eq!([nearest(0.5), nearest(-0.5), nearest(1.49), nearest(-2.5)], [1, -1, 1, -3]);
        assert_eq!([div_nearest(1, 2), div_nearest(-1, 2), div_nearest(7, 5), div_nearest(-8, 5)], [1, -1, 1, -2]);
    }

    #[test]
    fn no_number_breaks_it() {
        assert_eq!([nearest(f64::NAN), nearest(f64::INFINITY), nearest(-1e300)], [0, i64::MAX, i64::MIN]);
    }
}
