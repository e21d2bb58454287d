//! Shows made from a few answers: whatever is typed gives a valid show in which cues can be laid, and nothing is invented that people
//! must answer.

use super::plans;
use letfall_core::check::Severity;
use letfall_core::edit::choices;
use letfall_core::outline::{DeskTakes, FabricOutline, Outline, SongLength, rig_of, steady_song};
use letfall_core::prepared::Prepared;
use letfall_core::schedule::{is_unsaid, message_words};
use letfall_core::show::{Anchor, Cue, Kind, Label, ReleaseKind, SafetySheet, Show, Units};
use letfall_core::time::SongSpan;
use proptest::prelude::*;
use std::collections::BTreeSet;
use std::sync::Arc;

fn outline() -> Outline {
    Outline {
        title: "Harvest evening".into(),
        song: steady_song("Round", "96".parse().unwrap(), "4/4".parse().unwrap(), SongLength::Bars(96)),
        units: Units::Metric,
        fabric: Some(FabricOutline { width_m: 6.0, drop_m: 4.0, kind: ReleaseKind::Energise }),
        presets: "Blackout\nWarm front\n\n12 Silhouettes\n13.5) Cold\n".into(),
        desk: DeskTakes::Programs,
        pictures: "Harbour\nBoats".into(),
        screens: "Main screen".into(),
    }
}

/// One cue for every choice that the rig offers, one bar apart.
fn with_a_cue_each(mut show: Show) -> Show {
    let mut bar = 20;
    let mut cues = Vec::new();
    for kind in Kind::ALL {
        let track = show.tracks.iter().find(|t| t.kind == kind).unwrap().key.clone();
        for (number, choice) in (1..).zip(choices(&show, kind)) {
            bar += 1;
            cues.push(Cue::new(Label { kind, number }, track.clone(), Anchor::bar(bar), choice.does));
        }
    }
    show.services[0].cues = cues.into_iter().collect();
    show.validate().unwrap();
    show
}

#[test]
fn what_is_answered_stands_in_the_show_and_the_rest_is_open() {
    let show = outline().show();
    show.validate().unwrap();
    let presets: Vec<String> =
        show.presets.iter().map(|p| format!("{} {}: {}", p.desk, p.name, message_words(&p.message))).collect();
    assert_eq!(
        presets[..3],
        [
            "1 Blackout: program 0".to_owned(),
            "2 Warm front: program 1".to_owned(),
            "12 Silhouettes: program 11".to_owned()
        ]
    );
    assert!(outline().trouble().unwrap().contains("\"Cold\": number 13.5 has no program change"));
    let control = Outline { desk: DeskTakes::ShowControl, ..outline() }.show();
    assert_eq!(message_words(&control.presets[3].message), "GO cue 13.5");
    assert_eq!(show.presets[0].level, 0);
    // Routes come with outputs, a stand-in with the release; the contact has a port of its own.
    assert_eq!(show.outputs.len(), 2);
    assert!(show.outputs.iter().all(|o| show.routes.iter().filter(|r| r.output == o.key).count() == 2));
    let release = &show.releases[0];
    assert!(release.stand_in.is_some());
    let port = &show.receiver(&release.receiver).unwrap().port;
    assert_eq!(show.receivers.iter().filter(|r| r.port == *port).count(), 1);
    // Nobody has said how long anything takes, who is competent, or what is done when a unit sticks.
    assert!(show.receivers.iter().all(|r| is_unsaid(r.latency)) && is_unsaid(release.contact));
    assert_eq!(show.safety, SafetySheet::default());
    assert!(release.hang_up.is_none() && release.circuit.is_none() && show.hangs[0].measured.is_empty());
    // Units stand no farther apart than the check allows.
    assert!(plans::problems(&show).iter().all(|p| !p.to_string().contains("apart")));
}

/// With a cue for everything, what is left to stop the show is only what people must answer: nothing that the outline got wrong.
#[test]
fn only_what_people_must_answer_stops_such_a_show() {
    for desk in [DeskTakes::Programs, DeskTakes::ShowControl] {
        let mut show = with_a_cue_each(Outline { desk, ..outline() }.show());
        // One release is enough; three moments of the same one cannot all be.
        show.services[0].cues =
            show.services[0].cues.iter().filter(|c| !["R2", "R3"].contains(&&*c.label.to_string())).cloned().collect();
        let plan = Prepared::hypothetical(Arc::new(show.clone()), 0).unwrap();
        for row in &plan.schedule().rows {
            assert!(row.wire.is_some(), "{}: {:?}", row.label, row.fault);
        }
        let stops: BTreeSet<String> = plans::problems(&show)
            .iter()
            .filter(|p| p.severity() == Severity::Stop)
            .map(|p| format!("{:?}", p.code))
            .collect();
        println!("{stops:?}");
        for problem in plans::problems(&show).iter().filter(|p| p.severity() == Severity::Stop) {
            let text = problem.to_string();
            let open = ["safety sheet", "nobody", "hang-up", "stuck"].iter().any(|word| text.contains(word));
            assert!(open, "{text}");
        }
    }
}

/// No two presets have one message, and no preset has none, without being told.
#[test]
fn numbers_that_collide_or_have_no_message_are_told() {
    let told = |presets: &str, desk| Outline { presets: presets.into(), desk, ..outline() }.trouble();
    let numbers = |presets: &str| -> Vec<String> {
        let show = Outline { presets: presets.into(), ..outline() }.show();
        show.presets.iter().map(|preset| preset.desk.clone()).collect()
    };
    // Without a number: the next that no other has.
    assert_eq!(numbers("Warm\n1 Cold\nDark\n9 Far\nNear"), ["2", "1", "3", "9", "10"]);
    assert_eq!(numbers("18446744073709551615 A\nB").len(), 2, "the largest number there is");
    assert_eq!(told("Warm\n1 Cold\nDark\n9 Far\nNear", DeskTakes::Programs), None);
    for (presets, desk, words) in [
        ("3 A\n3 B", DeskTakes::Programs, "\"A\" and \"B\" have one number"),
        ("3 A\n03 B", DeskTakes::Programs, "have one number"),
        ("0 A", DeskTakes::Programs, "number 0 has no program change"),
        ("129 A", DeskTakes::Programs, "number 129"),
        ("1.5 A", DeskTakes::Programs, "choose MIDI Show Control"),
        ("1..2 A", DeskTakes::ShowControl, "is no cue number"),
        ("2.5 A\n2.5 B", DeskTakes::ShowControl, "have one number"),
    ] {
        let why = told(presets, desk).unwrap_or_else(|| panic!("{presets}"));
        assert!(why.contains(words), "{why}");
    }
    assert_eq!(told("1.5 A\n1 B\n1.6 C", DeskTakes::ShowControl), None);
    let many = |list: &str, count: usize| vec![list; count].join("\n");
    assert_eq!(Outline { pictures: many("p", 128), presets: String::new(), ..outline() }.trouble(), None);
    assert!(Outline { pictures: many("p", 129), presets: String::new(), ..outline() }.trouble().is_some());
    assert!(Outline { screens: many("s", 64), presets: String::new(), ..outline() }.trouble().is_some());
    // What is told of nothing has a message of its own for each preset.
    let show = Outline { presets: many("x", 128), ..outline() }.show();
    let messages: BTreeSet<String> = show.presets.iter().map(|preset| message_words(&preset.message)).collect();
    assert_eq!(messages.len(), 128);
}

#[test]
fn a_song_is_as_long_as_was_said() {
    let bars =
        |tempo: &str, metre: &str, length| steady_song("", tempo.parse().unwrap(), metre.parse().unwrap(), length).bars;
    assert_eq!(bars("96", "4/4", SongLength::Bars(96)), 96);
    // 96 beats a minute for four minutes are 384 beats, in fours 96 bars (by counting).
    assert_eq!(bars("96", "4/4", SongLength::Time(SongSpan::from_millis(240_000))), 96);
    assert_eq!(bars("96", "4/4", SongLength::Time(SongSpan::from_millis(240_001))), 97);
    assert_eq!(bars("3/8=60", "6/8", SongLength::Time(SongSpan::from_millis(60_000))), 30);
    assert_eq!(bars("120", "4/4", SongLength::Time(SongSpan::ZERO)), 1);
}

#[test]
fn the_rig_of_an_earlier_show_comes_without_its_performances_and_signatures() {
    let old = letfall_core::file::read(include_bytes!("../../../../demo-shows/lantern-night.letfall")).unwrap();
    let show = rig_of(&old, "", outline().song);
    show.validate().unwrap();
    assert_eq!((show.title.as_str(), show.services.len(), show.services[0].cues.len()), ("New show", 1, 0));
    assert_eq!(
        (&show.presets, &show.releases, &show.tracks, &show.kit),
        (&old.presets, &old.releases, &old.tracks, &old.kit)
    );
    assert_ne!(show.safety, old.safety);
    assert_eq!(show.safety, SafetySheet::default());
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]
    #[test]
    fn whatever_is_typed_gives_a_valid_show(
        texts in [".*", "(.*\n){0,5}", "([0-9.]{0,12} .{0,20}\n){0,9}", ".*\n.*", ".*"],
        fabric in prop::option::of((0.0f64..300.0, 0.0f64..300.0)),
        control in any::<bool>(),
        bars in 0u32..3,
    ) {
        let [title, presets, more, pictures, screens] = texts;
        let made = Outline {
            title,
            song: steady_song("", "96".parse().unwrap(), "4/4".parse().unwrap(), SongLength::Bars(bars)),
            units: Units::Imperial,
            fabric: fabric.map(|(width_m, drop_m)| FabricOutline { width_m, drop_m, kind: ReleaseKind::Unknown }),
            presets: presets + &more,
            desk: if control { DeskTakes::ShowControl } else { DeskTakes::Programs },
            pictures,
            screens,
        };
        let show = with_a_cue_each(made.show());
        let bytes = letfall_core::file::write(&show);
        prop_assert_eq!(letfall_core::file::read(&bytes).unwrap(), show);
    }
}
