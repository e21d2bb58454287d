//! Songs made to a click: one tempo explains all of them, also where the drums rest or play between the beats.

#![allow(clippy::unwrap_used, clippy::cast_possible_truncation, clippy::cast_sign_loss, missing_docs)]

use letfall_sound::Decoder;
use letfall_sound::bars::{Choice, Found, GivenBar, Hearing, TempoRange};

const RATE: u32 = 22_050;

/// Numbers that look random and are the same every time (G. Marsaglia, "Xorshift RNGs", 2003).
struct Dice(u64);

impl Dice {
    fn between(&mut self, from: f64, to: f64) -> f64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        from + (to - from) * (self.0 >> 11) as f64 / (1u64 << 53) as f64
    }
}

/// What a drum is like: how it sounds so long after it is hit.
fn kick(t: f64) -> f64 {
    0.9 * libm::exp(-t * 18.0) * libm::sin(std::f64::consts::TAU * (55.0 + 60.0 * libm::exp(-t * 40.0)) * t)
}

fn hit(out: &mut [f32], at: f64, secs: f64, mut sound: impl FnMut(f64) -> f64) {
    let first = (at * f64::from(RATE)) as usize;
    for n in 0..(secs * f64::from(RATE)) as usize {
        if let Some(sample) = out.get_mut(first + n) {
            *sample += sound(n as f64 / f64::from(RATE)) as f32;
        }
    }
}

/// A song of so many seconds at one tempo: bass drum on one and three, snare on two and four, cymbals on every half, a chord that changes with
/// every bar. Players are some milliseconds off. From 40 to 60 % of it the drums rest and the chords come half a beat late.
fn song(bpm: f64, begins: f64, secs: f64, seed: u64) -> Vec<f32> {
    let mut dice = Dice(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1);
    let mut out = vec![0.0f32; (secs * f64::from(RATE)) as usize];
    let period = 60.0 / bpm;
    let beats = ((secs - begins - 1.0) / period) as u32;
    for k in 0..beats {
        let at = begins + f64::from(k) * period + dice.between(-0.005, 0.005);
        let rests = (0.4..0.6).contains(&(f64::from(k) / f64::from(beats)));
        let chord = [110.0, 146.8, 98.0, 123.5][(k / 4 % 4) as usize];
        let tone = |at: f64, out: &mut [f32], loud: f64| {
            hit(out, at, period * 0.9, |t| {
                let swell = (t / 0.012).min(1.0) * libm::exp(-t * 2.0) * loud;
                [1.0, 2.5, 3.0].iter().map(|n| swell / 3.0 * libm::sin(std::f64::consts::TAU * chord * n * t)).sum()
            });
        };
        if rests {
            tone(at + period / 2.0, &mut out, 0.4);
            continue;
        }
        if k % 2 == 0 {
            hit(&mut out, at, 0.25, kick);
        } else {
            hit(&mut out, at, 0.15, |t| libm::exp(-t * 30.0) * dice.between(-0.6, 0.6));
        }
        if k % 4 == 0 {
            tone(at, &mut out, 0.3);
        }
        for half in [0.0, 0.5] {
            hit(&mut out, at + half * period, 0.04, |t| libm::exp(-t * 120.0) * dice.between(-0.2, 0.2));
        }
    }
    out
}

fn hear(samples: &[f32]) -> Hearing {
    let file = tempfile::NamedTempFile::new().unwrap();
    let spec =
        hound::WavSpec { channels: 1, sample_rate: RATE, bits_per_sample: 16, sample_format: hound::SampleFormat::Int };
    let mut wav = hound::WavWriter::create(file.path(), spec).unwrap();
    for sample in samples {
        wav.write_sample((sample.clamp(-1.0, 1.0) * 32_000.0) as i16).unwrap();
    }
    wav.finalize().unwrap();
    let mut decoder = Decoder::open(Box::new(file.reopen().unwrap()), None).unwrap();
    Hearing::of(&mut decoder, |_| true).unwrap()
}

/// How far every beat that was found lies off a row of beats, seconds.
fn off(found: &Found, bpm: f64, begins: f64) -> Vec<f64> {
    let period = 60.0 / bpm;
    let away = |at: f64| {
        let turn = (at - begins) / period;
        (turn - libm::round(turn)) * period
    };
    found.beats.iter().map(|beat| away(beat.at)).collect()
}

/// One tempo mark, that tempo, and no drift over five minutes, although a minute in the middle has its chords between the beats.
#[test]
fn a_song_made_to_a_click_is_one_tempo() {
    for (bpm, begins, seed) in [(126.5, 1.37, 1u64), (92.0, 0.4, 2)] {
        let hearing = hear(&song(bpm, begins, 300.0, seed));
        let found = hearing.find(&Choice::default(), &mut || true).unwrap();
        assert_eq!((found.plan.tempos.len(), found.plan.pins.len()), (1, 0), "{bpm}: {:?}", found.plan);
        let off = off(&found, bpm, begins);
        let (low, high) = off.iter().fold((f64::MAX, f64::MIN), |(low, high), off| (low.min(*off), high.max(*off)));
        // The beat itself to 15 ms, and from the first to the last within 10 ms of one line.
        assert!(low > -0.015 && high < 0.015 && high - low < 0.010, "{bpm}: {low} to {high}");
        assert!((found.beats.len() as f64 - 298.0 * bpm / 60.0).abs() < 4.0, "{}", found.beats.len());
        assert!((found.tempo() - bpm).abs() < 0.01, "{}", found.tempo());
    }
}

/// A song with a pause, or whose last part is a little faster, is not forced onto one tempo: its last chorus is where it matters.
#[test]
fn what_leaves_the_tempo_is_followed() {
    let (bpm, secs) = (120.0, 200.0);
    let period = 60.0 / bpm;
    let whole = song(bpm, 0.5, secs, 8);
    for (bars, pause, last) in [(50, 0.5, 40), (80, 0.3, 40), (80, 0.5, 40), (90, 0.5, 30), (93, 0.3, 15)] {
        let cut = 0.5 + 4.0 * f64::from(bars) * period;
        let at = (cut * f64::from(RATE)) as usize;
        let mut paused = whole[..at].to_vec();
        paused.resize(at + (pause * period * f64::from(RATE)) as usize, 0.0);
        paused.extend(&whole[at..]);
        let found = hear(&paused).find(&Choice::default(), &mut || true).unwrap();
        let last = found.beats.iter().rev().take(last).map(|beat| {
            let turn = (beat.at - cut - pause * period) / period;
            ((turn - libm::round(turn)) * period).abs()
        });
        let worst = last.fold(0.0, f64::max);
        assert!(worst < 0.07, "after a pause of {pause} beats at bar {bars}: {worst:.3} s off");
    }
    let at = ((0.5 + 320.0 * period) * f64::from(RATE)) as usize;
    let mut faster = whole[..at].to_vec();
    let later = song(bpm * 1.015, 0.0, 42.0, 9);
    faster.extend(&later);
    let found = hear(&faster).find(&Choice::default(), &mut || true).unwrap();
    let last = found.beats.iter().rev().take(20).map(|beat| {
        let turn = (beat.at - at as f64 / f64::from(RATE)) / (period / 1.015);
        ((turn - libm::round(turn)) * period).abs()
    });
    let worst = last.fold(0.0, f64::max);
    assert!(worst < 0.07, "a last part that is faster: {worst:.3} s off");
}

/// What a person says is law: a bar that was tapped, each beat some hundredths of a second off, is where its beats are, also where everything
/// else sounds half a beat later; and the tempo that was heard is followed outward from it.
#[test]
fn a_bar_that_was_tapped_is_never_contradicted() {
    let (bpm, begins) = (104.0, 0.9);
    let hearing = hear(&song(bpm, begins, 150.0, 3));
    let period = 60.0 / bpm;
    for (seed, half) in [(11u64, 0.0), (12, 0.0), (13, 0.5), (14, 0.5)] {
        let mut dice = Dice(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1);
        // Half a beat after what everybody would count, if that is what is said.
        let from = begins + (40.0 + half) * period;
        let mut tap = |at: f64| at + dice.between(-0.03, 0.03);
        let bar = GivenBar { from: tap(from), to: tap(from + 4.0 * period), beats: Some(4) };
        let found = hearing.find(&Choice { given_bar: Some(bar), ..Choice::default() }, &mut || true).unwrap();
        for k in 0..=4u32 {
            let said = from + f64::from(k) * period;
            let near = found.beats.iter().map(|beat| (beat.at - said).abs()).fold(f64::MAX, f64::min);
            assert!(near < 0.04, "seed {seed}: beat {k} is {near} off");
        }
        let off = off(&found, bpm, begins + half * period);
        assert!(off.iter().all(|off| off.abs() < 0.04), "seed {seed}: {off:.3?}");
        assert_eq!(found.plan.tempos.len(), 1, "seed {seed}");
        // Bars begin where they were said to.
        let line = found.beats.iter().filter(|beat| beat.number == 1).map(|beat| (beat.at - from).abs());
        assert!(line.fold(f64::MAX, f64::min) < 0.04, "seed {seed}");
    }
}

/// A tempo that is asked for is counted, and a half beat later is one step away.
#[test]
fn other_ways_to_count_are_one_step_away() {
    let (bpm, begins) = (112.0, 0.5);
    let hearing = hear(&song(bpm, begins, 120.0, 5));
    let found = hearing.find(&Choice::default(), &mut || true).unwrap();
    let half = found.half_a_beat_later(&hearing).unwrap();
    let period = 60.0 / bpm;
    assert!(off(&half, bpm, begins + period / 2.0).iter().all(|off| off.abs() < 0.015));
    assert_eq!(half.plan.tempos.len(), 1);
    let range = TempoRange::near(56.0).unwrap();
    let slow = hearing.find(&Choice { tempo: Some(range), ..Choice::default() }, &mut || true).unwrap();
    assert!((slow.tempo() - 56.0).abs() < 0.05, "{}", slow.tempo());
}
