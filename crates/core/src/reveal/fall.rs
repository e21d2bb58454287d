//! How long a fabric falls.
//!
//! Free fall is a hard lower bound. Drag gives a range, because published coefficients for cloth differ threefold and none was
//! measured on a dropped stage fabric (check-values 7.5). A measured drop overrides the model.

use crate::show::{FallKind, Hang, Instant, MeasuredDrop};

/// Standard gravity, m/s², exact (NBS AMS 55 table 2.4; NIST SP 811 App. B.8).
pub const G: f64 = 9.806_65;
/// Air at 20 °C, kg/m³ (check-values 7.5, from memory there).
const AIR: f64 = 1.204;
/// Drag of a plate broadside to its path: the slow end (NASA Glenn, shape effects on drag).
pub const BROADSIDE: f64 = 1.28;
/// Drag of a flapping flag of aspect ratio 2 (Munson et al. fig. 9.30, second-hand): our expected value. Published flag
/// values run from 0.06 to 0.2.
pub const EXPECTED_DRAG: f64 = 0.12;
/// Number of steps for Simpson's rule; must be even.
const CHAIN_STEPS: u32 = 64;

/// Seconds of free fall through `height_m` metres: √(2h/g).
pub fn free_fall_secs(height_m: f64) -> f64 {
    libm::sqrt(2.0 * height_m.max(0.0) / G)
}

/// Seconds to fall `height_m` metres with quadratic drag and terminal speed `terminal` m/s.
///
/// t = (vt/g)(x + ln(1 + √(1 − e^(−2x)))) with x = gh/vt², the overflow-safe form of acosh(eˣ).
pub fn drag_fall_secs(height_m: f64, terminal: f64) -> f64 {
    let x = G * height_m.max(0.0) / (terminal * terminal);
    // Written as −expm1(−2x): near free fall x is small, and 1 − e^(−2x) would lose precision.
    terminal / G * (x + libm::log1p(libm::sqrt(-libm::expm1(-2.0 * x))))
}

/// Metres fallen after `secs` seconds with quadratic drag: (vt²/g) ln cosh(gt/vt), in an overflow-safe form.
pub fn drag_height(secs: f64, terminal: f64) -> f64 {
    let y = G * secs.max(0.0) / terminal;
    terminal * terminal / G * (y + libm::log1p(libm::exp(-2.0 * y)) - std::f64::consts::LN_2)
}

/// Terminal speed in m/s of cloth of `areal_mass` kg/m² with drag coefficient `drag`: √(2 m g / (ρ C)).
pub fn terminal_speed(areal_mass: f64, drag: f64) -> f64 {
    libm::sqrt(2.0 * areal_mass * G / (AIR * drag))
}

/// Seconds until an unfurling fabric of length `length_m` has opened `open_m` metres, if no energy is lost:
/// v² = 2gy(1 − y/2L)/(1 − y/L) (Calkin and March, Am. J. Phys. 57, 154 (1989)). The lower bound for an unfurling hang.
pub fn unfurl_secs(length_m: f64, open_m: f64) -> f64 {
    // Substituting y = L sin²θ makes the integrand smooth at both ends, so Simpson's rule works.
    let top = libm::asin(libm::sqrt((open_m / length_m).clamp(0.0, 1.0)));
    let f = |angle: f64| {
        let (sin, cos) = (libm::sin(angle), libm::cos(angle));
        2.0 * cos * cos * libm::sqrt(length_m / (2.0 * G * (1.0 - sin * sin / 2.0)))
    };
    let step = top / f64::from(CHAIN_STEPS);
    let inner: f64 = (1..CHAIN_STEPS).map(|i| f(step * f64::from(i)) * if i % 2 == 1 { 4.0 } else { 2.0 }).sum();
    step / 3.0 * (f(0.0) + inner + f(top))
}

/// How long a fall takes, with its uncertainty. Seconds from let-go.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FallTime {
    /// Not sooner than this.
    pub earliest: f64,
    /// Plan with this.
    pub expected: f64,
    /// Rarely later than this.
    pub latest: f64,
    /// How many measured drops it is based on; 0 for the model alone.
    pub drops: usize,
}

impl FallTime {
    const NONE: FallTime = FallTime { earliest: 0.0, expected: 0.0, latest: 0.0, drops: 0 };
}

/// Metres that the moving edge travels until a moment: the top edge of a falling cloth, the hem of an unfurling one.
fn travel(hang: &Hang, to: Instant) -> f64 {
    let to_sightline = (hang.top_m - hang.sightline_m).max(0.0);
    match (to, hang.kind) {
        (Instant::LetGo, _) => 0.0,
        (Instant::Sightline, FallKind::Falls) => to_sightline,
        (Instant::Sightline, FallKind::Unfurls) => to_sightline.min(hang.drop_m),
        (Instant::Floor, FallKind::Falls) => hang.top_m,
        (Instant::Floor, FallKind::Unfurls) => hang.drop_m,
    }
}

/// The hard lower bound.
fn bound(hang: &Hang, to: Instant) -> f64 {
    match hang.kind {
        FallKind::Falls => free_fall_secs(travel(hang, to)),
        FallKind::Unfurls => unfurl_secs(hang.drop_m, travel(hang, to)),
    }
}

/// How long the fabric takes from let-go to a moment of its fall.
///
/// Drops measured to that moment override the model; drops measured to another moment set the model's terminal speed.
pub fn fall_time(hang: &Hang, to: Instant) -> FallTime {
    if to == Instant::LetGo {
        return FallTime::NONE;
    }
    let earliest = bound(hang, to);
    if let Some((mean, spread, drops)) = drop_statistics(&hang.measured, to) {
        return FallTime {
            // No real fall beats the lower bound, so a stopwatch error must never shorten a clearance.
            earliest: (mean - 2.0 * spread).max(earliest),
            expected: mean.max(earliest),
            latest: (mean + 2.0 * spread).max(earliest),
            drops,
        };
    }
    let height = travel(hang, to);
    let with = |drag| drag_fall_secs(height, terminal_speed(hang.areal_mass_kg_m2, drag)).max(earliest);
    let other = if to == Instant::Floor { Instant::Sightline } else { Instant::Floor };
    match drop_statistics(&hang.measured, other) {
        Some((mean, spread, drops)) if mean > bound(hang, other) => {
            let terminal = terminal_from_drop(travel(hang, other), mean);
            let expected = drag_fall_secs(height, terminal).max(earliest);
            let slack = 2.0 * spread * expected / mean;
            FallTime { earliest: (expected - slack).max(earliest), expected, latest: expected + slack, drops }
        }
        _ => FallTime { earliest, expected: with(EXPECTED_DRAG), latest: with(BROADSIDE), drops: 0 },
    }
}

/// The terminal speed at which a fall of `height` metres takes `secs` (more than free fall), by bisection.
fn terminal_from_drop(height: f64, secs: f64) -> f64 {
    let (mut slow, mut fast) = (0.01, 1000.0);
    for _ in 0..60 {
        let middle = libm::sqrt(slow * fast);
        if drag_fall_secs(height, middle) > secs { slow = middle } else { fast = middle }
    }
    libm::sqrt(slow * fast)
}

/// Mean, standard deviation of the next drop, and number of the drops timed to a moment. One far outlier is left out.
///
/// With four or more drops, the value farthest from the median is left out if it is more than 3.5 scaled median deviations away
/// (taken as at least 50 ms each, the precision of a stopwatch). With one or two drops the deviation is taken as at least 5 %
/// of the mean. That is our own figure, for caution.
fn drop_statistics(drops: &[MeasuredDrop], to: Instant) -> Option<(f64, f64, usize)> {
    let mut secs: Vec<f64> = drops.iter().filter(|d| d.to == to).map(|d| d.seconds).collect();
    if secs.is_empty() {
        return None;
    }
    secs.sort_by(f64::total_cmp);
    if secs.len() >= 4 {
        let middle = median(&secs);
        let mut off: Vec<f64> = secs.iter().map(|s| (s - middle).abs()).collect();
        off.sort_by(f64::total_cmp);
        let far = 3.5 * (1.4826 * median(&off)).max(0.05);
        let worst = if secs[secs.len() - 1] - middle > middle - secs[0] { secs.len() - 1 } else { 0 };
        if (secs[worst] - middle).abs() > far {
            secs.remove(worst);
        }
    }
    let count = secs.len() as f64;
    let mean = secs.iter().sum::<f64>() / count;
    let squares: f64 = secs.iter().map(|s| (s - mean) * (s - mean)).sum();
    let mut deviation = if count > 1.0 { libm::sqrt(squares / (count - 1.0)) } else { 0.0 };
    if count < 3.0 {
        deviation = deviation.max(0.05 * mean);
    }
    Some((mean, deviation * libm::sqrt(1.0 + 1.0 / count), secs.len()))
}

fn median(sorted: &[f64]) -> f64 {
    let middle = sorted.len() / 2;
    if sorted.len().is_multiple_of(2) { f64::midpoint(sorted[middle - 1], sorted[middle]) } else { sorted[middle] }
}

/// How far the edge has fallen, in metres, `secs` seconds after let-go: expected, least and most.
///
/// Each follows quadratic drag ([`drag_height`]) with the terminal speed at which the whole fall takes the expected, the latest
/// or the earliest time of `to_floor`. If that time is as short as free fall, the curve is free fall.
pub fn fallen(hang: &Hang, to_floor: FallTime, secs: f64) -> [f64; 3] {
    let height = if hang.kind == FallKind::Falls { hang.top_m } else { hang.drop_m };
    [to_floor.expected, to_floor.latest, to_floor.earliest].map(|total| {
        if secs <= 0.0 || total <= 0.0 {
            return 0.0;
        }
        let (mut slow, mut fast) = (0.05f64, 400.0f64);
        for _ in 0..40 {
            let middle = libm::sqrt(slow * fast);
            if drag_height(total, middle) < height { slow = middle } else { fast = middle }
        }
        drag_height(secs, libm::sqrt(slow * fast)).min(height)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(a: f64, b: f64) {
        assert!((a - b).abs() < 6e-7 * b.abs().max(1.0), "{a} is not {b}");
    }

    fn hang(measured: &str) -> Hang {
        serde_json::from_str(&format!(
            r#"{{"key":"h","name":"H","width_m":12.192,"drop_m":6.096,"top_m":6.096,"areal_mass_kg_m2":0.15,
            "sightline_m":1.8,"measured":{measured}}}"#
        ))
        .expect("a hang")
    }

    /// check-values 7.1, computed from t = √(2h/g) with g exact (NBS AMS 55 table 2.4).
    #[test]
    fn free_fall_table() {
        for (h, t) in [(1.0, 0.451_601), (3.048, 0.788_428), (4.0, 0.903_202), (6.096, 1.115_006), (8.0, 1.277_320)] {
            near(free_fall_secs(h), t);
        }
    }

    /// check-values 7.2: t = (vt/g) acosh(exp(gh/vt²)) (univ. Richmond PHYS 303 notes, eqs 4 to 7).
    #[test]
    fn quadratic_drag_table() {
        for (h, row) in [
            (1.0, [0.640_983, 0.536_334, 0.498_832, 0.472_356, 0.459_017, 0.453_448]),
            (3.048, [1.665_363, 1.227_944, 1.042_272, 0.900_701, 0.828_229, 0.798_283]),
            (4.0, [2.141_363, 1.545_365, 1.281_966, 1.072_667, 0.963_244, 0.918_034]),
            (6.096, [3.189_363, 2.244_044, 1.806_667, 1.434_488, 1.228_700, 1.142_976]),
            (8.0, [4.141_363, 2.878_711, 2.282_720, 1.755_454, 1.449_025, 1.319_454]),
        ] {
            for (terminal, t) in [2.0, 3.0, 4.0, 6.0, 10.0, 20.0].into_iter().zip(row) {
                near(drag_fall_secs(h, terminal), t);
                assert!((drag_height(t, terminal) - h).abs() < 1e-5); // the table gives t to the microsecond
            }
        }
        near(drag_fall_secs(4.0, 1e6), free_fall_secs(4.0));
    }

    /// check-values 7.3: the top edge passing a height.
    #[test]
    fn top_edge_passes_a_height() {
        for (h, free, vt6, vt4) in [
            (2.2, 0.669_832, 0.738_305, 0.825_670),
            (4.296, 0.936_024, 1.124_800, 1.356_198),
            (6.096, 1.115_006, 1.434_488, 1.806_667),
            (5.6, 1.068_682, 1.350_053, 1.682_619),
        ] {
            near(free_fall_secs(h), free);
            near(drag_fall_secs(h, 6.0), vt6);
            near(drag_fall_secs(h, 4.0), vt4);
        }
    }

    /// check-values 7.4: 0.847213 × free fall (Calkin and March 1989; Wong and Yasui 2006), half way 0.605466 s.
    #[test]
    fn unfurling_chain() {
        for (length, t) in [(3.048, 0.667_967), (4.0, 0.765_204), (6.096, 0.944_648)] {
            assert!((unfurl_secs(length, length) - t).abs() < 2e-6);
        }
        assert!((unfurl_secs(4.0, 2.0) - 0.605_466).abs() < 2e-6);
    }

    /// check-values 7.5: terminal speeds for the published coefficients.
    #[test]
    fn terminal_speeds() {
        for (mass, broadside, flag) in [(0.03, 0.6179, 1.5632), (0.15, 1.3817, 3.4954), (0.5, 2.5226, 6.3816)] {
            assert!((terminal_speed(mass, BROADSIDE) - broadside).abs() < 5e-5);
            assert!((terminal_speed(mass, 0.2) - flag).abs() < 5e-5);
        }
    }

    #[test]
    fn the_model_is_a_range_above_free_fall() {
        let t = fall_time(&hang("[]"), Instant::Floor);
        near(t.earliest, 1.115_006);
        assert!(t.earliest < t.expected && t.expected < t.latest && t.drops == 0);
    }

    #[test]
    fn measured_drops_override_and_forget_one_outlier() {
        let drops = r#"[{"to":"floor","seconds":1.50},{"to":"floor","seconds":1.54},{"to":"floor","seconds":1.52},
            {"to":"floor","seconds":1.52},{"to":"floor","seconds":2.60}]"#;
        let t = fall_time(&hang(drops), Instant::Floor);
        near(t.expected, 1.52);
        assert_eq!(t.drops, 4);
        assert!(t.latest - t.expected < 0.05);
        // The same drops say something about the sightline too.
        let s = fall_time(&hang(drops), Instant::Sightline);
        assert!(s.drops == 4 && s.expected > 0.936 && s.expected < 1.52);
        // A stopwatch cannot beat gravity.
        let early = fall_time(&hang(r#"[{"to":"floor","seconds":0.5}]"#), Instant::Floor);
        near(early.expected, 1.115_006);
    }
}
