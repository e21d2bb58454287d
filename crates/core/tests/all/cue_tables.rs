//! Tables of cues taken over: what a row says, what it must not be taken for, and that nothing is lost without a word.

use super::{edits, plans};
use letfall_core::edit::{Clash, CueRow, Edit, RowOutcome, action_name, read_place, take_cue_table};
use letfall_core::show::{Action, Anchor, CueList, Label, Show};
use letfall_core::time::{Grid, SongTime};

fn label(text: &str) -> Label {
    text.parse().unwrap()
}

/// A row with place, label, kind and what.
fn row(line: usize, cells: [&str; 4]) -> CueRow {
    let [place, label, kind, what] = cells.map(str::to_owned);
    CueRow { line, place, label, kind, what, ..CueRow::default() }
}

/// Presets "Warm" and "Cold", one service with these cues.
fn show(cues: &str) -> Show {
    let mut show = plans::one(&edits::cues(cues));
    show.presets.truncate(2);
    for (at, name) in ["Warm", "Cold"].into_iter().enumerate() {
        name.clone_into(&mut show.presets[at].name);
        show.presets[at].desk = format!("{}", 10 + at);
    }
    show
}

fn name(show: &Show) -> String {
    show.services[0].name.clone()
}

fn applied(show: &Show, edit: &Edit) -> Show {
    let mut after = show.clone();
    edit.apply(&mut after).unwrap();
    after.validate().unwrap();
    after
}

fn outcomes(show: &Show, rows: &[CueRow], clash: Clash) -> Vec<RowOutcome> {
    take_cue_table(show, &name(show), rows, clash).unwrap().rows.into_iter().map(|(_, outcome)| outcome).collect()
}

fn refusal(show: &Show, cells: [&str; 4]) -> String {
    match outcomes(show, &[row(7, cells)], Clash::Keep).remove(0) {
        RowOutcome::Unreadable(why) => why,
        other => panic!("{cells:?}: {other:?}"),
    }
}

fn grid(show: &Show) -> Grid {
    show.services[0].song.grid.build().unwrap()
}

#[test]
fn rows_without_labels_get_free_ones_that_the_table_does_not_name() {
    let show = show("");
    let rows = [
        row(1, ["5", "", "lighting", "Warm"]),
        row(2, ["6", "L1", "", "Cold"]),
        row(3, ["7", "", "lx", "11"]),
        row(4, ["8", "l2", "L", " warm "]),
    ];
    let wanted = ["L3", "L1", "L4", "L2"].map(|text| RowOutcome::New(label(text)));
    assert_eq!(outcomes(&show, &rows, Clash::Keep), wanted);
    let table = take_cue_table(&show, &name(&show), &rows, Clash::Keep).unwrap();
    let after = applied(&show, &table.edit());
    let preset = |text: &str| match &after.services[0].cues.get(label(text)).unwrap().does {
        Action::Lighting { preset, .. } => after.preset(preset).unwrap().name.clone(),
        other => panic!("{other:?}"),
    };
    assert_eq!([preset("L3"), preset("L1"), preset("L4"), preset("L2")], ["Warm", "Cold", "Cold", "Warm"]);
    // Taken over twice, nothing is doubled, with labels or without.
    for clash in [Clash::Keep, Clash::Replace, Clash::Both] {
        let again = take_cue_table(&after, &name(&after), &rows, clash).unwrap();
        assert_eq!(again.count(|row| matches!(row, RowOutcome::Same(_))), 4, "{clash:?}");
        assert_eq!(again.edit(), Edit::Nothing);
    }
}

#[test]
fn a_clash_is_settled_as_said_and_always_told() {
    let show = show("L1@5");
    let rows = [row(1, ["5", "L1", "", "Cold"]), row(2, ["6", "", "", "Cold"])];
    assert_eq!(outcomes(&show, &rows, Clash::Keep), [RowOutcome::Kept(label("L1")), RowOutcome::New(label("L2"))]);
    assert_eq!(
        outcomes(&show, &rows, Clash::Replace),
        [RowOutcome::Changes(label("L1")), RowOutcome::New(label("L2"))]
    );
    assert_eq!(outcomes(&show, &rows, Clash::Both), [RowOutcome::New(label("L2")), RowOutcome::New(label("L3"))]);
    // Both, taken over twice, adds nothing the second time.
    let once = applied(&show, &take_cue_table(&show, &name(&show), &rows, Clash::Both).unwrap().edit());
    let again = take_cue_table(&once, &name(&once), &rows, Clash::Both).unwrap();
    assert_eq!(again.edit(), Edit::Nothing, "{:?}", again.rows);
    // One cue in two lines is told, and a second release of a fabric is never added by a table.
    let rows = [row(1, ["7", "", "lighting", "Cold"]), row(2, ["7", "", "lighting", "Cold"])];
    assert!(matches!(&outcomes(&show, &rows, Clash::Keep)[1], RowOutcome::Unreadable(why) if why.contains("line 1")));
    let drop = super::cue_tables::show("R1@17");
    let moved = [row(1, ["18", "R1", "", ""])];
    assert!(matches!(&outcomes(&drop, &moved, Clash::Both)[0], RowOutcome::Unreadable(why) if why.contains("by hand")));
    // Without a label: a cue on the same track at the same time is the one that is meant.
    let rows = [row(1, ["5", "", "lighting", "Cold"]), row(2, ["5", "", "lighting", "Warm"])];
    let replaced = outcomes(&show, &rows, Clash::Replace);
    assert_eq!(replaced, [RowOutcome::Changes(label("L1")), RowOutcome::New(label("L2"))]);
    // Never two rows about one cue.
    let rows = [row(3, ["5", "L1", "", "Cold"]), row(4, ["6", "l1", "", "Warm"])];
    let both = outcomes(&show, &rows, Clash::Replace);
    assert!(matches!(&both[1], RowOutcome::Unreadable(why) if why.contains("line 3")), "{both:?}");
}

#[test]
fn what_a_table_does_not_say_stays() {
    let mut show = show("L1@5|2~-0.12s L2@9");
    let cue = show.services[0].cues.get(label("L1")).unwrap().clone();
    let cue = letfall_core::show::Cue { text: "as she turns".into(), note: "ask Lea".into(), ..cue };
    show.services[0].cues.put(vec![cue.clone()]);
    let rows = [row(1, ["", "L1", "", "Cold"])];
    let table = take_cue_table(&show, &name(&show), &rows, Clash::Replace).unwrap();
    let after = applied(&show, &table.edit()).services[0].cues.get(label("L1")).unwrap().clone();
    assert_eq!((after.at, &after.text, &after.note, &after.track), (cue.at, &cue.text, &cue.note, &cue.track));
    assert_ne!(after.does, cue.does);
    // A column that is there and empty takes the words out.
    let emptied = CueRow { text: Some(String::new()), ..row(1, ["", "L1", "", ""]) };
    let table = take_cue_table(&show, &name(&show), &[emptied], Clash::Replace).unwrap();
    let after = applied(&show, &table.edit()).services[0].cues.get(label("L1")).unwrap().clone();
    assert_eq!((after.text.as_str(), after.note.as_str()), ("", "ask Lea"));
    assert_eq!(after.does, cue.does);
}

#[test]
fn places_as_people_write_them() {
    let show = show("");
    let grid = grid(&show);
    let read = |text: &str| read_place(text, &grid).map(|at| at.to_string());
    for (text, place) in [
        ("33", "33 b1"),
        ("33 b2", "33 b2"),
        ("bar 33, beat 2", "33 b2"),
        ("Bar 33", "33 b1"),
        ("33 b2 and", "33 b2 +480t"),
        ("33 b2 &", "33 b2 +480t"),
        ("33 b2 +1/3", "33 b2 +320t"),
        ("33 b2 +480t", "33 b2 +480t"),
        ("33 b2 -0.12s", "33 b2 -0.12s"),
        ("33 b2 +480t +0.01s", "33 b2 +480t +0.01s"),
        ("-1", "-1 b1"),
        ("83.5s", "83.5s"),
        ("1:23.5", "83.5s"),
        ("0:05", "5s"),
    ] {
        assert_eq!(read(text).as_deref(), Ok(place), "{text}");
    }
    for text in
        ["", "b2", "soon", "1:2:3", "1:60", "1:-3", "1:1e3", "33 b5", "33 b2 +3/2", "33 b2 +1/0", "9999999", "33 b0"]
    {
        assert!(read(text).is_err(), "{text}");
    }
    assert!(read("33.2").unwrap_err().contains("33 b2"), "it could be read in two ways");
    assert_eq!(read_place("1:23.5", &grid), Ok(Anchor::Clock(SongTime::from_micros(83_500_000).unwrap())));
}

#[test]
fn what_cannot_be_read_says_why_and_what_to_write() {
    let show = show("L1@5");
    for (cells, words) in [
        (["5", "", "", ""], "neither what kind"),
        (["5", "", "lighting", ""], "Warm, Cold"),
        (["5", "", "lighting", "Blue"], "it has: Warm, Cold"),
        (["5", "", "", "Blue"], "no \"Blue\""),
        (["5", "", "smoke", "Warm"], "lighting, media, output or release"),
        (["5", "M1", "lighting", "Warm"], "label of media cues"),
        (["5", "12", "lighting", "Warm"], "such as L3"),
        (["", "", "lighting", "Warm"], "where it lands"),
        (["31 b9", "", "lighting", "Warm"], "no beat 9"),
        (["16:40", "", "lighting", "Warm"], "16:40.0 is outside the song, which ends at bar 33"),
        (["200", "", "lighting", "Warm"], "bar 200 is outside the song"),
    ] {
        let why = refusal(&show, cells);
        assert!(why.contains(words), "{cells:?}: {why}");
    }
    let mut alike = show;
    alike.presets[1].name = "warm".into();
    assert!(refusal(&alike, ["5", "", "lighting", "Warm"]).contains("different names"));
}

/// What is written for each action is read as that action again, whatever else is in the rig.
#[test]
fn every_name_is_read_as_what_it_names() {
    for text in [
        include_str!("../../../../demo-shows/lantern-night.letfall"),
        include_str!("../../../../demo-shows/first-opener.letfall"),
        include_str!("../../../../demo-shows/three-houses.letfall"),
    ] {
        let demo = letfall_core::file::read(text.as_bytes()).unwrap();
        for service in &demo.services {
            let mut bare = demo.clone();
            let at = bare.services.iter().position(|s| s.name == service.name).unwrap();
            bare.services[at].cues = CueList::default();
            let rows: Vec<CueRow> = (1..)
                .zip(&service.cues)
                .map(|(line, cue)| CueRow {
                    line,
                    place: cue.at.to_string(),
                    label: cue.label.to_string(),
                    track: cue.track.to_string(),
                    what: action_name(&demo, &cue.does).unwrap(),
                    text: Some(cue.text.clone()),
                    ..CueRow::default()
                })
                .collect();
            let table = take_cue_table(&bare, &service.name, &rows, Clash::Keep).unwrap();
            assert_eq!(table.unreadable().next(), None);
            let after = applied(&bare, &table.edit());
            for cue in &service.cues {
                let read = after.services[at].cues.get(cue.label).unwrap();
                assert_eq!((read.at, &read.track, &read.text), (cue.at, &cue.track, &cue.text));
                assert_eq!(action_name(&demo, &read.does), action_name(&demo, &cue.does));
            }
        }
    }
}
