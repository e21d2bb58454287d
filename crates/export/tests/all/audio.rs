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
    prepared(Song { title: "Song".into(), bars, grid: plan, sections: Vec::new(), guide: None })
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
        let options = ClickOptions { sample_rate: rate, count_in_bars: 1, section_pips: false };
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
        let beats: Vec<f64> = (0..=40)
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
fn timecode_begins_on_a_frame_line_and_song_time_0_is_one() {
    for rate in [FrameRate::F24, FrameRate::F25, FrameRate::F2997Drop, FrameRate::F30] {
        let start = Timecode::parse("10:00:00:00", rate).unwrap();
        let mut to = Cursor::new(Vec::new());
        let written = timecode(&service(steady(97.0), 8), TimecodeOptions::new(start), &mut to).unwrap();
        let (num, den) = rate.frame_micros();
        let frames = (SongTime::ZERO - written.starts_at).micros() as f64 * den as f64 / num as f64;
        assert!((frames - libm::round(frames)).abs() < 1e-4 && frames > 0.0, "{rate:?}: {frames} frames of count-in");
        let all = samples(to.into_inner());
        // Never more than half of full scale, and every sample is at one of the two levels or on an edge.
        let peak = all.iter().map(|s| s.unsigned_abs()).max().unwrap();
        assert_eq!(peak, 16_384);
        let crossing = all.iter().filter(|s| s.unsigned_abs() < 16_000).count();
        assert!(crossing < all.len() / 8, "{crossing} of {} samples are on an edge", all.len());
    }
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
    let service = prepared(Song { title: "Song".into(), bars: 16, grid: steady(120.0), sections, guide: None });
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
