//! The grid: published values of tempo mathematics, and properties on random plans.

use super::plans::plan;
use letfall_core::time::{GridPlan, Metre, MetreMark, Ramp, RampLaw, SongTime, Tempo, TempoMark, Tick, TickSpan};
use proptest::prelude::*;

/// A ramp over `quarters` quarters, then steady, in bars of one quarter so that bar n+1 is beat n.
fn ramp(from: f64, to: f64, quarters: i32) -> letfall_core::time::Grid {
    let bpm = |b| Tempo::quarters_per_minute(b).unwrap();
    let mut plan = GridPlan::steady(Metre::new(1, 4).unwrap(), bpm(from));
    plan.tempos[0].ramp = Some(Ramp { to: bpm(to), law: RampLaw::BpmLinearInBeats });
    let at = letfall_core::time::BarBeat::downbeat(quarters + 1);
    plan.tempos.push(TempoMark { at, tempo: bpm(to), ramp: None });
    plan.build().unwrap()
}

/// check-values 6.2, law A (BPM linear in beats): totals and half-way times, checked there by numerical integration.
#[test]
fn ramp_law_published_table() {
    for (from, to, n, total, half) in [
        (120.0, 60.0, 8, 5.545_177_444, 2.301_456_580),
        (60.0, 120.0, 8, 5.545_177_444, 3.243_720_865),
        (100.0, 140.0, 16, 8.075_333_679, 4.375_717_363),
        (90.0, 93.0, 4, 2.623_185_826, 1.322_344_156),
        (140.0, 70.0, 32, 19.012_036_953, 7.890_708_273),
    ] {
        let grid = ramp(from, to, n);
        let secs = |quarters: i64| grid.micros_at(Tick::new(quarters * 960)) / 1e6;
        assert!((secs(i64::from(n)) - total).abs() < 1e-9, "{from} to {to}: {}", secs(i64::from(n)));
        assert!((secs(i64::from(n) / 2) - half).abs() < 1e-9);
    }
}

/// check-values 6.2: inverse of law A, 120 to 60 over 8: 3 s is beat 5.003371539.
#[test]
fn ramp_inverse_published_value() {
    assert!((ramp(120.0, 60.0, 8).ticks_at(3e6) / 960.0 - 5.003_371_539).abs() < 1e-9);
}

/// check-values 6.2, numerics: 120 to 120.0001 over 8 is 3.999998333334 s by log1p (naive: …761); equal ends are exact.
#[test]
fn nearly_equal_ramp_loses_nothing() {
    let secs = |to| ramp(120.0, to, 8).micros_at(Tick::new(8 * 960)) / 1e6;
    assert!((secs(120.0001) - 3.999_998_333_334).abs() < 2e-12);
    assert_eq!(secs(120.0), 4.0);
}

/// check-values 6.3: bar lengths of compound and odd metres.
#[test]
fn compound_metre_bars() {
    for (metre, tempo, micros, ticks480, clocks) in [
        ("6/8", "3/8=80", 1_500_000, 1440, 72),
        ("12/8", "3/8=60", 4_000_000, 2880, 144),
        ("9/8", "3/8=72", 2_500_000, 2160, 108),
        ("2/2", "1/2=60", 2_000_000, 1920, 96),
        ("7/8", "1/8=210", 2_000_000, 1680, 84),
        ("5/4", "132", 2_272_727, 2400, 120),
    ] {
        let metre: Metre = metre.parse().unwrap();
        let grid = GridPlan::steady(metre.clone(), tempo.parse().unwrap()).build().unwrap();
        assert_eq!(grid.bar_time(2).micros(), micros, "{metre}");
        assert_eq!(metre.bar_ticks() / 2, ticks480);
        assert_eq!(metre.bar_ticks() / 40, clocks);
    }
}

/// check-values 6.1 and 6.4: 6144 ticks at 96 a quarter and 120 are 32 s; the mixed map's bounds 0, 8, 11, 21.666667 s.
#[test]
fn whole_map() {
    let tempo = |t: &str| t.parse::<Tempo>().unwrap();
    let mut plan = GridPlan::steady(Metre::common(), tempo("120"));
    assert_eq!(plan.build().unwrap().time_at(Tick::new(61_440)).micros(), 32_000_000);
    for (bar, metre, bpm) in [(5, "6/8", "3/8=80"), (7, "4/4", "90")] {
        plan.metres.push(MetreMark { bar, metre: metre.parse().unwrap(), cut: None });
        let at = letfall_core::time::BarBeat::downbeat(bar);
        plan.tempos.push(TempoMark { at, tempo: tempo(bpm), ramp: None });
    }
    let grid = plan.build().unwrap();
    let at = |bar| grid.bar_time(bar).micros();
    assert_eq!([at(1), at(5), at(7), at(11)], [0, 8_000_000, 11_000_000, 21_666_667]);
}

/// Bars long before and after the marks still have times.
#[test]
fn count_in_and_beyond() {
    let grid = GridPlan::steady(Metre::common(), "120".parse().unwrap()).build().unwrap();
    assert_eq!(grid.bar_time(0).micros(), -2_000_000);
    assert_eq!(grid.place_text(Tick::new(-960)), "0 b4");
    assert_eq!(grid.bar_time(10_001).micros(), 20_000_000_000);
}

#[test]
fn pins_hold_and_others_follow() {
    let mut plan = GridPlan::steady(Metre::common(), "120".parse().unwrap());
    for (bar, at) in [(1, 500_000), (5, 8_900_000), (9, 16_800_000)] {
        plan.pins.push(letfall_core::time::Pin { bar, at: SongTime::saturating(at) });
    }
    let grid = plan.build().unwrap();
    let at = |bar| grid.bar_time(bar).micros();
    assert_eq!([at(1), at(3), at(5), at(7), at(9)], [500_000, 4_700_000, 8_900_000, 12_850_000, 16_800_000]);
    assert_eq!(at(10) - at(9), 1_975_000); // continues as between the last two pins
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn tick_to_time_to_tick_is_exact(plan in plan(), ticks in prop::collection::vec(-20_000i64..200_000, 50)) {
        let grid = plan.build().unwrap();
        for tick in ticks.into_iter().map(Tick::new) {
            prop_assert_eq!(grid.tick_at(grid.time_at(tick)), tick);
        }
    }

    #[test]
    fn time_is_monotone(plan in plan(), mut ticks in prop::collection::vec(-20_000i64..200_000, 50)) {
        let grid = plan.build().unwrap();
        ticks.sort_unstable();
        ticks.dedup();
        for pair in ticks.windows(2) {
            prop_assert!(grid.micros_at(Tick::new(pair[0])) < grid.micros_at(Tick::new(pair[1])));
            prop_assert!(grid.time_at(Tick::new(pair[0])) < grid.time_at(Tick::new(pair[1])));
        }
    }

    #[test]
    fn place_to_tick_to_place_is_exact(plan in plan(), ticks in prop::collection::vec(-20_000i64..200_000, 50)) {
        let grid = plan.build().unwrap();
        for tick in ticks.into_iter().map(Tick::new) {
            let place = grid.place_of(tick);
            prop_assert_eq!(grid.tick_of(place), tick);
            let (bar, beat) = grid.beat_place(grid.beat_index(place.bar, place.beat));
            prop_assert_eq!((bar, beat), (place.bar, place.beat));
        }
    }

    /// No jumps: a tick is never longer than at the slowest tempo we accept.
    #[test]
    fn time_is_continuous(plan in plan(), tick in -20_000i64..200_000) {
        let grid = plan.build().unwrap();
        let step = grid.micros_at(Tick::new(tick) + TickSpan::new(1)) - grid.micros_at(Tick::new(tick));
        prop_assert!(step > 10.0 && step < 16_777_215.0 / 960.0 + 1.0, "{}", step);
    }
}
