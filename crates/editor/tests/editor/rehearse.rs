//! The Rehearse screen, with fake ports.

use crate::desk::{Desk, demo, harness};
use crate::run_desk::{Fake, before_release, look, look_whole, open, open_with, stop_all, until};
use egui::accesskit::Role;
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable as _;
use letfall_core::time::SongTime;
use letfall_editor::{Editor, Screen};
use std::thread;
use std::time::Duration;

#[test]
fn a_rehearsal_from_start_to_stop() {
    let (desk, fake) = (Desk::new(), Fake::default());
    let mut harness = open(&desk, &fake);
    harness.get_by_label("STOPPED");
    before_release(&mut harness, 1.0);
    let from = harness.state().document.playhead;
    harness.get_by_label("Start from the playhead").click();
    assert!(until(&mut harness, |h| h.state().rehearsal.runs()));
    harness.get_by_label("REHEARSING: stand-ins only");
    assert!(until(&mut harness, |h| h.query_all_by_label_contains("R1 stand-in sent").count() > 0));
    assert!(harness.state().document.playhead > from);
    // A single key stops everything.
    stop_all(&mut harness);
    let release = fake.sent.lock().unwrap().iter().any(|b| *b == [0x9f, 60, 127]);
    assert!(!release, "a release left in a rehearsal");
}

#[test]
fn what_was_timed_is_one_edit_with_its_leads() {
    let (desk, fake) = (Desk::new(), Fake::default());
    let mut harness = open(&desk, &fake);
    harness.get_by_label_contains("After the run").click();
    harness.run_steps(3);
    let before = (*harness.state().document.show).clone();
    let name = format!("Drop of {}, s", before.hangs[0].name);
    harness.get_by_label(&name).focus();
    harness.run_steps(1);
    harness.get_by_label(&name).type_text("0.91");
    harness.run_steps(2);
    let delay = format!("Delay of {}, ms", before.receivers[0].name);
    harness.get_by_label(&delay).focus();
    harness.run_steps(1);
    harness.get_by_label(&delay).type_text("33");
    harness.run_steps(3);
    harness.get_by_label("Leads, before and after");
    assert!(harness.get_all_by_label_contains("its message leaves").count() > 0);
    harness.get_by_label("Take all this into the show").click();
    harness.run_steps(3);
    let after = &harness.state().document.show;
    assert_eq!(after.hangs[0].measured.len(), before.hangs[0].measured.len() + 1);
    assert_eq!(after.receivers[0].latency.mean.micros(), 33_000);
    harness.state_mut().document.undo();
    assert_eq!(*harness.state().document.show, before);
}

#[test]
fn pads_become_cues() {
    let (desk, fake) = (Desk::new(), Fake::default());
    let mut harness = open(&desk, &fake);
    harness.get_by_label("What is struck becomes cues when the run stops").click();
    harness.run_steps(2);
    harness.get_by_label("on eighths").click();
    harness.get_by_label("Listen to").click();
    harness.run_steps(3);
    harness.get_by_label("Pads").click();
    harness.run_steps(3);
    let count = harness.state().document.current().unwrap().cues.len();
    harness.state_mut().document.playhead = SongTime::ZERO;
    harness.get_by_label("Start from the playhead").click();
    assert!(until(&mut harness, |h| h.state().rehearsal.runs()));
    for _ in 0..3 {
        thread::sleep(Duration::from_millis(400));
        if let Some(heard) = fake.heard.lock().unwrap().as_mut() {
            heard(&[0x90, 36, 100]);
        }
        harness.run_steps(1);
    }
    stop_all(&mut harness);
    harness.run_steps(3);
    assert_eq!(harness.state().document.current().unwrap().cues.len(), count + 3);
    harness.state_mut().document.undo();
    assert_eq!(harness.state().document.current().unwrap().cues.len(), count);
}

/// Two of the show's ports are connected to the same port of the machine, and a preset uses the release's message on the second
/// one. This is reported before the run, and the preset is not sent.
#[test]
fn what_would_let_a_fabric_go_by_these_ports_is_said() {
    let (desk, fake) = (Desk::new(), Fake::default());
    let mut show = demo();
    let message = show.releases[0].message.clone();
    let mut apart = show.receiver(&show.releases[0].receiver).unwrap().clone();
    let other = show.ports.iter().find(|p| p.key != apart.port).unwrap().clone();
    (apart.key, apart.port) = ("apart".parse().unwrap(), other.key.clone());
    for preset in &mut show.presets {
        (preset.receiver, preset.message) = (apart.key.clone(), message.clone());
    }
    show.receivers.push(apart);
    let mut harness = open_with(show, &desk, &fake);
    let said =
        |h: &Harness<'_, Editor>| h.query_all_by_label_contains("By these ports it might let a fabric go").count();
    harness.get_by_label("Start from the playhead").click();
    assert!(until(&mut harness, |h| h.state().rehearsal.runs()));
    assert_eq!(said(&harness), 0);
    stop_all(&mut harness);
    let boxes = |h: &mut Harness<'_, Editor>| h.get_by_role_and_label(Role::ComboBox, &other.name).click();
    boxes(&mut harness);
    harness.run_steps(3);
    let wrong = if other.name.contains("Playback") { "Stage left MIDI out" } else { "Playback MIDI out" };
    harness.get_by_role_and_label(Role::Button, wrong).click();
    let there = format!("OK  {}: \"{wrong}\" is there", other.name);
    assert!(until(&mut harness, |h| h.query_by_label(&there).is_some()));
    harness.get_by_label("Start from the playhead").click();
    let told = "NOT SENT: it might let a fabric go";
    assert!(until(&mut harness, |h| h.query_all_by_label_contains(told).count() > 0));
    look(&mut harness, "held-back");
    assert!(said(&harness) > 0);
}

/// The small demo show in its own folder, so that its guide is found; high enough for the whole panel.
fn opener(desk: &Desk) -> (Harness<'static, Editor>, letfall_core::show::Show) {
    let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../../demo-shows/first-opener.letfall");
    let show = letfall_core::file::read(&std::fs::read(&path).unwrap()).unwrap();
    let editor = Editor::with_recovery(show.clone(), Some(path), desk.folder.path().join("state"));
    (harness(editor, [1440.0, 1900.0]), show)
}

/// Bars found in one service's recording are not offered for another. Using the offer closes it, and is one step.
#[test]
fn bars_by_ear_are_offered_used_and_taken_back() {
    let desk = Desk::new();
    let (mut harness, show) = opener(&desk);
    harness.get_by_label("Song: bars, metre, tempo, sections…").click();
    harness.run_steps(4);
    harness.get_by_label("Find the bars in the recording").click();
    assert!(until(&mut harness, |h| h.query_by_label("Use these bars").is_some()));
    assert!(harness.query_all_by_label_contains("Found 16 bars in 4/4").count() > 0);
    assert_eq!(*harness.state().document.show, show);
    look_whole(&mut harness, "by-ear");
    harness.get_by_label("Half the tempo").click();
    assert!(until(&mut harness, |h| h.query_all_by_label_contains("Found 8 bars").count() > 0));
    harness.get_by_label("Twice the tempo").click();
    assert!(until(&mut harness, |h| h.query_all_by_label_contains("Found 16 bars").count() > 0));
    // Counted differently, and back again.
    let tempo = |h: &Harness<'_, Editor>| h.state().by_ear.found().map_or(0.0, letfall_sound::bars::Found::tempo);
    harness.get_by_label("3 beats for 2").click();
    assert!(until(&mut harness, |h| (115.0..195.0).contains(&tempo(h))));
    harness.get_by_label("2 beats for 3").click();
    assert!(until(&mut harness, |h| (tempo(h) - 100.0).abs() < 0.5));
    assert!(harness.query_all_by_label_contains("Found 16 bars").count() > 0);
    harness.get_by_label("Use these bars").click();
    harness.run_steps(4);
    assert!(harness.query_by_label("Use these bars").is_none());
    assert_eq!(harness.state().document.show.services[0].song.bars, 16);
    harness.state_mut().document.undo();
    assert_eq!(*harness.state().document.show, show);
}

/// The user gives one bar, from the score, the playhead or taps, and the others are found from it as given.
#[test]
fn bars_are_found_from_one_that_is_known() {
    let desk = Desk::new();
    let (mut harness, show) = opener(&desk);
    harness.get_by_label("Song: bars, metre, tempo, sections…").click();
    harness.run_steps(4);
    harness.state_mut().document.playhead = SongTime::from_micros(3_000_000).unwrap();
    harness.get_by_label("I know one of its bars").click();
    harness.run_steps(4);
    // The bar drawn under the playhead begins at 2.4 s.
    harness.get_by_label("Begins at the playhead").click();
    harness.run_steps(2);
    assert!(harness.query_by_label("Find the bars in the recording").is_none());
    let bar = harness.state().by_ear.known().unwrap();
    assert_eq!((bar.from, bar.to, bar.beats), (3.0, 4.8, Some(4)));
    harness.get_by_label("The bar drawn at the playhead").click();
    harness.run_steps(2);
    assert_eq!(harness.state().by_ear.known().unwrap().from, 2.4);
    // A bar that ends before it begins is reported, and no search starts.
    harness.state_mut().document.playhead = SongTime::from_micros(1_000_000).unwrap();
    harness.get_by_label("Ends at the playhead").click();
    harness.run_steps(2);
    harness.get_by_label("a bar must end 0.2 to 30 s after it begins");
    harness.get_by_label("Find the others from this one").click();
    harness.run_steps(4);
    assert!(harness.query_by_label("Stop listening").is_none());
    // Tapped in two, although the song is in four.
    for tap in [2.41, 3.58, 4.82] {
        harness.state_mut().playback.taps.tap(tap);
    }
    harness.run_steps(2);
    harness.get_by_label("The bar tapped").click();
    harness.run_steps(2);
    look_whole(&mut harness, "known-bar");
    harness.get_by_label("Find the others from this one").click();
    assert!(until(&mut harness, |h| h.query_by_label("Use these bars").is_some()));
    assert!(harness.query_all_by_label_contains("Found 16 bars in 2/4, 50.").count() > 0);
    look_whole(&mut harness, "known-bar-found");
    // Cues keep their bars, so none moves here. Half a bar off, all of them move, and this is reported before anything changes.
    assert_eq!(harness.query_all_by_label_contains("Cues keep their bars").count(), 0);
    harness.state_mut().playback.taps = letfall_sound::bars::Taps::default();
    for tap in [6.0, 6.6, 7.2, 7.8, 8.4] {
        harness.state_mut().playback.taps.tap(tap);
    }
    harness.run_steps(2);
    // Taps made while the bar is open are used for it without another button.
    let bar = harness.state().by_ear.known().unwrap();
    assert!((bar.from - 6.0).abs() < 1e-9 && (bar.to - 8.4).abs() < 1e-9 && bar.beats == Some(4));
    harness.get_by_label("Find the others from this one").click();
    assert!(until(&mut harness, |h| h.query_all_by_label_contains("Cues keep their bars").count() > 0));
    look_whole(&mut harness, "known-bar-moves");
    assert!(harness.query_all_by_label_contains("R1 from 0:19.200 to 0:20.").count() > 0);
    // In another song no bar is known yet, and what was found is not offered.
    assert!(harness.state_mut().document.change_song("No guide", |song| song.guide = None));
    harness.run_steps(2);
    assert!(harness.state().by_ear.known().is_none() && harness.state().by_ear.found().is_none());
    harness.state_mut().document.undo();
    harness.run_steps(2);
    assert_eq!(*harness.state().document.show, show);
}

/// Taps are pinned to the bars they were tapped in; the rest of the song stays.
#[test]
fn taps_pin_the_bars_they_were_tapped_in() {
    let desk = Desk::new();
    let (mut harness, show) = opener(&desk);
    for beat in 0..16 {
        harness.state_mut().playback.taps.tap(4.8 + 0.05 + 0.6 * f64::from(beat));
    }
    harness.get_by_label("Song: bars, metre, tempo, sections…").click();
    harness.run_steps(4);
    harness.get_by_label("16 taps, about 100 a minute");
    harness.get_by_label("Pin the bars tapped, keep the others").click();
    harness.run_steps(4);
    let song = &harness.state().document.show.services[0].song;
    let pins: Vec<(i32, i64)> = song.grid.pins.iter().map(|p| (p.bar, p.at.micros() / 10_000)).collect();
    assert_eq!(pins, [(1, 0), (3, 485), (4, 725), (5, 965), (6, 1205)]);
    harness.state_mut().document.undo();
    assert_eq!(*harness.state().document.show, show);
}

/// Pads count as taps while the song plays. Without a sound device it plays in silence and says so.
#[test]
fn pads_tap_too() {
    let (desk, fake) = (Desk::new(), Fake::default());
    let mut harness = open(&desk, &fake);
    harness.state_mut().screen = Screen::Score;
    harness.state_mut().document.selection.labels.clear();
    harness.run_steps(3);
    harness.get_by_label("Song: bars, metre, tempo, sections…").click();
    harness.set_size(egui::vec2(1440.0, 2800.0));
    harness.run_steps(4);
    harness.get_by_label("Pads or keys on a MIDI port tap too").click();
    harness.run_steps(3);
    harness.get_by_label("Play").click();
    harness.run_steps(2);
    for _ in 0..3 {
        thread::sleep(Duration::from_millis(150));
        if let Some(heard) = fake.heard.lock().unwrap().as_mut() {
            heard(&[0x90, 36, 100]);
            heard(&[0x80, 36, 0]);
        }
        harness.run_steps(1);
    }
    assert!(until(&mut harness, |h| h.state().playback.taps.len() == 3));
    harness.get_by_label("Stop").click();
    harness.run_steps(2);
    assert!(!harness.state().playback.is_playing());
}
