//! Click and timecode as samples.

use letfall_core::prepared::Prepared;
use letfall_core::show::{Service, Show, Song};
use letfall_core::time::{BarBeat, FrameRate, GridPlan, Metre, SongSpan, SongTime, Tempo, Timecode};
use letfall_export::audio::{AudioError, ClickOptions, TimecodeOptions, click, timecode};
use std::io::Cursor;
use std::sync::Arc;

fn prepared(song: Song) -> Arc<Prepared> {
    let mut show = Show::empty("Sounds");
    show.services.push(Service::new("A", song));
    Prepared::hypothetical(Arc::new(show), 0).unwrap()
}

fn service(plan: GridPlan, bars: u32) -> Arc<Prepared> {
    prepared(Song::new("Song".into(), bars, plan))
}

fn steady(bpm: f64) -> GridPlan {
    GridPlan::steady(Metre::common(), Tempo::quarters_per_minute(bpm).unwrap())
}

fn samples(bytes: Vec<u8>) -> Vec<i16> {
    hound::WavReader::new(Cursor::new(bytes)).unwrap().into_samples::<i16>().map(Result::unwrap).collect()
}

#[test]
fn every_click_begins_on_the_sample_nearest_its_beat() {
    for (bpm, rate) in [(97.0, 48_000), (133.7, 44_100), (60.0, 8_000)] {
        let service = service(steady(bpm), 40);
        let mut to = Cursor::new(Vec::new());
        let options = ClickOptions { sample_rate: rate, section_pips: false };
        let written = click(&service, options, &mut to).unwrap();
        let all = samples(to.into_inner());
        assert_eq!(all.len() as u64, written.samples);
        let grid = service.grid();
        // A burst is loudest at its first sample and over after 30 ms.
        let quiet = rate as usize / 25;
        let onsets: Vec<usize> = (0..all.len())
            .filter(|n| {
                all[*n].unsigned_abs() > 15_000
                    && all[n.saturating_sub(quiet)..*n].iter().all(|s| s.unsigned_abs() < 2000)
            })
            .collect();
        let beats: Vec<f64> = (-1..=40)
            .flat_map(|bar| (1..=4).map(move |beat| BarBeat { bar, beat, tick: 0 }))
            .map(|place| (grid.time_at(grid.tick_of(place)) - written.starts_at).secs_f64() * f64::from(rate))
            .collect();
        assert_eq!(onsets.len(), beats.len());
        for (got, want) in onsets.iter().zip(&beats) {
            assert!((*got as f64 - want).abs() <= 0.51, "{bpm} at {rate}: {got} where {want} is due");
        }
        // Bar lines are louder than the other beats.
        let level = |n: usize| all[onsets[n]];
        assert!(level(0) > level(1) && level(4) > level(5) && level(1) == level(2));
    }
}

#[test]
fn timecode_is_silent_until_its_first_frame_line_and_song_time_0_is_one() {
    for rate in [FrameRate::F24, FrameRate::F25, FrameRate::F2997Drop, FrameRate::F30] {
        let start = Timecode::parse("10:00:00:00", rate).unwrap();
        let mut to = Cursor::new(Vec::new());
        let written = timecode(&service(steady(97.0), 8), TimecodeOptions::new(start), &mut to).unwrap();
        let (num, den) = rate.frame_micros();
        let frame = num as f64 / den as f64 * 48_000.0 / 1e6;
        let all = samples(to.into_inner());
        // The wave begins on a frame line, counted from song time 0, with less than a frame of silence before it.
        let begins = all.iter().position(|s| *s != 0).unwrap();
        let zero = (SongTime::ZERO - written.starts_at).micros() as f64 * 48_000.0 / 1e6;
        let frames = (zero - begins as f64) / frame;
        assert!(
            (frames - libm::round(frames)).abs() * frame < 2.0 && frames > 0.0,
            "{rate:?}: {frames} frames before 0"
        );
        assert!((begins as f64) < frame + 2.0, "{rate:?}: silent for {begins} samples");
        // Never more than half of full scale, and every sample is at one of the two levels or on an edge.
        let peak = all.iter().map(|s| s.unsigned_abs()).max().unwrap();
        assert_eq!(peak, 16_384);
        let crossing = all[begins..].iter().filter(|s| s.unsigned_abs() < 16_000).count();
        assert!(crossing < all.len() / 8, "{crossing} of {} samples are on an edge", all.len());
    }
}

/// MIDI file, click and timecode of a service are started together, so they begin at one instant: a bar line, before the count-in and
/// before anything that has to be sent.
#[test]
fn all_files_of_a_service_begin_at_one_instant() {
    use letfall_core::time::{Metre, MetreMark, TickSpan};
    let mut picked_up = steady(97.0);
    let metre: Metre = "4/4".parse().unwrap();
    picked_up.metres = vec![MetreMark { bar: 1, metre, cut: Some(TickSpan::new(960)) }];
    let mut led_in = steady(133.0);
    led_in.origin = SongTime::saturating(7_000_000);
    for (what, grid) in [("steady", steady(97.0)), ("pick-up", picked_up), ("lead-in", led_in)] {
        let service = service(grid, 12);
        let midi = letfall_export::midi::write(&service, letfall_export::midi::MidiOptions::default()).unwrap();
        let click = click(&service, ClickOptions::default(), Cursor::new(Vec::new())).unwrap();
        let start = Timecode::parse("10:00:00:00", FrameRate::F25).unwrap();
        let code = timecode(&service, TimecodeOptions::new(start), Cursor::new(Vec::new())).unwrap();
        assert_eq!([midi.starts_at; 2], [click.starts_at, code.starts_at], "{what}");
        let grid = service.grid();
        let bar = grid.place_of(grid.tick_at(click.starts_at));
        assert_eq!((bar.beat, bar.tick), (1, 0), "{what}");
        assert!(bar.bar <= -1 && click.starts_at <= SongTime::ZERO, "{what}: bar {}", bar.bar);
    }
}

/// A pick-up bar is short, and the count-in before it is not: two bars of 4/4 at 120 are 4 s.
#[test]
fn a_pick_up_bar_does_not_shorten_the_count_in() {
    use letfall_core::time::{Metre, MetreMark, TickSpan};
    let mut grid = steady(120.0);
    let metre: Metre = "4/4".parse().unwrap();
    grid.metres = vec![MetreMark { bar: 1, metre, cut: Some(TickSpan::new(960)) }];
    let service = service(grid, 12);
    let grid = service.grid();
    let millis = |bar| grid.bar_time(bar).micros() / 1000;
    assert_eq!([-1, 0, 1, 2, 3].map(millis), [-4000, -2000, 0, 500, 2500]);
    // Beats are counted through: four in each bar of the count-in, one in the pick-up.
    assert_eq!(
        [(-1, 1), (0, 1), (0, 4), (1, 1), (2, 1)].map(|(bar, beat)| grid.beat_index(bar, beat)),
        [-8, -4, -1, 0, 1]
    );
    for index in -9..20 {
        let (bar, beat) = grid.beat_place(index);
        assert_eq!(grid.beat_index(bar, beat), index);
    }
    // The file's metres: 4/4 from its start, a bar of 1/4, 4/4 again.
    let file = letfall_export::midi::write(&service, letfall_export::midi::MidiOptions::default()).unwrap();
    let read = midly::Smf::parse(&file.bytes).unwrap();
    let mut tick = 0;
    let mut metres = Vec::new();
    for event in &read.tracks[0] {
        tick += event.delta.as_int();
        if let midly::TrackEventKind::Meta(midly::MetaMessage::TimeSignature(over, under, ..)) = event.kind {
            metres.push((tick, over, 1u32 << under));
        }
    }
    assert_eq!(metres, [(0, 4, 4), (7680, 1, 4), (8640, 4, 4)]);
}

#[test]
fn what_no_file_can_hold_is_refused() {
    let too_long = service(steady(10.0), 2_000);
    let mut to = Cursor::new(Vec::new());
    assert!(matches!(click(&too_long, ClickOptions::default(), &mut to), Err(AudioError::TooLong)));
    let options = ClickOptions { sample_rate: 100, ..ClickOptions::default() };
    assert!(matches!(click(&service(steady(100.0), 4), options, &mut to), Err(AudioError::Rate(100))));
    assert!(to.into_inner().is_empty(), "nothing was written");
}

#[test]
fn section_pips_come_before_their_section() {
    let sections = serde_json::from_value(serde_json::json!([
        {"name": "A", "bar": 1, "bars": 8}, {"name": "B", "bar": 9, "bars": 8}
    ]))
    .unwrap();
    let service = prepared(Song { sections, ..Song::new("Song".into(), 16, steady(120.0)) });
    let make = |section_pips| {
        let mut to = Cursor::new(Vec::new());
        click(&service, ClickOptions { section_pips, ..ClickOptions::default() }, &mut to).unwrap();
        samples(to.into_inner())
    };
    let (plain, with) = (make(false), make(true));
    let differ: Vec<usize> = (0..plain.len()).filter(|n| plain[*n] != with[*n]).collect();
    // Bar 9 is 16 s into the song, after 4 s of count-in; the pips are half a beat and a quarter beat before.
    let secs = |n: usize| SongSpan::from_micros(i64::try_from(n).unwrap() * 1_000_000 / 48_000).secs_f64();
    assert!((secs(differ[0]) - 19.75).abs() < 1e-3 && secs(*differ.last().unwrap()) < 20.0);
}

/// RIFF: a WAV file's chunks follow one another to the end that its head gives, and one of them, LIST of type INFO, says which plan the
/// file is of and where bar 1 is. (Multimedia Programming Interface and Data Specifications 1.0, from memory.)
#[test]
fn a_sound_file_says_which_plan_it_is_of() {
    let service = service(steady(100.0), 2);
    let mut to = Cursor::new(Vec::new());
    click(&service, ClickOptions { sample_rate: 8000, section_pips: false }, &mut to).unwrap();
    let bytes = to.into_inner();
    let long = |at: usize| u32::from_le_bytes(bytes[at..at + 4].try_into().unwrap()) as usize;
    assert_eq!((&bytes[..4], &bytes[8..12], long(4) + 8), (&b"RIFF"[..], &b"WAVE"[..], bytes.len()));
    let mut chunks = std::collections::BTreeMap::new();
    let mut at = 12;
    while at < bytes.len() {
        let id = String::from_utf8(bytes[at..at + 4].to_vec()).unwrap();
        let length = long(at + 4);
        chunks.insert(id, &bytes[at + 8..at + 8 + length]);
        at += 8 + length + length % 2;
    }
    assert_eq!(at, bytes.len());
    assert_eq!(chunks.keys().collect::<Vec<_>>(), ["LIST", "data", "fmt "]);
    let list = chunks["LIST"];
    assert_eq!(&list[..4], b"INFO");
    let said = String::from_utf8_lossy(list);
    let print = letfall_export::fingerprints::of_click(&service, false).to_string();
    assert!(
        said.contains(&print) && said.contains("bar 1 of the song is bar 3 of this file, 4.800 s after its start"),
        "{said}"
    );
    // Another sample rate says the same.
    let mut other = Cursor::new(Vec::new());
    click(&service, ClickOptions { sample_rate: 48_000, section_pips: false }, &mut other).unwrap();
    assert!(String::from_utf8_lossy(&other.into_inner()).contains(&print));
}
