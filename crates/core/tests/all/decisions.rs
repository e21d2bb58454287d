//! When it must be settled whether a release goes.

use super::plans::{one, problems};
use letfall_core::check::Code;
use letfall_core::prepared::Prepared;
use letfall_core::schedule::{DECIDE_AHEAD, Decision};
use letfall_core::show::{Handover, HandoverStep, Instant, Label, Show};
use letfall_core::time::SongSpan;
use std::sync::Arc;

const CUES: &str = r#"{"label":"R1","track":"r","at":"17|1","does":{"release":{"release":"front","lands":"sightline"}}},
    {"label":"O1","track":"o","at":"17|1","does":{"output":{"route":"house-still"}}},
    {"label":"O2","track":"o","at":"17|1 +0.5s","does":{"output":{"route":"front-blank"}}}"#;

fn label(text: &str) -> Label {
    text.parse().unwrap()
}

/// A show whose handover has these cues.
fn show(cues: &[&str]) -> Show {
    let mut show = one(CUES);
    let step =
        |route: &str| HandoverStep { after: Instant::Sightline, offset: SongSpan::ZERO, route: route.parse().unwrap() };
    show.services[0].handovers = vec![Handover {
        release: label("R1"),
        from: "front".parse().unwrap(),
        to: "house".parse().unwrap(),
        leave: step("front-blank"),
        arrive: step("house-still"),
        cues: cues.iter().map(|text| label(text)).collect(),
    }];
    show
}

fn decided(show: &Show) -> (Decision, Arc<Prepared>) {
    let plan = Prepared::hypothetical(Arc::new(show.clone()), 0).unwrap();
    (plan.schedule().decision(show, &show.services[0], label("R1")).unwrap(), plan)
}

/// The release's own message leaves long before its land, because the fall takes its time; without anything earlier it is the one that counts.
#[test]
fn it_is_settled_a_second_before_the_first_message_that_depends_on_it() {
    let (decision, plan) = decided(&show(&["O1", "O2"]));
    let sent = |text: &str| plan.row(label(text)).unwrap().send;
    assert!(sent("R1") < sent("O1"), "the demo of a usual plan");
    assert_eq!(decision, Decision { at: sent("R1") - DECIDE_AHEAD, first: label("R1") });
    // An output whose switch takes longer than the fall leaves before the release; then it is the one that counts.
    let mut slow = show(&["O1", "O2"]);
    slow.outputs[1].switch = SongSpan::from_millis(4000);
    let (decision, plan) = decided(&slow);
    let sent = |text: &str| plan.row(label(text)).unwrap().send;
    assert!(sent("O1") < sent("R1"));
    assert_eq!(decision, Decision { at: sent("O1") - DECIDE_AHEAD, first: label("O1") });
    // What is no part of the handover, rests, or is set off by a hand, holds nobody to a time.
    let (alone, plan) = decided(&show(&[]));
    assert_eq!(alone.at, plan.row(label("R1")).unwrap().send - DECIDE_AHEAD);
    for change in [(|cue| cue.resting = true) as fn(&mut letfall_core::show::Cue), |cue| {
        cue.call = Some(serde_json::from_str(r#"{"goes":"operator"}"#).unwrap());
    }] {
        let mut other = slow.clone();
        let mut cue = other.services[0].cues.get(label("O1")).unwrap().clone();
        change(&mut cue);
        other.services[0].cues.put(vec![cue]);
        assert_eq!(decided(&other).0.first, label("R1"));
    }
    assert_eq!(plan.schedule().decision(&slow, &slow.services[0], label("R9")), None);
}

/// The window opens at least three seconds before that, or the check stops: a hand that holds later changes nothing any more.
#[test]
fn a_window_that_opens_after_the_decision_stops() {
    let late = |millis: i64| {
        let mut show = show(&["O1"]);
        show.outputs[1].switch = SongSpan::from_millis(4000);
        show.releases[0].arm_before = SongSpan::from_millis(millis);
        let found = problems(&show).into_iter().find(|problem| problem.code == Code::ArmTooLate);
        found.map(|problem| problem.to_string())
    };
    // By hand: O1 leaves 4 s of switch, 90 ms of its receiver and 960 µs (three bytes of 320 µs) before 17|1; R1 0.8 s of fall, 40 ms and
    // 10 ms of contact and box and 960 µs before. So 3.240 s lie between, and 1 s and 3 s before that the window must be open.
    let told = late(7_239).expect("too late");
    assert!(told.contains("O1 is sent, which depends on it"), "{told}");
    assert_eq!(late(7_242), None);
}
