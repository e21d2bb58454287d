//! Facts about the show itself: its name, tracks, tolerances and safety sheet.

use super::rows::{empty, take_out};
use crate::widgets::fields::{Fields, free_key, heading, heads};
use egui::{Grid, Ui};
use letfall_core::limits;
use letfall_core::schedule::first_upper;
use letfall_core::show::{DayCalls, Goes, HandOut, Kind, STANDARDS, Show, Track, Units, cautions};

/// Title, venue, version, tolerances.
pub fn show_facts(ui: &mut Ui, show: &mut Show, fields: &mut Fields) {
    heading(ui, "Show");
    Grid::new("show").num_columns(2).spacing([12.0, 6.0]).show(ui, |ui| {
        for (words, text) in
            [("Title", &mut show.title), ("Venue", &mut show.venue), ("Version on every page", &mut show.version)]
        {
            ui.label(words);
            fields.text(ui, text, 360.0, words);
            ui.end_row();
        }
    });
    ui.add_space(14.0);
    heading(ui, "Tolerances and habits");
    let s = &mut show.settings;
    Grid::new("settings").num_columns(3).spacing([12.0, 6.0]).show(ui, |ui| {
        ui.label("Units");
        ui.horizontal(|ui| {
            for (units, words) in [(Units::Metric, "metric"), (Units::Imperial, "imperial")] {
                let response = ui.radio_value(&mut s.units, units, words);
                fields.look(&response);
            }
        });
        ui.label("on screen and paper; the file is always metric");
        ui.end_row();
        ui.label("Standby before go");
        fields.seconds(ui, &mut s.standby, &limits::STANDBY, "Standby before go");
        ui.label("whole beats are taken");
        ui.end_row();
        ui.label("Standby before a release");
        fields.seconds(ui, &mut s.release_standby, &limits::RELEASE_STANDBY, "Standby before a release");
        ui.label("30 s is common practice: clear and arming come between");
        ui.end_row();
        ui.label("From the word to the operator's press");
        fields.span(ui, &mut s.person, &limits::PERSON, "From the word to the operator's press");
        ui.label("400 ms is common practice; a go is said so much earlier");
        ui.end_row();
        ui.label("That time's standard deviation");
        fields.span(ui, &mut s.person_spread, &limits::PERSON_SPREAD, "That time's standard deviation");
        ui.label("150 ms is common practice");
        ui.end_row();
        ui.label("Speech rate");
        fields.whole(ui, &mut s.words_per_minute, &limits::SPEECH_RATE, "Speech rate");
        ui.label("of the person who calls; 150 is common practice, time your own");
        ui.end_row();
        ui.label("A picture may be early by");
        fields.span(ui, &mut s.early, &limits::EARLY, "A picture may be early by");
        ui.label("125 ms: detectability, ITU-R BT.1359-1 (sound late)");
        ui.end_row();
        ui.label("A picture may be late by");
        fields.span(ui, &mut s.late, &limits::LATE, "A picture may be late by");
        ui.label("45 ms: detectability, ITU-R BT.1359-1 (sound early)");
        ui.end_row();
        ui.label("Nothing to see at a handover for");
        fields.span(ui, &mut s.gap, &limits::GAP, "Nothing to see at a handover for");
        ui.label("at most; longer is listed as a problem");
        ui.end_row();
        ui.label("Bars of count-in");
        fields.whole(ui, &mut s.count_in_bars, &limits::COUNT_IN, "Bars of count-in");
        ui.end_row();
        ui.label("Loudspeaker to the reference seat");
        let units = s.units;
        fields.length(ui, &mut s.seat_m, units, &limits::SEAT, "Loudspeaker to the reference seat");
        ui.label(if s.seat_m > 0.0 {
            "cues land when the sound gets there"
        } else {
            "0: off. The time that sound takes to the seats is not allowed for"
        });
        ui.end_row();
        ui.label("Air temperature");
        fields.number(ui, &mut s.air_c, &limits::AIR, "Air temperature");
        ui.label("for the speed of sound");
        ui.end_row();
        ui.label("Calls of the day");
        let ways = DayCalls::ALL.map(|calls| (calls, calls.name().to_owned()));
        fields.choice(ui, &mut s.day_calls, &ways, 200.0, "Calls of the day");
        ui.label("on the crew sheet");
        ui.end_row();
        ui.label("Work between services is done");
        fields.whole(ui, &mut s.before_doors_min, &limits::BEFORE_DOORS, "Minutes before the doors");
        ui.label("minutes before the doors open");
        ui.end_row();
    });
}

/// Who was given which sheet or file.
pub fn hand_outs(ui: &mut Ui, show: &mut Show, fields: &mut Fields) {
    ui.add_space(14.0);
    heading(ui, "Handed out");
    empty(ui, show.hand_outs.is_empty(), "Who was given which sheet or file, so that older ones can be asked back.");
    let mut gone = None;
    Grid::new("hand-outs").striped(true).spacing([12.0, 6.0]).show(ui, |ui| {
        if !show.hand_outs.is_empty() {
            heads(ui, &["Who", "What", "Fingerprint on it", "Given", ""]);
        }
        for (at, line) in show.hand_outs.iter_mut().enumerate() {
            let number = at + 1;
            fields.text(ui, &mut line.who, 180.0, &format!("Who has hand-out {number}"));
            fields.text(ui, &mut line.what, 220.0, &format!("What hand-out {number} is"));
            fields.text(ui, &mut line.fingerprint, 110.0, &format!("Fingerprint of hand-out {number}"));
            fields.text(ui, &mut line.given, 120.0, &format!("When hand-out {number} was given"));
            if fields.remove(ui, &format!("hand-out {number}")) {
                gone = Some(at);
            }
            ui.end_row();
        }
    });
    take_out(&mut show.hand_outs, gone);
    if fields.add(ui, "Note a hand-out") {
        show.hand_outs.push(HandOut::default());
    }
    ui.label("The fingerprint stands beside version and date on every page and in every file.");
}

/// The tracks, which are the rows of the score.
pub fn tracks(ui: &mut Ui, show: &mut Show, fields: &mut Fields) {
    heading(ui, "Tracks");
    empty(ui, show.tracks.is_empty(), "Rows of cues, each of one kind: add one of each to begin with.");
    let (mut gone, mut up) = (None, None);
    Grid::new("tracks").striped(true).spacing([12.0, 6.0]).show(ui, |ui| {
        if !show.tracks.is_empty() {
            heads(ui, &["Name", "Kind", "Its cues go", "", "", ""]);
        }
        for (at, track) in show.tracks.iter_mut().enumerate() {
            let whose = track.name.clone();
            fields.text(ui, &mut track.name, 200.0, "Track name");
            ui.label(track.kind.to_string());
            if track.kind == Kind::Release {
                ui.label("by machine, while armed");
                fields.tick(ui, &mut track.called, "called", &format!("{whose} is called aloud"));
            } else {
                let ways = [
                    (Goes::Machine, "by machine".to_owned()),
                    (Goes::Operator, "by an operator, on the word".to_owned()),
                ];
                fields.choice(ui, &mut track.goes, &ways, 210.0, &format!("What sets off cues of {whose}"));
                if track.goes.by_machine() {
                    fields.tick(ui, &mut track.called, "watched", &format!("Cues of {whose} are watched"));
                } else {
                    ui.label("Letfall sends nothing");
                }
            }
            let button = ui.add_enabled(at > 0, egui::Button::new("Up").small());
            button.widget_info(|| {
                egui::WidgetInfo::labeled(egui::accesskit::Role::Button, at > 0, format!("Move {whose} up"))
            });
            if button.clicked() {
                up = Some(at);
            }
            if fields.remove(ui, &whose) {
                gone = Some(at);
            }
            ui.end_row();
        }
    });
    if let Some(at) = up {
        show.tracks.swap(at - 1, at);
        fields.done = true;
    }
    take_out(&mut show.tracks, gone);
    ui.horizontal(|ui| {
        for kind in [Kind::Media, Kind::Lighting, Kind::Release, Kind::Output] {
            if fields.add(ui, &format!("Add a {kind} track").replace("a output", "an output"))
                && let Some(key) = free_key(&kind.to_string(), show.tracks.iter().map(|t| t.key.as_str()))
            {
                let name = first_upper(&kind.to_string());
                show.tracks.push(Track { key, name, kind, goes: Goes::Machine, called: kind != Kind::Output });
            }
        }
    });
    ui.label("Removing a track removes no cues: cues without a track are listed as problems.");
}

/// The safety sheet.
pub fn safety(ui: &mut Ui, show: &mut Show, fields: &mut Fields) {
    heading(ui, "Safety sheet");
    ui.label("Roles and words that people have settled. Letfall records them and judges nothing.");
    let sheet = &mut show.safety;
    Grid::new("safety").num_columns(2).spacing([12.0, 6.0]).show(ui, |ui| {
        for (words, text) in [
            ("Who is competent for the rig", &mut sheet.competent),
            ("Drop zone", &mut sheet.drop_zone),
            ("Clear signal: who and how", &mut sheet.clear_signal),
            ("Caller: who calls the show", &mut sheet.caller),
            ("Release operator: who holds the arm", &mut sheet.arm_holder),
            ("Spotter: who sees the drop zone the whole time", &mut sheet.spotter),
            ("Key switch of the spotter: where, wired by whom", &mut sheet.key_switch),
            ("Words that stop everything", &mut sheet.abort_words),
            ("Words for a fabric that stays up", &mut sheet.stay_words),
            ("Local rule that comes first", &mut sheet.local_rule),
        ] {
            ui.label(words);
            fields.text(ui, text, 560.0, words);
            ui.end_row();
        }
    });
    ui.add_space(6.0);
    let more =
        [cautions::STOP_ALL, cautions::FILE, cautions::DESK, cautions::POWER_LOSS, cautions::NOT_AN_EMERGENCY_STOP];
    for sentence in cautions::KEY_SWITCH.into_iter().chain(more) {
        ui.add(egui::Label::new(sentence).wrap());
    }
    ui.add_space(10.0);
    ui.label("Documents to ask about; which of them hold here, local codes and competent people say:");
    for standard in STANDARDS {
        ui.label(format!("    {}: {}", standard.number, standard.about));
    }
    ui.add_space(6.0);
    let missing = sheet.missing();
    if missing.is_empty() {
        ui.label("Filled in: releases may stand in a MIDI file. That says nothing about the rig itself.");
    } else {
        let words = format!("No file contains releases while this is open: {}.", missing.join(", "));
        ui.colored_label(ui.visuals().error_fg_color, words);
    }
}
