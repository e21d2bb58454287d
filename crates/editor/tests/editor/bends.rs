//! Bending a run with the keys that the screen shows: wait and resume, vamp and leave, fabric stays, second try, stuck, early, by hand, a band.

use crate::desk::{Desk, demo, shot};
use crate::run_desk::{Fake, before_release, first_lock, open, open_with, performing, stop_all, until};
use egui::Key;
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable as _;
use letfall_core::time::SongTime;
use letfall_editor::Editor;
use letfall_editor::rehearsal::choices::{Sign, choices, state};
use letfall_editor::rehearsal::{ReleaseStatus, Run};
use letfall_live::{Fate, Moves, ReleaseIndex};

fn run<'a>(harness: &'a Harness<'_, Editor>) -> &'a Run {
    harness.state().rehearsal.run.as_ref().unwrap()
}

fn press(harness: &mut Harness<'_, Editor>, key: Key) {
    harness.key_press(key);
    harness.run_steps(2);
}

/// Every choice has a key of its own, is shown with it, and says what will happen.
fn shown(harness: &Harness<'_, Editor>) -> Vec<String> {
    let all = choices(run(harness));
    let mut keys: Vec<Key> = all.iter().map(|choice| choice.key).collect();
    keys.sort_by_key(|key| key.name());
    keys.dedup();
    assert_eq!(keys.len(), all.len(), "two choices have one key: {all:?}");
    for choice in &all {
        assert!(choice.then.len() > 8, "{choice:?}");
        assert!(
            harness.query_by_label(&format!("{}: {}", choice.word, choice.then)).is_some(),
            "{choice:?} is not shown"
        );
    }
    all.iter().map(|choice| choice.word.clone()).collect()
}

fn start_at(harness: &mut Harness<'_, Editor>, bar: i32) {
    let at = harness.state().document.plan().unwrap().grid().bar_time(bar);
    harness.state_mut().document.playhead = at;
    harness.get_by_label("Start from the playhead").click();
    harness.run_steps(3);
    assert!(until(harness, |h| h.state().rehearsal.runs()));
}

#[test]
fn a_rehearsal_waits_and_goes_round_by_its_keys() {
    let (desk, fake) = (Desk::new(), Fake::default());
    let mut harness = open(&desk, &fake);
    start_at(&mut harness, 31);
    assert!(shown(&harness).iter().any(|word| word == "Wait"));
    let wait = choices(run(&harness)).into_iter().find(|choice| choice.word == "Wait").unwrap();
    assert!(wait.then.contains("bar 32"), "{wait:?}");
    press(&mut harness, Key::W);
    assert!(until(&mut harness, |h| run(h).place.moves == Moves::Waits));
    let (sign, words) = state(run(&harness));
    assert_eq!((sign, words.as_str()), (Sign::Waits, "WAITING at bar 32"));
    assert!(harness.query_by_label("WAITING at bar 32").is_some());
    assert!(
        harness.query_all_by_label_contains("after the wait").next().is_some(),
        "no time is counted down to what waits"
    );
    shot(&mut harness, "bend-waiting");
    // The release is less than two minutes ahead, so what is about people stands first.
    assert_eq!(shown(&harness), ["FABRIC STAYS", "EARLY", "RESUME", "By hand"]);
    press(&mut harness, Key::W);
    assert!(until(&mut harness, |h| run(h).place.moves == Moves::Runs));
    stop_all(&mut harness);
    // The page after it tells what was done, and offers to keep the wait as a mark: one step, which can be undone.
    harness.get_by_label("After the run: lateness, notes, what was measured").click();
    harness.run_steps(3);
    for words in ["wait, bar 32, by the desk", "time stood at bar 32", "went on at bar 32"] {
        assert!(harness.query_by_label(words).is_some(), "{words}");
    }
    shot(&mut harness, "bend-after");
    // The report of the performance holds it, until somebody wants the empty form.
    harness.get_by_label("Fill in the report of the performance").click();
    harness.run_steps(3);
    assert!(harness.query_by_label_contains("the report holds the run that began at").is_some());
    harness.get_by_label("Empty form").click();
    harness.run_steps(3);
    assert!(harness.query_by_label_contains("the report holds the run").is_none());
    harness.state_mut().screen = letfall_editor::Screen::Rehearse;
    harness.run_steps(3);
    let before = harness.state().document.show.services[1].song.bends.len();
    harness.get_by_label("Keep as marks on the song: wait at bar 32").click();
    harness.run_steps(3);
    assert_eq!(harness.state().document.show.services[1].song.bends.len(), before + 1);
    assert!(harness.query_by_label_contains("Keep as marks").is_none(), "it is kept");
    harness.get_by_label("Back to the board").click();
    harness.run_steps(2);
    // The planned vamp, bars 45 to 48.
    start_at(&mut harness, 47);
    assert!(until(&mut harness, |h| state(run(h)).0 == Sign::Vamp));
    assert!(shown(&harness).contains(&"Leave the vamp".to_owned()));
    assert!(until(&mut harness, |h| run(h).bends.round.is_some_and(|(_, _, round)| round == 2)));
    assert_eq!(state(run(&harness)).1, "VAMP  bars 45 to 48, round 2");
    shot(&mut harness, "bend-vamp");
    press(&mut harness, Key::B);
    assert!(until(&mut harness, |h| choices_bar(h) >= 49), "it went on with bar 49");
    assert_eq!(state(run(&harness)).0, Sign::Runs);
    stop_all(&mut harness);
}

fn choices_bar(harness: &Harness<'_, Editor>) -> i32 {
    letfall_editor::rehearsal::choices::bar_at(&run(harness).plan.grid, run(harness).song())
}

/// Nobody arms: the fabric stays, in large words. A second try is offered at a bar that is still possible.
#[test]
fn nobody_arms_and_the_board_says_that_the_fabric_stays() {
    let (desk, fake) = (Desk::new(), Fake::default());
    let mut harness = performing(&desk, &fake, 2.5);
    assert!(until(&mut harness, |h| run(h).bends.fate(ReleaseIndex(0)) == Fate::Stays));
    assert!(matches!(first_lock(&harness), ReleaseStatus::NotSent(_)));
    harness.run_steps(2);
    assert_eq!(state(run(&harness)), (Sign::Stays, "FABRIC STAYS  R1".to_owned()));
    assert!(harness.query_by_label("FABRIC STAYS  R1").is_some());
    let words = shown(&harness);
    assert!(words.contains(&"Second try".to_owned()) && words.contains(&"Fabric is down".to_owned()), "{words:?}");
    shot(&mut harness, "bend-stays");
    press(&mut harness, Key::Num2);
    assert!(until(&mut harness, |h| run(h).second_try.is_some()));
    assert_eq!(run(&harness).bends.fate(ReleaseIndex(0)), Fate::Open);
    stop_all(&mut harness);
}

/// Early: everything stops, and pictures wait for a key of their own.
#[test]
fn early_stops_everything_and_says_people_first() {
    let (desk, fake) = (Desk::new(), Fake::default());
    let mut harness = performing(&desk, &fake, 8.0);
    // The key is offered once it runs.
    assert!(until(&mut harness, |h| h.state().rehearsal.runs()));
    press(&mut harness, Key::E);
    assert!(until(&mut harness, |h| run(h).bends.fate(ReleaseIndex(0)) == Fate::Early && !run(h).runs()));
    harness.run_steps(3);
    assert_eq!(state(run(&harness)), (Sign::Early, "EARLY  R1: people first".to_owned()));
    assert_eq!(shown(&harness), ["Pictures"]);
    shot(&mut harness, "bend-early");
    // Working light has left, the blank picture has not.
    let light = |fake: &Fake| fake.sent.lock().unwrap().iter().any(|bytes| bytes.ends_with(&[0x39, 0x30, 0xf7]));
    let blank = |fake: &Fake| fake.sent.lock().unwrap().iter().filter(|bytes| bytes[..] == [0xc2, 0x00]).count();
    let before = blank(&fake);
    assert!(until(&mut harness, |_| light(&fake)), "{:02X?}", fake.sent.lock().unwrap());
    press(&mut harness, Key::N);
    assert!(until(&mut harness, |_| blank(&fake) == before + 1));
}

/// By hand: the next group is shown before it is sent.
#[test]
fn by_hand_the_next_group_is_shown_before_it_is_sent() {
    let (desk, fake) = (Desk::new(), Fake::default());
    let mut harness = open(&desk, &fake);
    start_at(&mut harness, 47);
    press(&mut harness, Key::H);
    assert!(until(&mut harness, |h| run(h).place.moves == Moves::ByHand && run(h).bends.next_group.is_some()));
    let next = choices(run(&harness)).into_iter().find(|choice| choice.word == "Next group").unwrap();
    assert!(next.then.contains("L8, M4") && next.then.contains("bar 49"), "{next:?}");
    shot(&mut harness, "bend-by-hand");
    let before = fake.sent.lock().unwrap().len();
    let group = run(&harness).bends.next_group;
    press(&mut harness, Key::N);
    assert!(until(&mut harness, |h| fake.sent.lock().unwrap().len() >= before + 2 && run(h).bends.next_group > group));
    let next = choices(run(&harness)).into_iter().find(|choice| choice.word == "Next group").unwrap();
    assert!(!next.then.contains("L8"), "{next:?}");
    stop_all(&mut harness);
}

/// A band that leads: one key says where it is, taps follow, and until they agree it says that it is not sure.
#[test]
fn a_band_is_followed_by_keys() {
    let (desk, fake) = (Desk::new(), Fake::default());
    let mut harness = open_with(demo(), &desk, &fake);
    harness.get_by_label_contains("A live band leads").click();
    harness.run_steps(2);
    start_at(&mut harness, 9);
    harness.run_steps(2);
    assert!(harness.query_by_label_contains("here is bar 9").is_some());
    // Until somebody says where the band is, nobody knows.
    assert!(until(&mut harness, |h| run(h).band.as_ref().is_some_and(|(_, words)| words.contains("NOBODY HAS SAID"))));
    assert_eq!(state(run(&harness)).0, Sign::Unsure);
    press(&mut harness, Key::J);
    assert!(until(&mut harness, |h| run(h).band.as_ref().is_some_and(|(_, words)| words.contains("tap on"))));
    assert_eq!(state(run(&harness)).0, Sign::Unsure);
    shot(&mut harness, "bend-unsure");
    let beat = 60.0 / 84.0;
    let begun = std::time::Instant::now();
    for n in 1..7 {
        let due = f64::from(n) * beat;
        assert!(until(&mut harness, |_| begun.elapsed().as_secs_f64() >= due));
        press(&mut harness, Key::T);
    }
    assert!(until(&mut harness, |h| state(run(h)).0 == Sign::Follows), "{:?}", run(&harness).band);
    shot(&mut harness, "bend-follows");
    // It stands with the song at a wait, and when it begins again, somebody says so on the downbeat: the song goes on.
    press(&mut harness, Key::W);
    assert!(until(&mut harness, |h| run(h).place.moves == Moves::Waits));
    assert!(run(&harness).band.is_none());
    let waits = run(&harness).place.song;
    press(&mut harness, Key::J);
    assert!(until(&mut harness, |h| run(h).place.moves == Moves::Runs));
    assert!(until(&mut harness, |h| run(h).band.as_ref().is_some_and(|(sure, _)| !sure)));
    let here = run(&harness).song();
    assert!((here - waits).abs() < letfall_core::time::SongSpan::from_millis(2000), "{here} after a wait at {waits}");
    // Without a band it goes on by itself, and nothing is locked.
    harness.get_by_label_contains("timecode, recording").click();
    harness.run_steps(3);
    harness.get_by_label_contains("A live band leads").click();
    harness.run_steps(3);
    assert!(run(&harness).runs() && run(&harness).band.is_none());
    stop_all(&mut harness);
    before_release(&mut harness, 3.0);
    assert!(harness.state().document.playhead > SongTime::ZERO);
}

/// A performance that starts late: cues at clock times move with the song, or keep their time of day, as was chosen before.
#[test]
fn cues_at_clock_times_move_or_keep_their_time_of_day() {
    let (desk, fake) = (Desk::new(), Fake::default());
    let mut show = demo();
    let at = SongTime::ZERO + letfall_core::time::SongSpan::from_millis(1_000_000);
    let label = {
        let service = &mut show.services[1];
        let label = service.cues.iter().find(|cue| cue.label.kind == letfall_core::show::Kind::Lighting).unwrap().label;
        let mut cue = service.cues.get(label).unwrap().clone();
        cue.at = letfall_core::show::Anchor::Clock(at);
        service.cues.put(vec![cue]);
        // Five minutes late by now.
        let now = letfall_platform::time_of_day() / 1_000_000;
        service.starts = Some(letfall_core::time::WallTime::from_secs(now - 300));
        label
    };
    let mut harness = open_with(show, &desk, &fake);
    assert!(harness.query_by_label_contains(&format!("Cues at clock times: {label}")).is_some());
    harness.get_by_label("Perform: a release is sent while it is held").click();
    harness.run_steps(3);
    for keep in [false, true] {
        harness.get_by_label(if keep { "keep their time of day" } else { "move with the song" }).click();
        harness.run_steps(3);
        shot(&mut harness, "late-start");
        start_at(&mut harness, 1);
        let lands = run(&harness).plan.prepared.row(label).unwrap().land;
        let earlier = (at - lands).secs_f64();
        let wanted = if keep { 300.0 } else { 0.0 };
        assert!((earlier - wanted).abs() < if keep { 60.0 } else { 0.001 }, "{earlier} s earlier, keep: {keep}");
        stop_all(&mut harness);
    }
}

/// Somebody lets go after a cue that depends on the release has left: the fabric stays, and the cue is named.
#[test]
fn what_has_left_already_is_named() {
    use letfall_core::show::{Anchor, Kind};
    let (desk, fake) = (Desk::new(), Fake::default());
    let mut show = demo();
    let plan = letfall_core::prepared::Prepared::hypothetical(std::sync::Arc::new(show.clone()), 1).unwrap();
    let release = plan.schedule().rows.iter().find(|row| row.label.kind == Kind::Release).unwrap().send;
    let service = &mut show.services[1];
    let label = service.cues.iter().find(|cue| cue.label.kind == Kind::Lighting).unwrap().label;
    let mut cue = service.cues.get(label).unwrap().clone();
    cue.at = Anchor::Clock(release - letfall_core::time::SongSpan::from_millis(700));
    service.cues.put(vec![cue]);
    show.releases[0].depends = vec![label];
    let mut harness = open_with(show, &desk, &fake);
    harness.get_by_label("Perform: a release is sent while it is held").click();
    harness.run_steps(3);
    "Robin".clone_into(&mut harness.state_mut().rehearsal.holder);
    before_release(&mut harness, 5.0);
    harness.get_by_label("Start from the playhead").click();
    harness.run_steps(3);
    harness.key_down(Key::A);
    let past = |h: &Harness<'_, Editor>| release - run(h).song() < letfall_core::time::SongSpan::from_millis(550);
    assert!(until(&mut harness, past));
    assert!(crate::run_desk::armed(&harness));
    harness.key_up(Key::A);
    assert!(until(&mut harness, |h| run(h).bends.fate(ReleaseIndex(0)) == Fate::Stays));
    harness.run_steps(2);
    let (line, warns) = run(&harness).release_line.clone().unwrap();
    assert!(warns && line.ends_with(&format!("FABRIC STAYS. Had left already: {label}")), "{line}");
    stop_all(&mut harness);
}
