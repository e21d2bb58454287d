//! Bars by ear: the demo tune, whose grid is known, beats that follow known grids, and taps.

#![allow(clippy::unwrap_used, clippy::cast_possible_truncation, clippy::cast_sign_loss, missing_docs)]

use letfall_core::show::{Show, Song};
use letfall_core::time::{Grid, GridPlan};
use letfall_sound::bars::{BarsError, Choice, Found, GivenBar, Hearing, Listener, Placed, TapError, Taps, plan};
use letfall_sound::song::{SAMPLE_RATE, Score};

fn show(name: &str) -> Show {
    let path =
        std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../../demo-shows").join(format!("{name}.letfall"));
    letfall_core::file::read(&std::fs::read(path).unwrap()).unwrap()
}

fn hear(samples: &[f32], rate: u32) -> Hearing {
    let mut listener = Listener::new(rate);
    samples.chunks(10_000).for_each(|block| listener.hear(block));
    Hearing::from_bands(&listener.end(), |_| true).unwrap()
}

fn tune(song: &Song) -> Hearing {
    hear(&Score::lanterns_out().unwrap().render(song).unwrap(), SAMPLE_RATE)
}

/// The beats of a song's own grid, in seconds, and whether each begins a bar.
fn beats(song: &Song) -> Vec<(f64, bool)> {
    let grid = song.grid.build().unwrap();
    let of = |bar: i32| {
        let (metre, start) = (grid.metre_at(bar).clone(), grid.bar_tick(bar));
        (1..=grid.beats_in(bar))
            .map(move |b| (start + letfall_core::time::TickSpan::new(metre.beat_offset(b)), b == 1))
            .collect::<Vec<_>>()
    };
    (1..song.end_bar()).flat_map(of).map(|(tick, first)| (grid.micros_at(tick) / 1e6, first)).collect()
}

/// The F-measure as in mir_eval (check-values 11): beats match one to one, within 70 ms.
fn f_measure(known: &[f64], found: &[f64]) -> f64 {
    let (mut hits, mut at) = (0usize, 0usize);
    for time in known {
        while at < found.len() && found[at] < time - 0.07 {
            at += 1;
        }
        if at < found.len() && found[at] <= time + 0.07 {
            hits += 1;
            at += 1;
        }
    }
    2.0 * hits as f64 / (known.len() + found.len()) as f64
}

/// The example in check-values 11: 40 beats of which every other one is found.
#[test]
fn the_measure_is_the_published_one() {
    let known: Vec<f64> = (0..40).map(|k| 5.0 + 0.5 * f64::from(k)).collect();
    let half: Vec<f64> = known.iter().step_by(2).copied().collect();
    assert!((f_measure(&known, &half) - 2.0 / 3.0).abs() < 1e-9);
    let double: Vec<f64> = (0..79).map(|k| 5.0 + 0.25 * f64::from(k)).collect();
    assert!((f_measure(&known, &double) - 0.672_269).abs() < 1e-6);
}

#[test]
fn a_steady_tune_gives_one_tempo_and_no_pins() {
    let song = &show("first-opener").services[0].song;
    let found = tune(song).find(&Choice::default(), &mut || true).unwrap();
    assert_eq!((found.plan.metres.len(), found.plan.tempos.len(), found.plan.pins.len()), (1, 1, 0));
    assert_eq!(found.plan.tempos[0].tempo.to_string(), "100");
    assert_eq!(found.bars, 16);
    let (known, grid) = (song.grid.build().unwrap(), found.plan.build().unwrap());
    for bar in 1..=16 {
        let off = (known.bar_time(bar) - grid.bar_time(bar)).secs_f64();
        assert!(off.abs() < 0.02, "bar {bar} off by {off} s");
    }
}

/// The full tune: 4/4, then 6/8 slowing down, then 4/4 at another tempo, with a ritardando at the end.
#[test]
fn the_demo_tune_is_found_beat_for_beat() {
    let song = &show("lantern-night").services[1].song;
    let found = tune(song).find(&Choice::default(), &mut || true).unwrap();
    let known: Vec<f64> = beats(song).iter().map(|b| b.0).collect();
    let times: Vec<f64> = found.beats.iter().map(|b| b.at).collect();
    let f = f_measure(&known, &times);
    assert!(f > 0.95, "F {f:.3}");
    assert!(found.plan.tempos.len() + found.plan.pins.len() < 30);
}

/// A bar given by the user is kept, whichever bar it is, even if its ends are as far off as taps are.
#[test]
fn a_bar_that_is_given_is_kept() {
    let song = &show("lantern-night").services[0].song;
    let (hearing, grid) = (tune(song), song.grid.build().unwrap());
    let line = |n| grid.bar_time(n).secs_f64();
    for (bar, early, late) in [(1, 0.0, 0.0), (1, 0.03, -0.03), (9, -0.03, 0.03)] {
        let given = GivenBar { from: line(bar) + early, to: line(bar + 1) + late, beats: None };
        let found = hearing.find(&Choice { given_bar: Some(given), ..Choice::default() }, &mut || true).unwrap();
        let nearest = |secs: f64| {
            let off = |b: &&Placed| (b.at - secs).abs();
            found.beats.iter().min_by(|a, b| off(a).total_cmp(&off(b))).unwrap()
        };
        for end in [line(bar), line(bar + 1)] {
            let beat = nearest(end);
            assert!((beat.at - end).abs() < 0.02, "bar {bar}: {} for {end}", beat.at);
            assert_eq!((beat.number, beat.of), (1, 4), "bar {bar}");
        }
    }
}

/// If the user says that a bar has five beats although it has four, five are looked for.
#[test]
fn what_is_said_of_a_bar_is_done_or_refused() {
    let song = &show("first-opener").services[0].song;
    let hearing = tune(song);
    let find = |from: f64, to: f64, beats| {
        let given_bar = Some(GivenBar { from, to, beats });
        hearing.find(&Choice { given_bar, ..Choice::default() }, &mut || true)
    };
    let five = find(2.4, 4.8, Some(5)).unwrap();
    let begin = five.beats.iter().position(|b| (b.at - 2.4).abs() < 0.1).unwrap();
    let bar: Vec<(u8, u8)> = five.beats[begin..begin + 5].iter().map(|b| (b.number, b.of)).collect();
    assert_eq!(bar, [(1, 5), (2, 5), (3, 5), (4, 5), (5, 5)]);
    assert!((five.beats[begin + 5].at - 4.8).abs() < 0.1);
    // Whichever bar is given, the song's first bar is found.
    for bar in [1, 2, 7, 12] {
        let from = 2.4 * f64::from(bar);
        let two = find(from, from + 2.4, Some(2)).unwrap();
        assert!(two.beats[0].at < 0.05 && two.beats[0].number == 1 && two.bars == 16, "from bar {bar}");
    }
    let told = |from, to, beats| find(from, to, beats).unwrap_err().to_string();
    assert_eq!(told(4.8, 2.4, None), "a bar must end 0.2 to 30 s after it begins");
    assert_eq!(told(f64::NAN, 2.4, None), "a bar must end 0.2 to 30 s after it begins");
    assert!(told(-1.0, 1.4, None).starts_with("-1.000 s is not within the recording, which is "));
    assert_eq!(
        told(2.4, 3.4, Some(7)),
        "7 beats in 1.00 s are 420 a minute; beats are looked for from 36 to 250 a minute"
    );
}

/// A line through the taps of the first bar (least squares, as in any statistics handbook; values worked out by hand).
#[test]
fn a_bar_is_tapped() {
    let tapped = |at: &[f64]| {
        let mut taps = Taps::default();
        for secs in at {
            taps.tap(*secs);
        }
        taps
    };
    // Beats 0 to 4 at 10.00, 10.52, 10.98, 11.52, 11.98: slope 0.496, mean 11.0, so from 11.0 - 2 x 0.496 to 11.0 + 2 x 0.496.
    let four = tapped(&[10.0, 10.52, 10.98, 11.52, 11.98]);
    let bar = four.bar(None).unwrap();
    assert!((bar.from - 10.008).abs() < 1e-9 && (bar.to - 11.992).abs() < 1e-9, "{bar:?}");
    assert_eq!(bar.beats, Some(4));
    let two = four.bar(Some(2)).unwrap();
    assert!((two.from - 10.01).abs() < 1e-9 && (two.to - 10.99).abs() < 1e-9, "{two:?}");
    assert_eq!(four.bar(Some(5)), None);
    // With more taps than a bar can have, the number of beats must be given. A missed beat does no harm.
    let many = tapped(&[10.0, 10.5, 11.5, 12.0, 12.5, 13.0, 13.5, 14.0, 14.5]);
    assert_eq!((many.bar(None), many.bar(Some(4)).unwrap().beats), (None, Some(4)));
    assert!((many.bar(Some(4)).unwrap().to - 12.0).abs() < 1e-9);
    assert_eq!(tapped(&[10.0]).bar(Some(4)), None);
}

#[test]
fn half_double_shift_and_other_bars() {
    let song = &show("first-opener").services[0].song;
    let hearing = tune(song);
    let found = hearing.find(&Choice::default(), &mut || true).unwrap();
    let tempo = |f: &Found| f.tempo();
    assert!((tempo(&found.halved(&hearing).unwrap()) - 50.0).abs() < 0.5);
    assert!((tempo(&found.doubled(&hearing).unwrap()) - 200.0).abs() < 4.0);
    let later = found.shifted(1).unwrap();
    let first = |f: &Found| f.beats.iter().find(|b| b.number == 1).unwrap().at;
    assert!((first(&later) - first(&found) - 0.6).abs() < 0.05);
    assert!((first(&later.shifted(-1).unwrap()) - first(&found)).abs() < 1e-9);
    let threes = found.in_bars_of(3, &hearing).unwrap();
    assert_eq!(threes.plan.metres[0].metre.to_string(), "3/4");
    // Bars of three beats where there are four: few bar lines sound like downbeats, so confidence is lower.
    let sure =
        |f: &Found| f.confidence.iter().map(|b| f64::from(b.confidence)).sum::<f64>() / f.confidence.len() as f64;
    assert!(sure(&threes) < sure(&found));
}

#[test]
fn silence_and_noise_are_told() {
    assert_eq!(hear(&vec![0.0; 100_000], 44_100).find(&Choice::default(), &mut || true), Err(BarsError::Nothing));
    assert_eq!(hear(&[], 44_100).find(&Choice::default(), &mut || true), Err(BarsError::Nothing));
    let song = &show("first-opener").services[0].song;
    let mut calls = 0;
    let stopped = tune(song).find(&Choice::default(), &mut || {
        calls += 1;
        false
    });
    assert_eq!((stopped, calls), (Err(BarsError::Stopped), 1));
}

/// A repeatable pseudo-random sequence, nearly normal, with a standard deviation of 1.
fn random(seed: &mut u64) -> f64 {
    let mut sum = 0.0;
    for _ in 0..12 {
        *seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        sum += (*seed >> 11) as f64 / (1u64 << 53) as f64;
    }
    sum - 6.0
}

fn grid(text: &str) -> Grid {
    serde_json::from_str::<GridPlan>(text).unwrap().build().unwrap()
}

/// Scatters a grid's beats and fits a grid to them again: the worst deviation of a bar line in seconds, the number of marks,
/// and the plan.
fn refit(grid: &Grid, bars: i32, spread: f64, sigma: f64) -> (f64, usize, GridPlan) {
    let mut seed = 3;
    let mut placed = Vec::new();
    for bar in 1..=bars {
        let count = grid.beats_in(bar);
        for beat in 1..=count {
            let tick = grid.bar_tick(bar) + letfall_core::time::TickSpan::new(grid.metre_at(bar).beat_offset(beat));
            let at = grid.micros_at(tick) / 1e6 + spread * random(&mut seed);
            placed.push(Placed { at, number: beat as u8, of: count as u8 });
        }
    }
    let (plan, found) = plan(&placed, false, sigma).unwrap();
    assert_eq!(found, bars as u32);
    let made = plan.build().unwrap();
    let off = |bar| (made.bar_time(bar) - grid.bar_time(bar)).secs_f64().abs();
    ((1..=bars).map(off).fold(0.0, f64::max), plan.tempos.len() + plan.pins.len(), plan)
}

#[test]
fn few_marks_explain_the_beats() {
    let steady = grid(
        r#"{"origin_us": 1234567, "metres": [{"bar": 1, "metre": "3/4"}], "tempos": [{"at": "1|1", "tempo": "92"}]}"#,
    );
    let (off, marks, plan) = refit(&steady, 100, 0.006, 0.01);
    assert!(off < 0.006 && marks == 1, "{off} {marks}");
    assert_eq!(plan.tempos[0].tempo.to_string(), "92");
    let step = grid(
        r#"{"metres": [{"bar": 1, "metre": "4/4"}], "tempos": [{"at": "1|1", "tempo": "76"}, {"at": "33|1", "tempo": "101"}, {"at": "49|1", "tempo": "101", "ramp": {"to": "70", "law": "bpm-linear-in-beats"}}, {"at": "57|1", "tempo": "70"}]}"#,
    );
    let (off, marks, _) = refit(&step, 72, 0.006, 0.01);
    assert!(off < 0.025 && marks <= 12, "{off} {marks}");
    // A player whose tempo wanders: pins hold what a few tempos cannot explain.
    let mut seed = 5;
    let mut at = 0.0;
    let mut beat = 0.5f64;
    let placed: Vec<Placed> = (0..240u32)
        .map(|k| {
            at += beat;
            beat = (beat * (1.0 + 0.008 * random(&mut seed))).clamp(0.42, 0.6);
            Placed { at, number: (k % 4 + 1) as u8, of: 4 }
        })
        .collect();
    let (wander, _) = letfall_sound::bars::plan(&placed, false, 0.01).unwrap();
    let made = wander.build().unwrap();
    let lines = placed.iter().filter(|b| b.number == 1);
    let worst = (1i32..).zip(lines).map(|(bar, b)| (made.bar_time(bar).secs_f64() - b.at).abs()).fold(0.0, f64::max);
    assert!(worst < 0.04, "{worst}");
    assert!(wander.tempos.len() < 60, "{}", wander.tempos.len());
}

/// Taps as people make them: 25 ms of spread, one in twelve missed, one in twenty struck twice, all 30 ms early.
#[test]
fn taps_find_the_tempo_and_the_recording_their_place() {
    let song = &show("first-opener").services[0].song;
    let hearing = tune(song);
    let known = beats(song);
    let (mut taps, mut seed) = (Taps::default(), 9);
    for (k, (at, _)) in known.iter().enumerate() {
        if k % 12 == 7 {
            continue;
        }
        let at = at - 0.03 + 0.025 * random(&mut seed);
        taps.tap(at);
        if k % 20 == 3 {
            taps.tap(at + 0.09);
        }
    }
    let grid = song.grid.build().unwrap();
    for (hears, within) in [(None, 0.06), (Some(&hearing), 0.03)] {
        let (plan, bars) = taps.plan(4, false, hears).unwrap();
        assert_eq!((bars, plan.tempos.len()), (16, 1));
        let made = plan.build().unwrap();
        for bar in 1..=16 {
            let off = (made.bar_time(bar) - grid.bar_time(bar)).secs_f64();
            assert!(off.abs() < within, "bar {bar} off by {off}");
        }
    }
    let mut few = Taps::default();
    for at in [0.0, 0.5, 1.0] {
        few.tap(at);
    }
    assert!(matches!(few.plan(4, false, None), Err(TapError::Few(3))));
}
