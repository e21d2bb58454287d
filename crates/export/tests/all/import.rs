//! Untidy tempo maps, as real files have them.

use letfall_export::midi::import;

/// A format 0 file of `division` ticks a quarter with these (delta, meta bytes).
fn file(division: u16, events: &[(u32, &[u8])]) -> Vec<u8> {
    let mut track = Vec::new();
    for (delta, bytes) in events {
        let mut groups = vec![(delta & 0x7f) as u8];
        let mut rest = delta >> 7;
        while rest > 0 {
            groups.push((rest & 0x7f) as u8 | 0x80);
            rest >>= 7;
        }
        groups.reverse();
        track.extend(groups);
        track.extend(*bytes);
    }
    let mut out = b"MThd\0\0\0\x06\0\0\0\x01".to_vec();
    out.extend(division.to_be_bytes());
    out.extend(b"MTrk");
    out.extend(u32::try_from(track.len()).unwrap().to_be_bytes());
    out.extend(track);
    out
}

const END: &[u8] = &[0xff, 0x2f, 0];

#[test]
fn a_metre_in_mid_bar_cuts_the_bar() {
    let six = [0xff, 0x58, 4, 6, 3, 36, 8];
    let found = import(&file(480, &[(480 * 6, &six), (480 * 6, END)])).unwrap();
    let grid = found.plan.build().unwrap();
    // One bar of 4/4, one cut to two quarters, two of 6/8.
    assert_eq!([1, 2, 3, 4, 5].map(|bar| grid.bar_tick(bar).get()), [0, 3840, 5760, 8640, 11_520]);
    assert_eq!(found.bars, 4);
    assert_eq!(grid.beats_in(2), 2);
}

#[test]
fn ticks_that_do_not_fall_on_ours_do_not_add_up() {
    // 1000 ticks a quarter; a tempo change every 333 ticks: none falls on our 1/960.
    let mut events: Vec<(u32, Vec<u8>)> = (0..3000u32)
        .map(|n| (if n == 0 { 0 } else { 333 }, vec![0xff, 0x51, 3, 7, (0xa1 + n % 40) as u8, (n % 256) as u8]))
        .collect();
    events.push((333, END.to_vec()));
    let borrowed: Vec<(u32, &[u8])> = events.iter().map(|(d, b)| (*d, b.as_slice())).collect();
    let grid = import(&file(1000, &borrowed)).unwrap().plan.build().unwrap();
    // The file's own clock, exactly.
    let mut worst: f64 = 0.0;
    for bar in 1..=240 {
        let tick = u64::from(4000 * (bar - 1) as u32);
        let micros: u64 = (0..3000u64)
            .map(|n| {
                let us = 7 << 16 | (0xa1 + n % 40) << 8 | (n % 256);
                let from = n * 333;
                us * tick.saturating_sub(from).min(if n == 2999 { u64::MAX } else { 333 })
            })
            .sum();
        worst = worst.max((grid.micros_at(grid.bar_tick(bar)) - micros as f64 / 1000.0).abs());
    }
    assert!(worst < 20.0, "{worst} µs off");
}

#[test]
fn what_cannot_be_taken_is_told() {
    let nonsense = [0xff, 0x58, 4, 0, 2, 24, 8];
    let found = import(&file(480, &[(0, &nonsense), (1920, END)])).unwrap();
    assert_eq!(found.notes.len(), 1);
    let fast = [0xff, 0x51, 3, 0, 0, 1];
    let why = import(&file(480, &[(0, &fast), (1920, END)])).unwrap_err().to_string();
    assert!(why.contains("tick 0") && why.contains("1 µs"), "{why}");
    // A track that breaks off still gives the events before the break.
    let mut cut = file(480, &[(0, &[0xff, 0x51, 3, 7, 0xa1, 0x20]), (1920, END)]);
    cut.truncate(cut.len() - 3);
    assert!(import(&cut).is_ok_and(|f| !f.notes.is_empty()));
}

/// 6/8 with 36 clocks a click counts two, with 12 counts six (SMF 1.1, FF 58: the spec's own 6/8 example has 24 hex).
#[test]
fn clocks_say_how_a_bar_is_counted() {
    for (clocks, beats) in [(36, 2), (12, 6), (24, 2)] {
        let metre = [0xff, 0x58, 4, 6, 3, clocks, 8];
        let found = import(&file(480, &[(0, &metre), (1920, END)])).unwrap();
        assert_eq!(found.plan.metres[0].metre.beats(), beats, "{clocks}");
    }
}

/// A marker's name as bytes, in a file of two bars, and what was noted.
fn marker(name: &[u8]) -> (String, Vec<String>) {
    let event = [&[0xff, 0x06, u8::try_from(name.len()).unwrap()][..], name].concat();
    let found = import(&file(480, &[(0, &event), (480 * 8, END)])).unwrap();
    (found.sections[0].name.clone(), found.notes)
}

/// RP-001 leaves the encoding of texts open ("ASCII, but other codes are possible"), so files come in all of these.
#[test]
fn names_of_markers_in_other_encodings_are_read_and_told() {
    // The bytes are those that Python gives for "Père".encode("utf-8"), "utf-16" (both orders) and "cp1252".
    assert_eq!(marker(b"P\xc3\xa8re"), ("Père".into(), vec![]));
    assert_eq!(marker(b"\xff\xfeP\0\xe8\0r\0e\0"), ("Père".into(), vec![]));
    assert_eq!(marker(b"\xfe\xff\0P\0\xe8\0r\0e"), ("Père".into(), vec![]));
    let (name, notes) = marker(b"P\xe8re \x96 2");
    assert_eq!(name, "Père – 2");
    assert!(notes[0].contains("Windows-1252") && notes[0].contains("Père – 2"), "{notes:?}");
    // What stands round a name is no part of it.
    for bytes in [&b"Verse\r\n"[..], b"Verse\0", b"  Verse ", b"\xef\xbb\xbfVerse\n"] {
        assert_eq!(marker(bytes), ("Verse".into(), vec![]), "{bytes:?}");
    }
    assert_eq!(marker(b"Verse\nOne").0, "Verse One");
    assert_eq!(marker(b"\0\n ").0, "Marker 1", "a section needs a name");
    // Half a character of UTF-16 is told.
    assert!(marker(b"\xff\xfeP\0\xe8").1[0].contains("cannot be read in full"));
}
