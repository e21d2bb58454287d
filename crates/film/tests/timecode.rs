//! Timecode in a film's sound. Words are put together here bit by bit as SMPTE ST 12-1 has them (check-values section 5), apart from how the
//! program writes its own; crates/letfall/tests/film.rs reads what the program writes, which libltc reads too (tests/oracles).

#![allow(
    clippy::unwrap_used,
    clippy::cast_possible_truncation,
    clippy::cast_possible_wrap,
    clippy::cast_sign_loss,
    missing_docs
)]

#[path = "made/songs.rs"]
mod songs;

use letfall_core::time::{FrameRate, Timecode};
use letfall_film::align::{LaidBy, Run, by_timecode};
use letfall_film::sound::RATE;
use songs::{Dice, Song};

/// The bits of an address, first to last: digits lowest bit first, user bits 0 but where said, sync word at the end.
fn bits(text: &str, drop: bool, user: u8) -> Vec<bool> {
    let fields: Vec<u8> = text.split([':', ';']).map(|field| field.parse().unwrap()).collect();
    let [h, m, s, f] = fields[..] else { panic!("{text}") };
    let mut bits = Vec::new();
    let mut put = |value: u8, count: u8| (0..count).for_each(|n| bits.push(value >> n & 1 == 1));
    for (n, (field, tens)) in [(f, 2), (s, 3), (m, 3), (h, 2)].into_iter().enumerate() {
        put(field % 10, 4);
        put(user, 4);
        put(field / 10, tens);
        match n {
            0 => put(u8::from(drop), 2),
            3 => put(0, 2),
            _ => put(0, 1),
        }
        put(user, 4);
    }
    bits.extend("0011111111111101".chars().map(|c| c == '1'));
    assert_eq!(bits.len(), 80);
    bits
}

/// So many frames from an address on, as sound from `begins` seconds on; the clock of what plays it goes `fast` as fast.
fn play(sound: &mut [f32], begins: f64, from: Timecode, count: i64, fast: f64, level: f32) {
    let (num, den) = from.rate().frame_micros();
    let cell = num as f64 / den as f64 / 80e6 / fast;
    let drop = from.rate() == FrameRate::F2997Drop;
    let mut edges = Vec::new();
    for n in 0..count {
        let at = Timecode::from_frames(from.frames() + n, from.rate());
        for (bit, one) in bits(&at.to_string(), drop, (n % 16) as u8).into_iter().enumerate() {
            let start = begins + (n * 80) as f64 * cell + bit as f64 * cell;
            edges.push(start);
            edges.extend(one.then_some(start + cell / 2.0));
        }
    }
    let ends = begins + (count * 80) as f64 * cell;
    // Four times as fine as it is heard, and means of that: edges lie between samples.
    let (mut next, mut value) = (0, -level);
    for (n, sample) in sound.iter_mut().enumerate() {
        let mut sum = 0.0;
        for part in 0..4 {
            let t = (n as f64 + (f64::from(part) + 0.5) / 4.0 - 0.5) / f64::from(RATE);
            while next < edges.len() && edges[next] <= t {
                value = -value;
                next += 1;
            }
            sum += if (begins..ends).contains(&t) { value } else { 0.0 };
        }
        *sample += sum / 4.0;
    }
}

fn silence(secs: f64) -> Vec<f32> {
    vec![0.0; (secs * f64::from(RATE)) as usize]
}

fn code(text: &str, rate: FrameRate) -> Timecode {
    Timecode::parse(text, rate).unwrap()
}

/// The worst that a run is off, seconds.
fn off(run: &Run, begins: f64, song: f64, fast: f64, secs: f64) -> f64 {
    [0.0, 0.5, 1.0]
        .map(|share| {
            let after = secs * share;
            (run.song(begins + after) - song - after * fast).abs()
        })
        .into_iter()
        .fold(0.0, f64::max)
}

#[test]
fn every_rate_is_read_to_a_tenth_of_a_millisecond() {
    for (rate, zero, from) in [
        (FrameRate::F24, "10:00:00:00", "10:01:10:05"),
        (FrameRate::F25, "01:00:00:00", "01:00:00:00"),
        (FrameRate::F2997Drop, "00:59:00;02", "01:00:59;20"),
        (FrameRate::F30, "23:59:50:00", "00:00:10:00"),
    ] {
        for (fast, level, noise) in [(1.0, 0.5, 0.0), (1.0002, 0.02, 0.001), (0.999, 0.3, 0.03)] {
            let (zero, from) = (code(zero, rate), code(from, rate));
            let (num, den) = rate.frame_micros();
            let frame = num as f64 / den as f64 / 1e6;
            let frames = (from.frames() - zero.frames()).rem_euclid(rate.frames_a_day());
            let (song, count) = (frames as f64 * frame, 250);
            let mut sound = silence(14.0);
            play(&mut sound, 1.2345, from, count, fast, level);
            let mut dice = Dice::new(4);
            for sample in &mut sound {
                *sample += noise * dice.between(-1.0, 1.0) as f32;
            }
            let runs = by_timecode(&sound, zero);
            assert_eq!(runs.len(), 1, "{rate:?} {fast}: {runs:?}");
            let (run, secs) = (&runs[0], count as f64 * frame / fast);
            let off = off(run, 1.2345, song, fast, secs);
            println!("{rate:?}, {fast} as fast, level {level}: {:.3} ms off, {} of {}", off * 1e3, run.agree, run.of);
            assert!(off < 1e-4, "{rate:?} {fast}: {off}");
            assert!(off < 2.0 * run.standard && run.by == LaidBy::Timecode && run.slow == 1.0);
            assert!(run.agree * 100 >= run.of * 95 && (run.of as i64 - count).abs() < 3, "{run:?}");
            assert!((run.from - 1.2345).abs() < 0.1 && (run.to - 1.2345 - secs).abs() < 0.1, "{run:?}");
        }
    }
}

/// A jump is another run, and so is the same again; what is not heard for a moment is not.
#[test]
fn runs_are_told_apart() {
    let zero = code("01:00:00:00", FrameRate::F25);
    let mut sound = silence(30.0);
    play(&mut sound, 1.0, code("01:00:10:00", FrameRate::F25), 200, 1.0, 0.4);
    play(&mut sound, 12.0, code("01:00:10:00", FrameRate::F25), 200, 1.0, 0.4);
    play(&mut sound, 20.5, code("01:02:00:00", FrameRate::F25), 200, 1.0, 0.4);
    // Something else for half a second.
    let gap = 14 * RATE as usize..14 * RATE as usize + RATE as usize / 2;
    sound[gap].fill(0.0);
    let runs = by_timecode(&sound, zero);
    assert_eq!(runs.len(), 3, "{runs:?}");
    for (run, (begins, song)) in runs.iter().zip([(1.0, 10.0), (12.0, 10.0), (20.5, 120.0)]) {
        assert!(off(run, begins, song, 1.0, 8.0) < 1e-4, "{run:?}");
    }
    assert!(runs[1].agree < 190 && runs[1].of >= 199);
}

/// Music, noise, silence and timecode of another rate are not taken for it.
#[test]
fn what_is_no_timecode() {
    let zero = code("01:00:00:00", FrameRate::F25);
    assert!(by_timecode(&[], zero).is_empty());
    assert!(by_timecode(&silence(5.0), zero).is_empty());
    for seed in 0..3 {
        assert!(by_timecode(&Song::new(seed, 30.0).play(), zero).is_empty());
    }
    let mut dice = Dice::new(8);
    let noise: Vec<f32> = silence(30.0).iter().map(|_| dice.between(-1.0, 1.0) as f32).collect();
    assert!(by_timecode(&noise, zero).is_empty());
    let mut other = silence(12.0);
    play(&mut other, 0.5, code("01:00:00:00", FrameRate::F30), 300, 1.0, 0.5);
    assert!(by_timecode(&other, zero).is_empty());
    let mut short = silence(5.0);
    play(&mut short, 0.5, zero, 20, 1.0, 0.5);
    assert!(by_timecode(&short, zero).is_empty(), "less than a second");
}
