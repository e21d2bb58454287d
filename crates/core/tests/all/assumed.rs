//! Delays that nobody has stated: they are named, they make the range wider, and they move no send. And what a busy port does to a
//! range.

use super::plans::one;
use letfall_core::prepared::Prepared;
use letfall_core::schedule::{Known, Row, assumption_words, certainty, lead_terms};
use letfall_core::show::{Latency, Show, UnitKind};
use letfall_core::time::SongSpan;
use std::sync::Arc;

const CUES: &str = r#"{"label":"R1","track":"r","at":"17|1","does":{"release":{"release":"front","lands":"sightline"}}},
    {"label":"O1","track":"o","at":"5|1","does":{"output":{"route":"house-still"}}},
    {"label":"L1","track":"l","at":"6|1","does":{"lighting":{"preset":"warm"}}},
    {"label":"M1","track":"m","at":"7|1","does":{"media":{"item":"film"}}}"#;

fn plan(show: &Show) -> Arc<Prepared> {
    Prepared::hypothetical(Arc::new(show.clone()), 0).unwrap()
}

fn row<'a>(plan: &'a Prepared, label: &str) -> &'a Row {
    plan.row(label.parse().unwrap()).unwrap()
}

/// "name: how it is known" of each delay behind a cue.
fn known(show: &Show, label: &str) -> Vec<String> {
    let cue = show.services[0].cues.get(label.parse().unwrap()).unwrap();
    let words = |term: &letfall_core::schedule::LeadTerm| {
        let known = match term.known {
            Known::Measured(times) => format!("measured {times}"),
            Known::Stated => "stated".to_owned(),
            Known::Modelled => "by model".to_owned(),
            Known::Assumed(low, high) => format!("{} to {} ms", low.micros() / 1000, high.micros() / 1000),
        };
        let known_receiver = !matches!(term.known, Known::Assumed(..)) && term.name == "receiver";
        assert_eq!(term.remedy.is_empty(), known_receiver, "{term:?}");
        format!("{}: {known}", term.name)
    };
    lead_terms(show, &cue.does).iter().map(words).collect()
}

const fn ms(millis: i64) -> SongSpan {
    SongSpan::from_millis(millis)
}

#[test]
fn each_kind_of_cue_has_its_delays() {
    let mut show = one(CUES);
    assert_eq!(known(&show, "O1"), ["receiver: stated", "display after a change of route: 500 to 5000 ms"]);
    assert_eq!(known(&show, "L1"), ["receiver: stated", "warm-up of the lamps: 0 to 300 ms"]);
    assert_eq!(known(&show, "M1"), ["receiver: stated", "frame of the player: 0 to 40 ms"]);
    let release = ["contact: stated", "rise of the coil's current: stated", "holding unit: stated", "fall: measured 4"];
    assert_eq!(known(&show, "R1"), [&["receiver: stated"][..], &release].concat());
    show.outputs[1].resync = Some(ms(700));
    show.receivers[0].warm_up = Some(SongSpan::ZERO);
    for receiver in &mut show.receivers {
        receiver.latency.measured = 10;
    }
    assert_eq!(known(&show, "O1"), ["receiver: measured 10", "display after a change of route: stated"]);
    assert_eq!(known(&show, "L1"), ["receiver: measured 10", "warm-up of the lamps: stated"]);
    assert_eq!(known(&show, "M1"), ["receiver: measured 10"]);
    show.hangs[0].measured.clear();
    for (kind, unit) in [
        (UnitKind::Unknown, "holding unit: 10 to 200 ms"),
        (UnitKind::Latch, "holding unit: 10 to 100 ms"),
        (UnitKind::Magnet, "holding unit: 20 to 200 ms"),
    ] {
        show.releases[0].unit_kind = kind;
        show.releases[0].contact = Latency::default();
        let assumed = ["contact: 5 to 20 ms", "rise of the coil's current: 5 to 50 ms", unit, "fall: by model"];
        assert_eq!(known(&show, "R1"), [&["receiver: measured 10"][..], &assumed].concat());
    }
    // A receiver of which nobody has said anything is assumed by what it is for; it moves no send, and makes the range wider.
    let stated = plan(&show);
    for receiver in &mut show.receivers {
        receiver.latency = Latency::default();
    }
    for (label, assumed) in [("O1", "20 to 150"), ("L1", "10 to 80"), ("M1", "30 to 200"), ("R1", "2 to 30")] {
        assert_eq!(known(&show, label)[0], format!("receiver: {assumed} ms"));
    }
    show.receivers.iter_mut().for_each(|receiver| receiver.latency.measured = 10);
    let nothing = plan(&show);
    show.receivers.iter_mut().for_each(|receiver| receiver.latency.measured = 0);
    let unsaid = plan(&show);
    for (label, most) in [("O1", 150), ("L1", 80), ("M1", 200 + 40), ("R1", 30)] {
        assert_eq!(row(&unsaid, label).send, row(&nothing, label).send, "{label}: nothing is sent earlier for it");
        assert!(row(&stated, label).send < row(&unsaid, label).send, "{label}");
        assert_eq!(row(&unsaid, label).late - row(&nothing, label).late, ms(most), "{label}");
    }
    show.receivers.iter_mut().for_each(|receiver| receiver.latency.measured = 10);
    // A contact whose delay was measured is no silent nothing.
    show.releases[0].contact.measured = 3;
    assert_eq!(known(&show, "R1")[1], "contact: measured 3");
    assert_eq!(lead_terms(&show, &show.services[0].cues.get("R1".parse().unwrap()).unwrap().does).len(), 5);
}

#[test]
fn an_assumption_is_said_widens_the_range_and_moves_no_send() {
    let open = one(CUES);
    let mut settled = one(CUES);
    settled.outputs[1].resync = Some(SongSpan::ZERO);
    settled.receivers[0].warm_up = Some(SongSpan::ZERO);
    settled.receivers[1].latency.measured = 10;
    let (before, after) = (plan(&open), plan(&settled));
    for (label, most) in [("O1", 5000), ("L1", 300), ("M1", 40)] {
        let (open, settled) = (row(&before, label), row(&after, label));
        assert_eq!((open.send, open.early), (settled.send, settled.early), "{label}");
        assert_eq!(open.late - settled.late, ms(most), "{label}");
    }
    let words = |show: &Show, label: &str| {
        assumption_words(&lead_terms(show, &show.services[0].cues.get(label.parse().unwrap()).unwrap().does))
    };
    assert_eq!(words(&open, "L1"), "0 of 2 delays measured; assumed: warm-up of the lamps 0 to 300 ms");
    assert_eq!(words(&settled, "L1"), "");
    // What a person has entered does move the send.
    settled.receivers[0].warm_up = Some(ms(150));
    settled.outputs[1].resync = Some(ms(700));
    let entered = plan(&settled);
    assert_eq!(row(&after, "L1").send - row(&entered, "L1").send, ms(150));
    assert_eq!(row(&after, "O1").send - row(&entered, "O1").send, ms(700));
    // The light's fade begins where it did: the lamps take that long before anything is seen.
    assert_eq!(after.stage().lit[0].from, entered.stage().lit[0].from);
}

/// A uniform part of 0.5 to 5 s lies wholly outside 45 ms; one of 0 to 300 ms is inside for 45/300 of cases; both derived.
#[test]
fn the_chance_counts_what_is_assumed() {
    let mut show = one(CUES);
    for receiver in &mut show.receivers {
        receiver.latency.spread = SongSpan::ZERO;
    }
    let chance = |show: &Show, label: &str| {
        let plan = plan(show);
        let sure = certainty(show, plan.cue(row(&plan, label)), row(&plan, label));
        (sure.chance, sure.dominating().map(|(term, _)| term.name()))
    };
    assert_eq!(chance(&show, "O1"), (0.0, Some("what is only assumed")));
    let (inside, most) = chance(&show, "L1");
    assert!((inside - 0.15).abs() < 1e-9, "{inside}");
    assert_eq!(most, Some("what is only assumed"));
    show.receivers[0].warm_up = Some(SongSpan::ZERO);
    assert_eq!(chance(&show, "L1"), (1.0, None));
}

/// MIDI 1.0: a note on is 0.96 ms on the five-pin cable. The message of the cue that waits for one such lands that much later, and its
/// range with it.
#[test]
fn waiting_for_a_port_moves_the_range() {
    let note =
        |label: &str| format!(r#"{{"label":"{label}","track":"m","at":"9|1","does":{{"media":{{"item":"film"}}}}}}"#);
    let mut show = one(&format!("{},{}", note("M1"), note("M2")));
    show.receivers[1].latency = Latency { mean: ms(90), spread: SongSpan::from_micros(300), measured: 10 };
    let two = plan(&show);
    let (first, second) = (row(&two, "M1"), row(&two, "M2"));
    assert_eq!((first.waits.micros(), second.waits.micros()), (0, 960));
    assert_eq!(second.late - first.late, second.waits);
    assert_eq!(second.early, SongSpan::ZERO.max(first.early - second.waits));
    assert!(first.early > SongSpan::ZERO);
    // Sixty wait up to 57 ms, more than the 45 ms that are allowed: the last are not in time.
    let many: Vec<String> = (1..=60).map(|n| note(&format!("M{n}"))).collect();
    let mut show = one(&many.join(","));
    show.receivers[1].latency = Latency { mean: ms(90), spread: SongSpan::ZERO, measured: 10 };
    let plan = plan(&show);
    let chance = |label: &str| certainty(&show, plan.cue(row(&plan, label)), row(&plan, label)).chance;
    assert_eq!((chance("M1"), chance("M45"), chance("M60")), (1.0, 1.0, 0.0));
}
