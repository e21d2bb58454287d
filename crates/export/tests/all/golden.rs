//! The worked examples printed in the Standard MIDI File specification (RP-001, SMF 1.1, appendix 2), byte for byte.

use super::strict;
use letfall_export::midi::{ImportError, import};
use midly::Smf;

fn bytes(hex: &str) -> Vec<u8> {
    hex.split_whitespace().map(|b| u8::from_str_radix(b, 16).unwrap()).collect()
}

/// Appendix 2, format 0.
const FORMAT_0: &str = "4D 54 68 64 00 00 00 06 00 00 00 01 00 60 4D 54 72 6B 00 00 00 3B
    00 FF 58 04 04 02 18 08 00 FF 51 03 07 A1 20 00 C0 05 00 C1 2E 00 C2 46 00 92 30 60 00 3C 60 60 91 43 40 60 90 4C 20
    81 40 82 30 40 00 3C 40 00 81 43 40 00 80 4C 40 00 FF 2F 00";
/// Appendix 2, format 1.
const FORMAT_1: &str = "4D 54 68 64 00 00 00 06 00 01 00 04 00 60
    4D 54 72 6B 00 00 00 14 00 FF 58 04 04 02 18 08 00 FF 51 03 07 A1 20 83 00 FF 2F 00
    4D 54 72 6B 00 00 00 10 00 C0 05 81 40 90 4C 20 81 40 4C 00 00 FF 2F 00
    4D 54 72 6B 00 00 00 0F 00 C1 2E 60 91 43 40 82 20 43 00 00 FF 2F 00
    4D 54 72 6B 00 00 00 15 00 C2 46 00 92 30 60 00 3C 60 83 00 30 00 00 3C 00 00 FF 2F 00";
/// check-values 1.7, written by an independent writer (mido).
const MIXED: &str =
    "4D 54 68 64 00 00 00 06 00 01 00 02 01 E0 4D 54 72 6B 00 00 00 5E 00 FF 03 04 53 6F 6E 67 00 FF 54 05 21 00 00
    00 00 00 FF 58 04 04 02 18 08 00 FF 51 03 07 A1 20 00 FF 06 05 56 65 72 73 65 8F 00 FF 07 08 46 41 42 52 49 43 20 31
    AD 00 FF 58 04 06 03 24 08 00 FF 06 06 42 72 69 64 67 65 96 40 FF 58 04 04 02 18 08 00 FF 51 03 0A 2C 2B BC 00 FF 2F
    00 4D 54 72 6B 00 00 00 20 00 FF 03 03 4F 75 74 8F 00 9F 3C 7F 1E 8F 3C 00 AC 62 F0 07 7F 01 02 01 01 31 F7 D2 40 FF
    2F 00";

#[test]
fn the_standards_examples_are_read_and_written_again_identically() {
    for hex in [FORMAT_0, FORMAT_1, MIXED] {
        let original = bytes(hex);
        let mut again = Vec::new();
        Smf::parse(&original).unwrap().write_std(&mut again).unwrap();
        assert_eq!(again, original);
    }
}

#[test]
fn the_standards_examples_last_two_seconds() {
    for hex in [FORMAT_0, FORMAT_1] {
        let found = import(&bytes(hex)).unwrap();
        assert_eq!((found.division, found.bars), (96, 1));
        assert_eq!(found.plan.build().unwrap().bar_time(2).micros(), 2_000_000);
        assert!(found.notes.is_empty());
    }
}

/// check-values 1.7: seconds at the bounds are 0, 2, 8, 11 and 21.666672 (two independent readers agree there).
#[test]
fn mixed_metres_and_tempos() {
    let found = import(&bytes(MIXED)).unwrap();
    let grid = found.plan.build().unwrap();
    let times = [1, 2, 5, 7, 11].map(|bar| grid.bar_time(bar).micros());
    assert_eq!(times, [0, 2_000_000, 8_000_000, 11_000_000, 21_666_672]);
    let names: Vec<_> = found.sections.iter().map(|s| (s.name.as_str(), s.bar)).collect();
    assert_eq!(names, [("Verse", 1), ("Bridge", 5)]);
    assert_eq!(found.bars, 10);
}

#[test]
fn the_strict_reader_agrees_with_the_standard() {
    let file = strict::read(&bytes(FORMAT_1));
    assert_eq!(file.tracks.iter().map(Vec::len).collect::<Vec<_>>(), [3, 4, 4, 6]);
    assert!(file.tracks.iter().all(|t| t.last().unwrap().tick == 384));
    assert!((strict::micros(&file, 384) - 2e6).abs() < 1e-9);
}

/// SMF 1.1, 1.3 and 2.2: alien chunks are skipped; without a tempo it is 120, without a metre 4/4.
#[test]
fn defaults_and_alien_chunks() {
    let plain = "4D 54 68 64 00 00 00 06 00 00 00 01 01 E0 58 59 5A 5A 00 00 00 02 01 02 4D 54 72 6B 00 00 00 05 BC 00 FF 2F 00";
    let found = import(&bytes(plain)).unwrap();
    assert_eq!(found.plan.build().unwrap().bar_time(2).micros(), 2_000_000);
    assert_eq!(found.plan.metres[0].metre.to_string(), "4/4");
}

#[test]
fn files_without_bars_are_refused_with_the_reason() {
    let head = |format: &str, division: &str| {
        bytes(&format!("4D 54 68 64 00 00 00 06 {format} 00 01 {division} 4D 54 72 6B 00 00 00 04 00 FF 2F 00"))
    };
    assert_eq!(import(&head("00 01", "E7 28")), Err(ImportError::Frames));
    assert_eq!(import(&head("00 01", "80 28")), Err(ImportError::Frames));
    assert_eq!(import(&head("00 02", "01 E0")), Err(ImportError::Patterns));
    assert_eq!(import(&head("00 01", "00 00")), Err(ImportError::NoDivision));
    assert!(matches!(import(b""), Err(ImportError::Broken(_))));
    assert!(matches!(import(b"RIFF"), Err(ImportError::Broken(_))));
}
