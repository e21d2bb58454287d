//! How late sound reaches a seat.

use crate::time::SongSpan;

/// Speed of sound in dry air at `celsius`, m/s: 331.3 √(1 + T/273.15) (the practical formula, check-values 10).
pub fn speed_of_sound(celsius: f64) -> f64 {
    331.3 * libm::sqrt(1.0 + celsius / 273.15)
}

/// How long sound takes to travel `metres` at `celsius`.
pub fn sound_delay(metres: f64, celsius: f64) -> SongSpan {
    SongSpan::from_secs_f64(metres / speed_of_sound(celsius))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// check-values 10: 343.2146 m/s at 20 °C; 10 m take 29.1363 ms.
    #[test]
    fn published_values() {
        for (celsius, speed) in [(0.0, 331.3), (10.0, 337.3099), (20.0, 343.2146), (30.0, 349.0194)] {
            assert!((speed_of_sound(celsius) - speed).abs() < 5e-5);
        }
        for (metres, micros) in [(5.0, 14_568), (10.0, 29_136), (25.0, 72_841)] {
            assert_eq!(sound_delay(metres, 20.0).micros(), micros);
        }
    }
}
