//! Finds the beats of recordings for `tests/beats/measure.py`: `beats OUT [--anchored | --counted | --tapped] IN.wav…`. With
//! `--anchored`, the first two downbeats are taken from IN.json; with `--counted`, the number of beats between them too. With
//! `--tapped`, these two are moved by 30 ms, as if a person had tapped them. With `--half`, `--twice`, `--three-for-two` or
//! `--two-for-three`, beats found without help are counted that way, as the editor offers. Prints how many times faster than
//! real time this ran on one core.

use letfall_sound::Decoder;
use letfall_sound::bars::{Choice, GivenBar, Hearing, TempoRange};
use std::fmt::Write as _;
use std::{env, fs, path::Path, time::Instant};

/// How far a person taps from the beat, in seconds: 10 to 30 ms are reported for trained tappers, more for others (B. Repp,
/// Psychonomic Bulletin & Review 12, 2005; from memory).
const TAPPED: f64 = 0.030;

#[allow(clippy::unwrap_used, clippy::disallowed_methods)] // a developer tool
fn main() {
    let mut args: Vec<String> = env::args().skip(1).collect();
    let mut has = |what: &str| args.iter().position(|a| a == what).map(|at| args.remove(at)).is_some();
    let (anchored, tapped) = (has("--anchored"), has("--tapped"));
    let counted = has("--counted") || tapped;
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
            // Both ends late, only one of them, or neither: each case for a quarter of the files.
            let astray = |late: bool| {
                if !tapped {
                    0.0
                } else if late {
                    TAPPED
                } else {
                    -TAPPED
                }
            };
            let (from, to) = (at(0) + astray(which % 2 == 0), at(1) + astray(which / 2 % 2 == 0));
            choice.given_bar = Some(GivenBar { from, to, beats });
        }
        let found = hearing.find(&choice, &mut || true).unwrap();
        let near = |ratio: f64| {
            let tempo = TempoRange::near(found.tempo() * ratio).ok()?;
            hearing.find(&Choice { tempo: Some(tempo), ..Choice::default() }, &mut || true).ok()
        };
        let other = match recount.as_str() {
            "--half" => found.halved(&hearing).ok(),
            "--twice" => found.doubled(&hearing).ok(),
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
