//! Finds the beats of recordings for `tests/beats/measure.py`: `beats OUT [--anchored | --counted | --tapped] IN.wav…`. With
//! `--anchored`, the first two downbeats are taken from IN.json; with `--counted`, the number of beats between them too. With
//! `--hand SEED`, a bar that
//! the seed chooses is given as a hand taps it: each of its beats and the next downbeat is astray by a normal deviation of 25 ms, and a line is
//! laid through them. With `--half`, `--twice`, `--half-a-beat`, `--three-for-two` or
//! `--two-for-three`, beats found without help are counted that way, as the editor offers. Prints how many times faster than
//! real time this ran on one core.

use letfall_sound::Decoder;
use letfall_sound::bars::{Choice, GivenBar, Hearing, TempoRange};
use std::fmt::Write as _;
use std::{env, fs, path::Path, time::Instant};

/// How far a person taps from the beat, in seconds, as a standard deviation: 10 to 30 ms are reported for trained tappers, more for others
/// (B. Repp, Psychonomic Bulletin & Review 12, 2005; from memory).
const TAPPED: f64 = 0.025;

/// A number from 0 to 1 that looks random (G. Marsaglia, "Xorshift RNGs", 2003).
fn dice(state: &mut u64) -> f64 {
    *state ^= *state << 13;
    *state ^= *state >> 7;
    *state ^= *state << 17;
    (*state >> 11) as f64 / (1u64 << 53) as f64
}

/// A bar of the truth as a hand taps it.
#[allow(clippy::unwrap_used, clippy::cast_possible_truncation, clippy::cast_sign_loss)] // a developer tool
fn by_hand(known: &serde_json::Value, seed: u64, which: usize) -> GivenBar {
    let list = |name: &str| known[name].as_array().unwrap().iter().map(|t| t.as_f64().unwrap()).collect::<Vec<f64>>();
    let (beats, downs) = (list("beats"), list("downbeats"));
    let mut state = (seed * 1000 + which as u64 + 1).wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1;
    for _ in 0..8 {
        dice(&mut state);
    }
    let bar = (dice(&mut state) * (downs.len() - 1) as f64) as usize;
    let inside = beats.iter().filter(|t| (downs[bar] - 1e-3..downs[bar + 1] - 1e-3).contains(*t));
    let mut taps: Vec<f64> = inside.chain([&downs[bar + 1]]).copied().collect();
    for tap in &mut taps {
        let (a, b) = (dice(&mut state).max(1e-12), dice(&mut state));
        // A normal deviation (G. Box, M. Muller, 1958).
        *tap += TAPPED * libm::sqrt(-2.0 * libm::log(a)) * libm::cos(std::f64::consts::TAU * b);
    }
    let n = taps.len() as f64;
    let middle = (n - 1.0) / 2.0;
    let mean = taps.iter().sum::<f64>() / n;
    let across: f64 = (0..taps.len()).map(|k| (k as f64 - middle).powi(2)).sum();
    let each = taps.iter().enumerate().map(|(k, t)| (k as f64 - middle) * (t - mean)).sum::<f64>() / across;
    let from = (mean - each * middle).max(0.0);
    GivenBar { from, to: mean + each * middle, beats: u8::try_from(taps.len() - 1).ok() }
}

#[allow(clippy::unwrap_used, clippy::disallowed_methods)] // a developer tool
fn main() {
    let mut args: Vec<String> = env::args().skip(1).collect();
    let mut has = |what: &str| args.iter().position(|a| a == what).map(|at| args.remove(at)).is_some();
    let (anchored, counted) = (has("--anchored"), has("--counted"));
    let hand: Option<u64> = args.iter().position(|a| a == "--hand").map(|at| {
        args.remove(at);
        args.remove(at).parse().unwrap()
    });
    let recount = args.iter().position(|a| a.starts_with("--")).map_or_else(String::new, |at| args.remove(at));
    let out = args.remove(0);
    let begin = Instant::now();
    let mut secs = 0.0;
    for (which, path) in args.iter().enumerate() {
        let mut decoder = Decoder::open(Box::new(fs::File::open(path).unwrap()), None).unwrap();
        let hearing = Hearing::of(&mut decoder, |_| true).unwrap();
        secs += decoder.decoded() as f64 / f64::from(decoder.facts().sample_rate);
        let mut choice = Choice::default();
        if anchored || counted {
            let known: serde_json::Value =
                serde_json::from_slice(&fs::read(path.replace(".wav", ".json")).unwrap()).unwrap();
            let at = |k: usize| known["downbeats"][k].as_f64().unwrap();
            let inside = |t: &&serde_json::Value| (at(0)..at(1) - 1e-3).contains(&t.as_f64().unwrap());
            let beats = known["beats"].as_array().unwrap().iter().filter(inside).count();
            let beats = u8::try_from(beats).ok().filter(|_| counted);
            choice.given_bar = Some(GivenBar { from: at(0).max(0.0), to: at(1), beats });
        }
        if let Some(seed) = hand {
            let known: serde_json::Value =
                serde_json::from_slice(&fs::read(path.replace(".wav", ".json")).unwrap()).unwrap();
            choice.given_bar = Some(by_hand(&known, seed, which));
        }
        let found = hearing.find(&choice, &mut || true).unwrap();
        let near = |ratio: f64| {
            let tempo = TempoRange::near(found.tempo() * ratio).ok()?;
            hearing.find(&Choice { tempo: Some(tempo), ..Choice::default() }, &mut || true).ok()
        };
        let other = match recount.as_str() {
            "--half" => found.halved(&hearing).ok(),
            "--twice" => found.doubled(&hearing).ok(),
            "--half-a-beat" => found.half_a_beat_later(&hearing).ok(),
            "--three-for-two" => near(1.5),
            "--two-for-three" => near(2.0 / 3.0),
            _ => None,
        };
        // If it cannot be counted that way, it is left as it was.
        let found = other.unwrap_or(found);
        let name = Path::new(path).file_stem().unwrap().to_string_lossy().into_owned();
        let mut text = String::new();
        for beat in &found.beats {
            writeln!(text, "{:.4} {}", beat.at, beat.number).unwrap();
        }
        fs::write(Path::new(&out).join(format!("{name}.txt")), text).unwrap();
        let (m, t, p) = (found.plan.metres.len(), found.plan.tempos.len(), found.plan.pins.len());
        println!(
            "{name}: {:.1} a minute, {} bars, {m} metre, {t} tempo marks, {p} pins, weak {:?}",
            found.tempo(),
            found.bars,
            found.weak_spots()
        );
    }
    let spent = begin.elapsed().as_secs_f64();
    println!("{:.0} x real time ({secs:.0} s of sound in {spent:.2} s)", secs / spent);
}
