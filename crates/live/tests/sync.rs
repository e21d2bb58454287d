//! MIDI time code, MIDI clock and following them, against published values (check-values 2 and 5: MIDI 1.0 detailed
//! specification; MIDI time code, RP-004/008).

#![allow(clippy::unwrap_used, missing_docs)]

mod made_up;

use letfall_core::midi::{quarter_frame, song_position};
use letfall_core::time::{FrameRate, Timecode};
use letfall_live::{Follow, Follower, FollowerEvent, ShowPort, SyncPlan};
use made_up::{Desk, at, plan, show};

/// Runs from a song time for a while and returns everything that left, with song times. Timecode is confirmed as safe on all
/// ports.
fn run(sync: SyncPlan, from: i64, length: i64) -> Vec<(i64, u16, Vec<u8>)> {
    let mut show = show();
    for port in &mut show.ports {
        port.sync_confirmed_by = "the electrician".into();
    }
    let mut desk = Desk::new(&plan(&show), sync);
    desk.start(from, false);
    let begin = desk.now - from;
    desk.run_to(begin + from + length, None);
    desk.sent().into_iter().map(|(at, port, bytes)| (at - begin, port, bytes)).collect()
}

/// The MIDI time code document's own example: 01:37:52:16 at 30 frames, non-drop.
#[test]
fn quarter_frames_as_published() {
    let time = Timecode::parse("01:37:52:16", FrameRate::F30).unwrap();
    let all: Vec<[u8; 2]> = (0..8).map(|piece| quarter_frame(time, piece)).collect();
    let published = [
        [0xf1, 0x00],
        [0xf1, 0x11],
        [0xf1, 0x24],
        [0xf1, 0x33],
        [0xf1, 0x45],
        [0xf1, 0x52],
        [0xf1, 0x61],
        [0xf1, 0x76],
    ];
    assert_eq!(all, published);
    assert_eq!(song_position(10), [0xf2, 0x0a, 0x00]);
    assert_eq!(song_position(1000), [0xf2, 0x68, 0x07]);
}

/// A full frame comes first. Then four quarter frames leave per frame, and each set of eight gives the time at which it began.
#[test]
fn time_code_runs_with_the_song() {
    let sent = run(SyncPlan { timecode: vec![ShowPort(1)], clock: Vec::new() }, 7_000_000, 4_000_000);
    let full = sent.iter().find(|s| s.2[0] == 0xf0 && s.2[1] == 0x7f && s.2[3] == 0x01).unwrap();
    // Song time 0 is 10:00:00:00 at 25 frames: rate code 1 in bits 5 and 6 of the hours.
    assert_eq!(full.2, [0xf0, 0x7f, 0x7f, 0x01, 0x01, 0x20 | 0x0a, 0, 7, 0, 0xf7]);
    let frames: Vec<&(i64, u16, Vec<u8>)> = sent.iter().filter(|s| s.2[0] == 0xf1).collect();
    assert!(frames.len() >= 390 && frames.iter().all(|f| f.1 == 1));
    assert_eq!(frames[0].2[1] >> 4, 0);
    for (at, frame) in frames.iter().enumerate() {
        assert_eq!(usize::from(frame.2[1] >> 4), at % 8);
        assert_eq!(frame.0 - frames[0].0, i64::try_from(at).unwrap() * 10_000);
    }
    for set in frames.chunks_exact(8) {
        let field = |k: usize| (set[2 * k].2[1] & 15) | (set[2 * k + 1].2[1] & 15) << 4;
        let [f, s, m, h] = [0, 1, 2, 3].map(field);
        let said = Timecode::parse(&format!("{:02}:{m:02}:{s:02}:{f:02}", h & 31), FrameRate::F25).unwrap();
        let zero = Timecode::parse("10:00:00:00", FrameRate::F25).unwrap();
        assert_eq!((said.frames() - zero.frames()) * 40_000, set[0].0);
        assert_eq!(h >> 5, 1);
    }
}

/// 24 clocks per quarter, placed by the grid, from the sixteenth that the song position names.
#[test]
fn clock_runs_with_the_grid() {
    let show = show();
    let plan = plan(&show);
    let from = plan.grid.bar_time(33).micros() - 3_000_000;
    let sent = run(SyncPlan { timecode: Vec::new(), clock: vec![ShowPort(0)] }, from, 9_000_000);
    let pointer = sent.iter().find(|s| s.2[0] == 0xf2).unwrap();
    let sixteenth = i64::from(pointer.2[1]) | i64::from(pointer.2[2]) << 7;
    assert!(sent.iter().any(|s| s.2 == [0xfb]) && !sent.iter().any(|s| s.2 == [0xfa]));
    let clocks: Vec<i64> = sent.iter().filter(|s| s.2 == [0xf8]).map(|s| s.0).collect();
    assert!(clocks.len() > 200);
    for (at, when) in (0i64..).zip(&clocks) {
        let tick = letfall_core::time::Tick::new((sixteenth * 6 + at) * 40);
        assert_eq!(*when, plan.grid.time_at(tick).micros());
    }
    // From the song's beginning, Start is sent.
    let sent = run(SyncPlan { timecode: Vec::new(), clock: vec![ShowPort(0)] }, 0, 1_000_000);
    assert!(sent.iter().any(|s| s.2 == [0xfa]) && sent.iter().any(|s| s.2 == [0xf2, 0, 0]));
}

/// The last clock is the last one that the song has room for, and then Stop is sent (MIDI 1.0, system real time).
#[test]
fn the_clock_ends_with_the_song() {
    let plan = plan(&show());
    let end = plan.end.micros();
    let sent = run(SyncPlan { timecode: Vec::new(), clock: vec![ShowPort(0)] }, end - 2_000_000, 3_000_000);
    let clocks: Vec<i64> = sent.iter().filter(|s| s.2 == [0xf8]).map(|s| s.0).collect();
    let due = |number: i64| plan.grid.time_at(letfall_core::time::Tick::new(number * 40)).micros();
    let last = (0..1_000_000).take_while(|number| due(*number) <= end).last().unwrap();
    assert_eq!(clocks.last(), Some(&due(last)));
    assert_eq!(clocks.first(), (0..1_000_000).map(due).find(|when| *when >= end - 2_000_000).as_ref());
    let stops: Vec<i64> = sent.iter().filter(|s| s.2 == [0xfc]).map(|s| s.0).collect();
    assert_eq!(stops.len(), 1);
    assert!(stops[0] >= due(last));
}

/// One Letfall can follow another: exact to a frame by time code, and to a clock by MIDI clock.
#[test]
fn what_is_sent_can_be_followed() {
    let show = show();
    let plan = plan(&show);
    for (sync, follow, off) in [
        (SyncPlan { timecode: vec![ShowPort(0)], clock: Vec::new() }, Follow::Timecode, 1_000),
        (SyncPlan { timecode: Vec::new(), clock: vec![ShowPort(0)] }, Follow::Clock, 1_000),
    ] {
        let mut follower = Follower::new(follow, plan.grid.clone(), plan.timecode);
        let (mut started, mut heard) = (false, 0);
        for (when, _, bytes) in run(sync, 20_000_000, 6_000_000) {
            match follower.hear(&bytes, at(when)) {
                Some(FollowerEvent::Start(song)) => {
                    started = true;
                    assert!((song.micros() - when).abs() <= off, "{song} at {when}");
                }
                Some(FollowerEvent::At(song)) => {
                    heard += 1;
                    assert!((song.micros() - when).abs() <= off, "{song} at {when}");
                }
                _ => {}
            }
        }
        assert!(started && heard > 20, "{follow:?}");
        assert!(follower.is_silent(at(40_000_000)) && !follower.is_silent(at(41_000_000)));
    }
}

/// The specification's own example: after song position 4, Continue and clocks up to three further on, the place is clock 27.
#[test]
fn continue_goes_on_from_the_song_position() {
    let show = show();
    let plan = plan(&show);
    let mut follower = Follower::new(Follow::Clock, plan.grid.clone(), None);
    follower.hear(&[0xf2, 4, 0], at(0));
    follower.hear(&[0xfb], at(0));
    let mut last = None;
    for k in 0..4 {
        last = follower.hear(&[0xf8], at(k * 20_000));
    }
    let place = plan.grid.time_at(letfall_core::time::Tick::new(27 * 40));
    assert_eq!(last, Some(FollowerEvent::At(place)));
    assert_eq!(follower.hear(&[0xfc], at(100_000)), Some(FollowerEvent::Stop));
}

/// Timecode that runs backwards, repeats the same time or repeats pieces gives no place. After half a second of it, it counts
/// as silence.
#[test]
fn timecode_that_says_no_place_is_silence() {
    let show = show();
    let plan = plan(&show);
    let zero = Timecode::parse("10:00:00:00", FrameRate::F25).unwrap();
    // Quarter frames at 25 frames per second, one every 10 ms, numbered in different ways.
    let frames = |number: i64| {
        quarter_frame(
            Timecode::from_frames(zero.frames() + number.div_euclid(8) * 2, FrameRate::F25),
            u8::try_from(number.rem_euclid(8)).unwrap(),
        )
    };
    for (what, number) in [
        ("backwards", Box::new(|k: i64| 800 - k) as Box<dyn Fn(i64) -> i64>),
        ("standing", Box::new(|k: i64| 400 + k.rem_euclid(8))),
        ("each piece twice", Box::new(|k: i64| 400 + k / 2)),
    ] {
        let mut follower = Follower::new(Follow::Timecode, plan.grid.clone(), Some(zero));
        let mut now = 0;
        for k in 0..400 {
            follower.hear(&frames(k), at(now));
            now += 10_000;
        }
        assert!(!follower.is_silent(at(now)), "{what}: it runs so far");
        let mut places = Vec::new();
        for k in 0..45 {
            places.extend(follower.hear(&frames(number(k)), at(now)));
            now += 10_000;
        }
        // One set of eight may still be complete.
        assert!(places.len() <= 1, "{what}: {places:?}");
        for k in 45..70 {
            places.extend(follower.hear(&frames(number(k)), at(now)));
            now += 10_000;
        }
        assert!(places.len() <= 1 && follower.is_silent(at(now)), "{what}: {places:?}");
    }
}
