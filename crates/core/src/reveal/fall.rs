//! How long a fabric falls.
//!
//! Free fall is a hard lower bound. Drag gives a range, because published coefficients for cloth differ threefold and none was
//! measured on a dropped stage fabric (check-values 7.5). A measured drop overrides the model.

use super::uncertainty::{GUESSED, STATED, Uncertainty};
use crate::show::{FallKind, Hang, Instant, MeasuredDrop, TimedBy};

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

/// The level of the range of a fall: the next drop lies within it in 95 of 100 cases.
pub const LEVEL: f64 = 0.95;
/// The spread of a single drop that was timed, as a share of its time. Our own figure, for caution; nobody is sure of it.
const SINGLE: f64 = 0.05;
/// The reaction of a hand may make a stopwatch wrong by this much, either way, in seconds: it starts and stops late, and not by the
/// same amount. Common practice, no source.
const HAND: f64 = 0.1;

/// How long a fall takes, with its uncertainty. Seconds from let-go.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FallTime {
    /// The early end of the range. Never sooner than the lower bound.
    pub earliest: f64,
    /// Plan with this.
    pub expected: f64,
    /// The late end of the range.
    pub latest: f64,
    /// How many measured drops it is based on; 0 for the model alone.
    pub drops: usize,
    /// The moment that those drops were timed to.
    pub timed_to: Option<Instant>,
    /// What the measured drops leave open.
    pub spread: Uncertainty,
    /// What the model leaves open: by how much the fall may be shorter (negative) or longer than expected, anywhere in between with
    /// equal chance. Both 0 where the drops were timed to this very moment.
    pub model: (f64, f64),
}

impl FallTime {
    /// No fall: the moment of letting go.
    pub const NONE: FallTime = FallTime {
        earliest: 0.0,
        expected: 0.0,
        latest: 0.0,
        drops: 0,
        timed_to: None,
        spread: Uncertainty::NONE,
        model: (0.0, 0.0),
    };

    /// In words, what it is based on.
    pub fn source(&self) -> String {
        let to = match self.timed_to {
            Some(Instant::Sightline) => "to the sightline",
            Some(Instant::Floor) => "to the floor",
            Some(Instant::LetGo) | None => "",
        };
        let counted = match self.drops {
            0 => return "by model alone: time three drops of the real fabric".to_owned(),
            1 => format!("from 1 drop timed {to}"),
            n => format!("from {n} drops timed {to}"),
        };
        if self.model == (0.0, 0.0) { counted } else { format!("{counted}, the rest by model") }
    }
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

/// The hard lower bound of the time in which the edge travels `metres`.
fn bound(hang: &Hang, metres: f64) -> f64 {
    match hang.kind {
        FallKind::Falls => free_fall_secs(metres),
        FallKind::Unfurls => unfurl_secs(hang.drop_m, metres),
    }
}

/// How long the fabric takes from let-go to a moment of its fall.
///
/// Drops measured to that moment override the model. Drops measured to another moment set the model's terminal speed; for the stretch
/// between the two moments the model's own range is added.
pub fn fall_time(hang: &Hang, to: Instant) -> FallTime {
    if to == Instant::LetGo {
        return FallTime::NONE;
    }
    if let Some((mean, spread, drops)) = drop_statistics(&hang.measured, to) {
        let earliest = bound(hang, travel(hang, to));
        return FallTime {
            drops,
            timed_to: Some(to),
            ..ranged(mean, spread, spread.half_width(LEVEL), (0.0, 0.0), earliest)
        };
    }
    let other = if to == Instant::Floor { Instant::Sightline } else { Instant::Floor };
    travelled(hang, travel(hang, to), Timed::of(hang, other).as_ref())
}

/// Drops that were timed to a moment, and what they say of the whole fall.
#[derive(Debug, Clone, Copy)]
struct Timed {
    to: Instant,
    metres: f64,
    mean: f64,
    spread: Uncertainty,
    /// Half the width of the range that the spread gives. It takes long to work out, so it is kept.
    half: f64,
    drops: usize,
    terminal: f64,
}

impl Timed {
    /// `None` if none were timed to it, or if they beat the lower bound, so that they say nothing of any other moment.
    fn of(hang: &Hang, to: Instant) -> Option<Timed> {
        let metres = travel(hang, to);
        let (mean, spread, drops) = drop_statistics(&hang.measured, to)?;
        let half = spread.half_width(LEVEL);
        let terminal = terminal_from_drop(metres, mean);
        (mean > bound(hang, metres)).then_some(Timed { to, metres, mean, spread, half, drops, terminal })
    }
}

/// The falls of one fabric past any height, for many seats: what its drops say is worked out once.
#[derive(Debug)]
pub struct FallsPast<'a> {
    hang: &'a Hang,
    timed: Vec<Timed>,
}

impl<'a> FallsPast<'a> {
    /// Of a fabric.
    pub fn of(hang: &'a Hang) -> FallsPast<'a> {
        let moments = [Instant::Sightline, Instant::Floor];
        FallsPast { hang, timed: moments.into_iter().filter_map(|to| Timed::of(hang, to)).collect() }
    }

    /// How long the fabric takes from let-go until its moving edge passes a height above the floor beneath it, metres: what a seat sees
    /// whose line to somebody behind the fabric crosses it there. Drops that were timed to the nearest moment count, and the stretch
    /// between is the model's. An edge that is past it before the fall takes no time.
    pub fn height(&self, height_m: f64) -> FallTime {
        let hang = self.hang;
        let whole = if hang.kind == FallKind::Falls { hang.top_m } else { hang.drop_m };
        let metres = (hang.top_m - height_m).clamp(0.0, whole);
        if metres <= 0.0 {
            return FallTime::NONE;
        }
        let moments = [Instant::Sightline, Instant::Floor];
        if let Some(to) = moments.into_iter().find(|to| (travel(hang, *to) - metres).abs() < 1e-9) {
            return fall_time(hang, to);
        }
        let away = |timed: &&Timed| (timed.metres - metres).abs();
        travelled(hang, metres, self.timed.iter().min_by(|a, b| away(a).total_cmp(&away(b))))
    }
}

/// How long the edge takes to travel `metres`, from drops that were timed to another moment, or else by model alone.
fn travelled(hang: &Hang, metres: f64, timed: Option<&Timed>) -> FallTime {
    let earliest = bound(hang, metres);
    let Some(timed) = timed else {
        let with = |drag| drag_fall_secs(metres, terminal_speed(hang.areal_mass_kg_m2, drag)).max(earliest);
        let (expected, latest) = (with(EXPECTED_DRAG), with(BROADSIDE));
        return ranged(expected, Uncertainty::NONE, 0.0, (earliest - expected, latest - expected), earliest);
    };
    let slowest = |metres| drag_fall_secs(metres, terminal_speed(hang.areal_mass_kg_m2, BROADSIDE));
    let expected = drag_fall_secs(metres, timed.terminal).max(earliest);
    // The stretch takes longer than in free fall, and not as long as broadside to its path all the way.
    let stretch = expected - timed.mean;
    let (fast, slow) = (earliest - bound(hang, timed.metres), slowest(metres) - slowest(timed.metres));
    let (least, most) = if metres > timed.metres { (fast, slow) } else { (slow, fast) };
    let model = ((least - stretch).min(0.0), (most - stretch).max(0.0));
    FallTime {
        drops: timed.drops,
        timed_to: Some(timed.to),
        ..ranged(expected, timed.spread, timed.half, model, earliest)
    }
}

/// The range that follows from a spread, of which half the range is given, and from what the model leaves open. No real fall beats the lower bound, so an error of a
/// stopwatch must never shorten a clearance.
fn ranged(expected: f64, spread: Uncertainty, half: f64, model: (f64, f64), bound: f64) -> FallTime {
    FallTime {
        earliest: (expected + model.0 - half).max(bound),
        expected: expected.max(bound),
        latest: (expected + model.1 + half).max(bound),
        spread,
        model,
        ..FallTime::NONE
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

/// Mean of the drops timed to a moment, what they leave open for the next one, and their number. Every drop counts that no person has
/// struck: the odd one that was slow is the one that matters.
///
/// The next drop differs from the mean by more than the drops differ among themselves ([`Uncertainty::of_next`]). What a clock or film
/// can tell, and what a hand may be wrong by, come on top, so that equal readings leave something open too. The readings share one
/// method at worst, so its error is not made smaller by their number.
fn drop_statistics(drops: &[MeasuredDrop], to: Instant) -> Option<(f64, Uncertainty, usize)> {
    let counted: Vec<&MeasuredDrop> = drops.iter().filter(|d| d.to == to && d.counts()).collect();
    if counted.is_empty() {
        return None;
    }
    let count = counted.len() as f64;
    let mean = counted.iter().map(|d| d.seconds).sum::<f64>() / count;
    let squares: f64 = counted.iter().map(|d| (d.seconds - mean) * (d.seconds - mean)).sum();
    let deviation = libm::sqrt(squares / (count - 1.0).max(1.0));
    let spread = Uncertainty::of_next(deviation, counted.len())
        .unwrap_or(Uncertainty { standard: SINGLE * mean, freedom: GUESSED });
    let worst = |part: fn(Option<TimedBy>) -> Uncertainty| {
        let parts = counted.iter().map(|d| part(d.by));
        parts.max_by(|a, b| a.standard.total_cmp(&b.standard)).unwrap_or(Uncertainty::NONE)
    };
    let all = Uncertainty::of_sum([spread, worst(resolution), worst(bias)].into_iter());
    Some((mean, all, counted.len()))
}

/// What a clock or film cannot tell: the time between two of its pictures, or its last digit.
fn resolution(by: Option<TimedBy>) -> Uncertainty {
    Uncertainty::of_resolution(match by {
        Some(TimedBy::Film25) => 1.0 / 25.0,
        Some(TimedBy::Film50) => 1.0 / 50.0,
        Some(TimedBy::Sensor) => 0.001,
        Some(TimedBy::Hand) | None => 0.01,
    })
}

/// What a hand may be wrong by: anything within [`HAND`] either way.
fn bias(by: Option<TimedBy>) -> Uncertainty {
    match by {
        Some(TimedBy::Hand) => Uncertainty { freedom: STATED, ..Uncertainty::of_resolution(2.0 * HAND) },
        _ => Uncertainty::NONE,
    }
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

    /// Before it is let go nothing has fallen, and a fall that takes no time is no fall.
    #[test]
    fn nothing_falls_before_it_is_let_go() {
        let hang = hang("[]");
        let fall = fall_time(&hang, Instant::Floor);
        assert_eq!(fallen(&hang, fall, -1.0), [0.0; 3]);
        assert_eq!(fallen(&hang, fall, 0.0), [0.0; 3]);
        assert_eq!(fallen(&hang, FallTime::NONE, 1.0), [0.0; 3]);
        assert!(fallen(&hang, fall, 0.1).iter().all(|metres| *metres > 0.0));
    }

    /// At the end of a fall the edge has come all the way: the whole height of what falls, the whole drop of what unfurls.
    #[test]
    fn at_its_end_a_fall_has_come_all_the_way() {
        let mut hang = hang("[]");
        hang.top_m = 7.0;
        for (kind, height) in [(FallKind::Falls, 7.0), (FallKind::Unfurls, 6.096)] {
            hang.kind = kind;
            let fall = fall_time(&hang, Instant::Floor);
            let end = fallen(&hang, fall, fall.expected);
            assert!((end[0] - height).abs() < 1e-4, "{kind:?}: {end:?}");
            // Half way in time it has come less than half of the height, because it gets faster; and more than a quarter of it, because of
            // drag.
            let half = fallen(&hang, fall, fall.expected / 2.0)[0] / height;
            assert!((0.25..0.5).contains(&half), "{kind:?}: {half}");
        }
    }

    /// By model alone the range reaches from free fall to broadside drag: what is left open is as wide as that.
    #[test]
    fn by_model_alone_the_range_is_that_of_the_model() {
        let bare = hang("[]");
        let fall = fall_time(&bare, Instant::Floor);
        let free = free_fall_secs(6.096);
        let slow = drag_fall_secs(6.096, terminal_speed(0.15, BROADSIDE));
        near(fall.expected + fall.model.0, free);
        near(fall.expected + fall.model.1, slow);
        assert_eq!(fall.source(), "by model alone: time three drops of the real fabric");
        let timed = fall_time(&hang(r#"[{"to":"floor","seconds":1.5}]"#), Instant::Floor);
        assert!(timed.source().starts_with("from 1 drop timed to the floor"), "{}", timed.source());
    }

    /// What a hand may be wrong by is a stated figure: 8 degrees of freedom (JCGM 100 G.4.2).
    #[test]
    fn the_bias_of_a_hand_is_stated() {
        assert_eq!(bias(Some(TimedBy::Hand)).freedom, STATED);
        assert_eq!(bias(Some(TimedBy::Film50)), Uncertainty::NONE);
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
    fn every_drop_counts_until_a_person_strikes_it() {
        let drops = |more: &str| {
            format!(
                r#"[{{"to":"floor","seconds":1.50}},{{"to":"floor","seconds":1.54}},{{"to":"floor","seconds":1.52}},
                {{"to":"floor","seconds":1.52}},{{"to":"floor","seconds":2.60{more}}}]"#
            )
        };
        let t = fall_time(&hang(&drops("")), Instant::Floor);
        near(t.expected, 1.736);
        assert!(t.drops == 5 && t.latest > 2.60, "{t:?}");
        let struck = fall_time(&hang(&drops(r#","struck":"the hem caught on a stand""#)), Instant::Floor);
        near(struck.expected, 1.52);
        assert!(struck.drops == 4 && struck.latest < 1.60, "{struck:?}");
        // A stopwatch cannot beat gravity.
        let early = fall_time(&hang(r#"[{"to":"floor","seconds":0.5}]"#), Instant::Floor);
        near(early.expected, 1.115_006);
    }

    /// check-values 15: three drops with s 0.020 s leave ± 4.303 · 0.020 · √(4/3) = 0.0994 s for the next; the last digit of a clock
    /// that shows hundredths adds 0.0029 s (JCGM 100 F.2.2.1), a hand 0.1/√3 s with 8 degrees of freedom.
    #[test]
    fn what_a_few_drops_leave_open() {
        let of = |seconds: [f64; 3], by: &str| {
            let drops: Vec<String> = seconds.iter().map(|s| format!(r#"{{"to":"floor","seconds":{s}{by}}}"#)).collect();
            fall_time(&hang(&format!("[{}]", drops.join(","))), Instant::Floor)
        };
        let by_sensor = of([1.50, 1.52, 1.54], r#","by":"sensor""#);
        near(by_sensor.expected, 1.52);
        assert!((by_sensor.latest - by_sensor.expected - 0.0994).abs() < 0.000_3, "{by_sensor:?}");
        assert!((by_sensor.spread.freedom - 2.0).abs() < 0.01);
        // Equal readings leave open what the clock cannot tell.
        for (by, standard) in [
            ("", 0.002_887),
            (r#","by":"film25""#, 0.011_547),
            (r#","by":"film50""#, 0.005_774),
            (r#","by":"sensor""#, 0.000_289),
            (r#","by":"hand""#, 0.057_807),
        ] {
            let equal = of([1.52; 3], by);
            assert!((equal.spread.standard - standard).abs() < 1e-6, "{by}: {:?}", equal.spread);
            assert!(equal.latest > equal.expected && equal.earliest < equal.expected);
        }
        // One drop alone: 5 % of it, of which nobody is sure (ν 2): ± 4.303 · 0.076 s.
        let single = fall_time(&hang(r#"[{"to":"floor","seconds":1.52,"by":"sensor"}]"#), Instant::Floor);
        assert!((single.latest - 1.52 - 4.302_65 * 0.076).abs() < 1e-4, "{single:?}");
    }

    /// Drops timed to one moment say something of another, and the stretch between is the model's: at least as long as in free fall
    /// (check-values 7.3: 0.936024 s to the sightline, 1.115006 s to the floor), at most as long as broadside to its path.
    #[test]
    fn a_drop_timed_to_another_moment_carries_the_models_error() {
        let sensor = |to: &str, seconds: f64| {
            format!("[{}]", vec![format!(r#"{{"to":"{to}","seconds":{seconds},"by":"sensor"}}"#); 5].join(","))
        };
        let floor = fall_time(&hang(&sensor("sightline", 1.124_8)), Instant::Floor);
        // check-values 7.3: a terminal speed of 6 m/s takes 1.124800 s to the sightline and 1.434488 s to the floor.
        assert!((floor.expected - 1.434_488).abs() < 1e-5, "{floor:?}");
        let half = floor.spread.half_width(LEVEL);
        near(floor.earliest, 1.124_8 + (1.115_006 - 0.936_024) - half);
        let broadside = |h| drag_fall_secs(h, terminal_speed(0.15, BROADSIDE));
        near(floor.latest, 1.124_8 + broadside(6.096) - broadside(4.296) + half);
        assert_eq!((floor.drops, floor.timed_to), (5, Some(Instant::Sightline)));
        let sightline = fall_time(&hang(&sensor("floor", 1.434_488)), Instant::Sightline);
        assert!((sightline.expected - 1.124_8).abs() < 1e-5, "{sightline:?}");
        near(sightline.latest, 1.434_488 - (1.115_006 - 0.936_024) + sightline.spread.half_width(LEVEL));
        near(sightline.earliest, 0.936_024);
        // Timed to the moment itself, nothing is left to the model.
        assert_eq!(fall_time(&hang(&sensor("floor", 1.434_488)), Instant::Floor).model, (0.0, 0.0));
    }
}
