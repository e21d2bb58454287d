//! Recordings decoded and drawn: files written here, files damaged here, and files written by another library if the oracles
//! are set up.

#![allow(clippy::unwrap_used, clippy::cast_possible_truncation, clippy::cast_sign_loss, missing_docs)]

use letfall_sound::{Decoder, Peaks, SoundError};
use std::io::Cursor;
use std::path::Path;
use std::process::Command;

/// A sweep with a click at its start, so that any shift shows.
fn signal(rate: u32, frames: usize) -> Vec<f32> {
    (0..frames)
        .map(|n| {
            let t = n as f64 / f64::from(rate);
            let sweep = libm::sin(2.0 * std::f64::consts::PI * (200.0 + 300.0 * t) * t) * 0.4;
            (sweep + if n < 8 { 0.5 } else { 0.0 }) as f32
        })
        .collect()
}

fn wav(rate: u32, channels: u16, mono: &[f32]) -> Vec<u8> {
    let mut to = Cursor::new(Vec::new());
    let spec =
        hound::WavSpec { channels, sample_rate: rate, bits_per_sample: 16, sample_format: hound::SampleFormat::Int };
    let mut out = hound::WavWriter::new(&mut to, spec).unwrap();
    for sample in mono {
        for _ in 0..channels {
            out.write_sample((sample * 32_767.0) as i16).unwrap();
        }
    }
    out.finalize().unwrap();
    to.into_inner()
}

fn open(bytes: Vec<u8>, ending: &str) -> Result<Decoder, SoundError> {
    Decoder::open(Box::new(Cursor::new(bytes)), Some(ending))
}

fn all(decoder: &mut Decoder) -> Vec<f32> {
    let mut out = Vec::new();
    while let Some(block) = decoder.next_block() {
        out.extend_from_slice(block);
    }
    out
}

/// A head that says 0 samples a second, or no channels, is refused with a sentence.
#[test]
fn a_wav_file_without_rate_or_channels_is_refused() {
    let bytes = wav(8_000, 1, &signal(8_000, 100));
    // RIFF: the format chunk's channels are at byte 22, its rate at byte 24.
    for (at, length) in [(22, 2), (24, 4)] {
        let mut broken = bytes.clone();
        broken[at..at + length].fill(0);
        let told = open(broken, "wav").err().map(|why| why.to_string()).unwrap_or_default();
        assert!(!told.is_empty(), "byte {at}");
    }
}

#[test]
fn wav_files_of_any_rate_and_channels_come_back_sample_for_sample() {
    for (rate, channels) in [(8_000, 1), (22_050, 2), (44_100, 1), (48_000, 2), (96_000, 6)] {
        let mono = signal(rate, 30_011);
        let mut decoder = open(wav(rate, channels, &mono), "wav").unwrap();
        assert_eq!((decoder.facts().sample_rate, decoder.facts().channels), (rate, channels));
        assert_eq!(decoder.facts().frames, Some(30_011));
        let got = all(&mut decoder);
        assert_eq!(got.len(), mono.len());
        for (a, b) in got.iter().zip(&mono) {
            assert!((a - b).abs() < 1.0 / 16_000.0, "{a} {b}");
        }
        assert_eq!(decoder.notes(), [""; 0]);
    }
}

#[test]
fn what_is_no_sound_is_refused_and_what_is_cut_short_gives_what_is_there() {
    for bytes in
        [Vec::new(), b"not a sound file at all, only words".to_vec(), vec![0; 5000], b"RIFF\x10\0\0\0WAVE".to_vec()]
    {
        assert!(matches!(open(bytes, "wav"), Err(SoundError::Format(_) | SoundError::Empty(_))));
    }
    let whole = wav(44_100, 1, &signal(44_100, 88_200));
    let mut decoder = open(whole[..whole.len() / 2].to_vec(), "wav").unwrap();
    let got = all(&mut decoder);
    assert!((40_000..=44_100).contains(&got.len()), "{}", got.len());
    assert!(decoder.notes().iter().any(|n| n.contains("ends early: 1.0 s of 2.0 s")), "{:?}", decoder.notes());
}

/// Bytes changed at random must never cause a panic, or give more sound than such a file can hold.
#[test]
fn damaged_files_do_no_harm() {
    let whole = wav(8_000, 1, &signal(8_000, 8_000));
    let mut seed = 3u64;
    let mut next = |n: usize| {
        seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
        (seed >> 33) as usize % n
    };
    for _ in 0..400 {
        let mut bytes = whole.clone();
        for _ in 0..8 {
            // The header of the file, where damage matters most.
            let at = next(64);
            bytes[at] = next(256) as u8;
        }
        if let Ok(mut decoder) = open(bytes, "wav") {
            assert!(all(&mut decoder).len() <= 64_000);
        }
    }
}

#[test]
fn peaks_at_every_scale_hold_what_is_there() {
    let rate = 8_000;
    let mono = signal(rate, 100_003);
    let mut decoder = open(wav(rate, 1, &mono), "wav").unwrap();
    let peaks = Peaks::of(&mut decoder, |_| true).unwrap();
    assert_eq!(peaks.frames, 100_003);
    for (from, to) in [(0.0, 12.5), (0.1, 0.2), (3.0, 3.001), (5.0, 9.0), (12.0, 14.0), (-1.0, 0.001)] {
        let (low, high) = peaks.range(from, to).unwrap();
        let sample = |secs: f64| ((secs * f64::from(rate)).max(0.0) as usize).min(mono.len());
        let exact = &mono[sample(from)..sample(to).max(sample(from) + 1).min(mono.len())];
        let least = exact.iter().copied().fold(1.0f32, f32::min);
        let most = exact.iter().copied().fold(-1.0f32, f32::max);
        // Never less than what is there. There may be up to a bucket more at the ends, and a step of the scale.
        assert!(low <= least + 1e-4 && high >= most - 1e-4, "{from} to {to}: {low} {high} against {least} {most}");
        assert!(low >= -1.0 && high <= 1.0);
    }
    assert_eq!(peaks.range(20.0, 21.0), None);
    assert_eq!(peaks.range(2.0, 1.0), None);
    // Stopped half way through.
    let mut decoder = open(wav(rate, 1, &mono), "wav").unwrap();
    assert_eq!(Peaks::of(&mut decoder, |read| read < 20_000), None);
}

/// FLAC, Ogg Vorbis, MP3 and other kinds of WAV written by libsndfile, and AAC in M4A written by PyAV
/// (tests/oracles/make_audio.py): every sample is in its place, and encoder padding is removed.
#[test]
fn files_of_another_library_start_and_end_where_they_should() {
    let Some(python) = std::env::var_os("LETFALL_ORACLES") else {
        return letfall_testing::skip(
            "sound files_of_another_library",
            "no independent writers are set up here; cargo xtask test does",
        );
    };
    let folder = tempfile::tempdir().unwrap();
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/oracles/make_audio.py");
    let made = Command::new(python).arg(script).arg(folder.path()).output().unwrap();
    assert!(made.status.success(), "{}", String::from_utf8_lossy(&made.stderr));
    let mut seen = 0;
    for entry in std::fs::read_dir(folder.path()).unwrap() {
        let path = entry.unwrap().path();
        let ending = path.extension().unwrap().to_str().unwrap().to_owned();
        if ending == "raw" {
            continue;
        }
        let raw = std::fs::read(path.with_extension("raw")).unwrap();
        let want: Vec<f32> = raw.chunks_exact(4).map(|b| f32::from_le_bytes(b.try_into().unwrap())).collect();
        let mut decoder = open(std::fs::read(&path).unwrap(), &ending).unwrap();
        let got = all(&mut decoder);
        let name = path.file_name().unwrap().to_string_lossy().into_owned();
        let lossless = matches!(ending.as_str(), "wav" | "flac");
        // MP4 gives the length in rounded milliseconds, but the beginning in samples.
        let near = if ending == "m4a" { 48 } else { 0 };
        assert!(got.len().abs_diff(want.len()) <= near, "{name}: {} of {}", got.len(), want.len());
        let product = |lag: i64| -> f64 {
            let pairs = (2000..20_000i64).map(|n| (want[n as usize], got[(n + lag) as usize]));
            pairs.map(|(a, b)| f64::from(a) * f64::from(b)).sum()
        };
        let best = (-1500..=1500).max_by(|a, b| product(*a).total_cmp(&product(*b))).unwrap();
        assert_eq!(best, 0, "{name} stands {best} samples off");
        let off = got.iter().zip(&want).map(|(a, b)| (a - b).abs()).fold(0.0f32, f32::max);
        assert!(off < if lossless { 2e-4 } else { 0.35 }, "{name}: {off}");
        seen += 1;
    }
    assert!(seen >= 11, "only {seen} files were made");
}
