//! Edits: small cases in a short notation, and properties on random shows.

use super::plans;
use letfall_core::edit::{
    By, Clash, Clipboard, Difference, Edit, EditError, History, Match, PasteAt, Selection, carry, change, compare,
    copy, delete, paste, quantize, repeat, shift, slide, stretch,
};
use letfall_core::show::{Anchor, Label, Show};
use letfall_core::time::{BarBeat, SongSpan, Tick, TickSpan};
use proptest::prelude::*;

/// `L1@5|1` and so on, as cues of the case show.
pub fn cues(text: &str) -> String {
    let cue = |word: &str| {
        let (label, at) = word.split_once('@').unwrap();
        let at = at.replace('~', " ");
        let (track, does) = match &label[..1] {
            "L" => ("l", r#"{"lighting":{"preset":"warm"}}"#),
            "M" => ("m", r#"{"media":{"item":"film"}}"#),
            "R" => ("r", r#"{"release":{"release":"front"}}"#),
            _ => ("o", r#"{"output":{"route":"house-still"}}"#),
        };
        format!(r#"{{"label":"{label}","track":"{track}","at":"{at}","does":{does}}}"#)
    };
    text.split_whitespace().map(cue).collect::<Vec<_>>().join(",")
}

fn notation(show: &Show, service: &str) -> String {
    // As in [`cues`]: "5|3+480~-0.12s".
    let at = |c: &letfall_core::show::Cue| c.at.to_string().replace(" b", "|").replace(" +", "+").replace('t', "");
    let cue = |c: &letfall_core::show::Cue| {
        let nudged = matches!(c.at, Anchor::Grid { nudge, .. } if nudge != SongSpan::ZERO);
        let at = at(c);
        let at = match at.rfind(['+', '-', ' ']).filter(|_| nudged) {
            Some(nudge) => format!("{}~{}", &at[..nudge].trim_end(), &at[nudge..].trim_start()),
            None => at,
        };
        format!("{}@{at}", c.label)
    };
    show.service(service).unwrap().cues.iter().map(cue).collect::<Vec<_>>().join(" ")
}

fn labels(text: &str) -> Vec<Label> {
    text.split_whitespace().map(|l| l.parse().unwrap()).collect()
}

/// Applies an edit, compares, undoes, compares, redoes, compares: every case tests the history too.
fn check(before: &str, edit: impl Fn(&Show) -> Result<Edit, EditError>, after: &str) {
    let mut show = plans::one(&cues(before));
    let original = show.clone();
    let mut history = History::new();
    let edit = edit(&show).unwrap();
    history.commit(&mut show, "Case", edit, Selection::none()).unwrap();
    assert_eq!(notation(&show, "A"), after);
    let changed = show.clone();
    history.undo(&mut show).unwrap();
    assert_eq!(show, original);
    history.redo(&mut show).unwrap();
    assert_eq!(show, changed);
}

#[test]
fn shift_by_bars_keeps_beat_and_nudge() {
    check("L1@5|3+480 L2@9|1~-0.12s", |s| shift(s, "A", &labels("L1 L2"), By::Bars(2)), "L1@7|3+480 L2@11|1~-0.12s");
}

#[test]
fn shift_by_beats_runs_over_bar_lines() {
    check("L1@5|3 L2@5|1", |s| shift(s, "A", &labels("L1 L2"), By::Beats(-3)), "L1@4|4 L2@4|2");
}

#[test]
fn shift_by_time_nudges_the_grid_and_moves_the_clock() {
    let by = By::Time(SongSpan::from_millis(250));
    check("L1@5|3 L2@2.5s", |s| shift(s, "A", &labels("L1 L2"), by), "L1@5|3~+0.25s L2@2.75s");
}

#[test]
fn shift_by_bars_moves_the_clock_by_those_bars() {
    check("L1@2.5s", |s| shift(s, "A", &labels("L1"), By::Bars(2)), "L1@6.5s");
}

#[test]
fn slide_keeps_distances_over_bar_lines() {
    let by = TickSpan::new(2 * 3840);
    check("L1@5|3 L2@2.5s", |s| slide(s, "A", &labels("L1 L2"), Tick::ZERO, by), "L1@7|3 L2@6.5s");
}

#[test]
fn quantize_goes_to_the_nearest_step_and_forgets_the_nudge() {
    let step = TickSpan::new(960);
    check(
        "L1@5|3+500 L2@5|4+900 M1@5|1~+0.2s",
        |s| quantize(s, "A", &labels("L1 L2 M1"), step),
        "L1@5|4 L2@6|1 M1@5|1",
    );
}

#[test]
fn stretch_goes_from_the_earliest() {
    check("L1@5|1 L2@7|1 L3@6|3", |s| stretch(s, "A", &labels("L1 L2 L3"), 1.5), "L1@5|1 L2@8|1 L3@7|2");
}

#[test]
fn repeat_every_four_bars() {
    check(
        "L1@5|1 M1@5|3",
        |s| repeat(s, "A", &labels("L1 M1"), 4, 2).map(|r| r.0),
        "L1@5|1 L2@9|1 L3@13|1 M1@5|3 M2@9|3 M3@13|3",
    );
}

#[test]
fn paste_keeps_distances_and_takes_free_numbers() {
    let at = PasteAt::Tick(Tick::new(4 * 3840 * 2));
    let edit = |s: &Show| paste(s, "A", &copy(s, "A", &labels("L1 L2"))?, at).map(|p| p.0);
    check("L1@5|3 L2@6|1 L7@1|1", edit, "L1@5|3 L2@6|1 L7@1|1 L8@9|1 L9@9|3");
    let same = |s: &Show| paste(s, "A", &copy(s, "A", &labels("L1"))?, PasteAt::SamePlace).map(|p| p.0);
    check("L1@5|3", same, "L1@5|3 L2@5|3");
    assert!(Clipboard::default().is_empty());
}

#[test]
fn delete_and_change() {
    check("L1@1|1 L2@2|1 M1@3|1", |s| delete(s, "A", &labels("L1 M1")), "L2@2|1");
    let mut show = plans::one(&cues("L1@1|1"));
    let edit = change(&show, "A", &labels("L1"), |cue| cue.text = "Dawn".into()).unwrap();
    History::new().commit(&mut show, "Name", edit, Selection::none()).unwrap();
    assert_eq!(show.services[0].cues.as_slice()[0].text, "Dawn");
}

#[test]
fn errors_name_what_is_wrong_and_change_nothing() {
    let mut show = plans::one(&cues("L1@1|1"));
    let original = show.clone();
    assert!(matches!(shift(&show, "A", &labels("L2"), By::Bars(1)), Err(EditError::NoCue(..))));
    assert!(matches!(shift(&show, "B", &labels("L1"), By::Bars(1)), Err(EditError::NoService(..))));
    assert!(matches!(shift(&show, "A", &labels("L1"), By::Bars(i32::MAX)), Err(EditError::Range { .. })));
    assert!(matches!(
        shift(&show, "A", &labels("L1"), By::Time(SongSpan::from_micros(86_400_000_001))),
        Ok(_) | Err(_)
    ));
    assert!(quantize(&show, "A", &labels("L1"), TickSpan::ZERO).is_err());
    assert!(stretch(&show, "A", &labels("L1"), f64::NAN).is_err());
    assert!(repeat(&show, "A", &labels("L1"), 0, 1).is_err());
    // A cue on a track of another kind is refused on commit, and nothing has changed.
    let wrong = change(&show, "A", &labels("L1"), |cue| cue.track = "m".parse().unwrap()).unwrap();
    let mut history = History::new();
    assert!(matches!(history.commit(&mut show, "Wrong", wrong, Selection::none()), Err(EditError::Invalid(_))));
    assert_eq!(show, original);
    assert_eq!(history.depth(), 0);
    // An edit made for another state of the show is refused.
    let stale = shift(&show, "A", &labels("L1"), By::Bars(1)).unwrap();
    history.commit(&mut show, "One", stale.clone(), Selection::none()).unwrap();
    assert!(matches!(history.commit(&mut show, "Again", stale, Selection::none()), Err(EditError::Stale(_))));
}

#[test]
fn saved_state_is_remembered() {
    let mut show = plans::one(&cues("L1@1|1"));
    let mut history = History::new();
    assert!(!history.is_changed());
    let edit = shift(&show, "A", &labels("L1"), By::Bars(1)).unwrap();
    history.commit(&mut show, "One", edit, Selection::none()).unwrap();
    assert!(history.is_changed());
    history.mark_saved();
    history.undo(&mut show).unwrap();
    assert!(history.is_changed());
    let other = shift(&show, "A", &labels("L1"), By::Bars(5)).unwrap();
    history.commit(&mut show, "Other", other, Selection::none()).unwrap();
    assert!(history.is_changed(), "the saved state was on a branch that is gone");
}

/// Carries all of A's cues to B.
fn carried(a: &str, b: &str, matching: Match, clash: Clash) -> (Show, letfall_core::edit::Carried) {
    let sections = |at: i32| format!(r#""sections":[{{"name":"Verse","bar":{at},"bars":8}}],"title""#);
    let a = plans::service("A", 32, &cues(a)).replacen("\"title\"", &sections(1), 1);
    let b = plans::service("B", 20, &cues(b)).replacen("\"title\"", &sections(9), 1).replace("\"120\"", "\"90\"");
    let mut show = plans::show(&format!("[{a},{b}]"));
    let all: Vec<Label> = show.services[0].cues.iter().map(|c| c.label).collect();
    let (edit, told) = carry(&show, "A", "B", &all, matching, clash).unwrap();
    let before = show.clone();
    let mut history = History::new();
    history.commit(&mut show, "Carry", edit, Selection::none()).unwrap();
    let after = show.clone();
    history.undo(&mut show).unwrap();
    assert_eq!(show, before);
    (after, told)
}

#[test]
fn carry_by_bars_sections_and_clock() {
    let (show, told) = carried("L1@5|3 L2@25|1 M1@2|1~-0.5s", "", Match::Bars, Clash::Keep);
    assert_eq!(notation(&show, "B"), "L1@5|3 M1@2|1~-0.5s");
    assert_eq!(told.no_bar, labels("L2"));
    let (show, told) = carried("L1@5|3 L2@9|1", "", Match::Sections, Clash::Keep);
    assert_eq!(notation(&show, "B"), "L1@13|3");
    assert_eq!(told.no_section, labels("L2"));
    // On the clock 3.5 s are 2|4 at 120; at 90 that is 4.667 s.
    let (show, _) = carried("L2@3.5s", "", Match::Bars, Clash::Keep);
    assert_eq!(notation(&show, "B"), "L2@4.666667s");
    // 120 against 90: bar 5 of A is at 8 s, bar 4 of B.
    let (show, _) = carried("L1@5|1 L2@3.5s", "", Match::Clock, Clash::Keep);
    assert_eq!(notation(&show, "B"), "L1@4|1 L2@3.5s");
}

#[test]
fn clash_policies() {
    let (show, told) = carried("L1@5|1 L2@6|1", "L1@9|1", Match::Bars, Clash::Keep);
    assert_eq!((notation(&show, "B").as_str(), told.kept), ("L1@9|1 L2@6|1", labels("L1")));
    let (show, told) = carried("L1@5|1", "L1@9|1 L4@5|1", Match::Bars, Clash::Replace);
    assert_eq!((notation(&show, "B").as_str(), told.replaced), ("L1@5|1", labels("L1 L4")));
    let (show, told) = carried("L1@5|1", "L1@9|1", Match::Bars, Clash::Both);
    assert_eq!(notation(&show, "B"), "L1@9|1 L2@5|1");
    assert_eq!(told.relabelled, [(labels("L1")[0], labels("L2")[0])]);
}

#[test]
fn compare_tells_what_differs() {
    let (show, _) = carried("L1@5|1 L2@6|1", "M1@9|1", Match::Bars, Clash::Keep);
    let found = compare(&show, "A", "B", Match::Bars).unwrap();
    assert_eq!(found, [Difference::OnlySecond(labels("M1")[0])]);
    let (show, _) = carried("L1@5|1", "L1@9|1", Match::Bars, Clash::Keep);
    let found = compare(&show, "A", "B", Match::Bars).unwrap();
    assert!(matches!(&found[..], [Difference::Differs(_, fields)] if fields.len() == 1 && fields[0].name == "at"));
}

#[test]
fn compare_by_section_knows_the_same_place_at_another_bar() {
    let (mut show, _) = carried("L1@9|2 L2@11|1", "L1@13|2 L2@11|1", Match::Bars, Clash::Keep);
    let sections = |bar: i32| {
        serde_json::from_value(
            serde_json::json!([{"name": "Verse", "bar": bar, "bars": 4}, {"name": "Coda", "bar": bar + 4, "bars": 4}]),
        )
        .unwrap()
    };
    show.services[0].song.sections = sections(9);
    show.services[1].song.sections = sections(13);
    let differing = |matching| -> Vec<String> {
        let found = compare(&show, "A", "B", matching).unwrap();
        found
            .into_iter()
            .map(|d| match d {
                Difference::Differs(label, _) => label.to_string(),
                other => format!("{other:?}"),
            })
            .collect()
    };
    // L1 is on bar 1 of the verse in both; L2 is not.
    assert_eq!(differing(Match::Sections), ["L2"]);
    assert_eq!(differing(Match::Bars), ["L1"]);
}

/// A show on a random grid with random cues, and a second service on another random grid.
fn random_show() -> impl Strategy<Value = Show> {
    let anchor = prop_oneof![
        4 => (1i32..40, 1u16..3, 0u32..900, prop::option::of(-500_000i64..500_000)).prop_map(|(bar, beat, tick, nudge)| {
            Anchor::Grid { place: BarBeat { bar, beat, tick }, nudge: SongSpan::from_micros(nudge.unwrap_or(0)) }
        }),
        1 => (0i64..60_000_000).prop_map(|us| Anchor::Clock(letfall_core::time::SongTime::saturating(us))),
    ];
    (plans::plan(), plans::plan(), prop::collection::vec(anchor, 1..40)).prop_map(|(a, b, anchors)| {
        let list: Vec<String> = (1..=anchors.len()).map(|n| format!("L{n}@1|1")).collect();
        let services = [plans::service("A", 60, &cues(&list.join(" "))), plans::service("B", 60, "")];
        let mut show = plans::show(&format!("[{}]", services.join(",")));
        show.services[0].song.grid = a;
        show.services[1].song.grid = b;
        let all: Vec<Label> = show.services[0].cues.iter().map(|c| c.label).collect();
        let mut next = anchors.into_iter();
        let edit = change(&show, "A", &all, |cue| cue.at = next.next().unwrap()).unwrap();
        edit.apply(&mut show).unwrap();
        show
    })
}

type Verb<'a> = Box<dyn Fn(&Show) -> Result<Edit, EditError> + 'a>;

fn all(show: &Show) -> Vec<Label> {
    show.services[0].cues.iter().map(|c| c.label).collect()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn shifting_forth_and_back_is_the_identity(show in random_show(), bars in -30i32..30, beats in -100i64..100, us in -5_000_000i64..5_000_000) {
        for (forth, back) in [
            (By::Bars(bars), By::Bars(-bars)),
            (By::Beats(beats), By::Beats(-beats)),
            (By::Time(SongSpan::from_micros(us)), By::Time(SongSpan::from_micros(-us))),
        ] {
            let mut moved = show.clone();
            // Clock-anchored cues come back exactly by time; by bars only if the bars are alike (see `shift`).
            let labels: Vec<Label> = show.services[0].cues.iter()
                .filter(|c| matches!(c.at, Anchor::Grid { .. }) || matches!(forth, By::Time(_)))
                .map(|c| c.label).collect();
            let grid = show.services[0].song.grid.build().unwrap();
            let before: Vec<_> = show.services[0].cues.iter().map(|c| c.at.time(&grid)).collect();
            shift(&moved, "A", &labels, forth).unwrap().apply(&mut moved).unwrap();
            shift(&moved, "A", &labels, back).unwrap().apply(&mut moved).unwrap();
            let after: Vec<_> = moved.services[0].cues.iter().map(|c| c.at.time(&grid)).collect();
            prop_assert_eq!(before, after);
            if !matches!(forth, By::Beats(_)) {
                prop_assert_eq!(&moved, &show);
            }
        }
    }

    #[test]
    fn undo_restores_equality(show in random_show(), bars in 1i32..30, factor in 0.2f64..3.0, step in 1i64..4000) {
        let mut now = show.clone();
        let mut history = History::new();
        let labels = all(&show);
        let edits: Vec<Verb<'_>> = vec![
            Box::new(|s| shift(s, "A", &labels, By::Bars(bars))),
            Box::new(|s| stretch(s, "A", &labels, factor)),
            Box::new(|s| quantize(s, "A", &labels, TickSpan::new(step))),
            Box::new(|s| repeat(s, "A", &labels, bars, 3).map(|r| r.0)),
            Box::new(|s| carry(s, "A", "B", &labels, Match::Clock, Clash::Both).map(|r| r.0)),
            Box::new(|s| delete(s, "A", &labels)),
        ];
        let mut states = vec![now.clone()];
        for edit in &edits {
            let edit = edit(&now).unwrap();
            history.commit(&mut now, "Step", edit, Selection::none()).unwrap();
            if now != states[states.len() - 1] {
                states.push(now.clone());
            }
        }
        for state in states.iter().rev().skip(1) {
            history.undo(&mut now).unwrap();
            prop_assert_eq!(&now, state);
        }
        prop_assert_eq!(&now, &show);
        for state in states.iter().skip(1) {
            history.redo(&mut now).unwrap();
            prop_assert_eq!(&now, state);
        }
    }

    #[test]
    fn carrying_by_bar_keeps_every_bar_and_beat(show in random_show()) {
        let labels = all(&show);
        let mut other = show.clone();
        let (edit, told) = carry(&show, "A", "B", &labels, Match::Bars, Clash::Keep).unwrap();
        edit.apply(&mut other).unwrap();
        for cue in &other.services[1].cues {
            let source = show.services[0].cues.get(cue.label).unwrap();
            if let Anchor::Grid { .. } = source.at {
                prop_assert_eq!(cue.at, source.at);
            }
        }
        prop_assert_eq!(other.services[1].cues.len() + told.no_bar.len(), labels.len());
    }
}

/// A show with a release, and a handover to plan for it. The release's fall comes from measured drops.
fn with_handover() -> (Show, letfall_core::show::Handover) {
    let r1 = r#"{"label":"R1","track":"r","at":"17|1","does":{"release":{"release":"front","lands":"sightline"}}}"#;
    let handover = serde_json::json!({
        "release": "R1", "from": "front", "to": "house",
        "leave": {"after": "sightline", "offset_us": 120_000, "route": "front-blank"},
        "arrive": {"after": "let-go", "offset_us": 0, "route": "house-still"},
    });
    (plans::one(r1), serde_json::from_value(handover).unwrap())
}

#[test]
fn a_handover_is_planned_as_one_thing_and_planned_again() {
    use letfall_core::edit::plan_handover;
    let (mut show, handover) = with_handover();
    let before = show.clone();
    let (edit, labels) = plan_handover(&show, "A", &handover).unwrap();
    edit.apply(&mut show).unwrap();
    assert_eq!(labels.map(|l| l.to_string()), ["O1", "O2"]);
    let at = |show: &Show, n: usize| show.services[0].cues.get(labels[n]).unwrap().at;
    // Leaving: 120 ms after the land, which is the sightline. Arriving: at let-go, which is earlier by the length of the fall.
    let fall = letfall_core::reveal::fall_time(&show.hangs[0], letfall_core::show::Instant::Sightline).expected;
    assert_eq!(at(&show, 0).to_string(), "17 b1 +0.12s");
    let arrives = at(&show, 1).to_string();
    let early: f64 = arrives.strip_prefix("17 b1 -").unwrap().strip_suffix('s').unwrap().parse().unwrap();
    assert!((early - fall).abs() < 2e-6, "{arrives} {fall}");
    assert_eq!(plans::problems(&show).iter().filter(|p| p.code.text().starts_with("handover")).count(), 0);
    // Without the measured drops the fall takes another time. Replanning moves the same two cues.
    show.hangs[0].measured.clear();
    assert!(plans::problems(&show).iter().any(|p| p.code.text() == "handover-moved"));
    let kept = show.services[0].handovers[0].clone();
    let (again, same) = plan_handover(&show, "A", &kept).unwrap();
    again.apply(&mut show).unwrap();
    assert_eq!(same, labels);
    assert_ne!(at(&show, 1).to_string(), arrives);
    assert_eq!(show.services[0].cues.len(), 3);
    assert!(!plans::problems(&show).iter().any(|p| p.code.text() == "handover-moved"));
    again.revert(&mut show).unwrap();
    show.hangs.clone_from(&before.hangs);
    edit.revert(&mut show).unwrap();
    assert_eq!(show, before, "both steps are undone exactly");
}

#[test]
fn a_handover_that_cannot_be_is_refused_with_the_reason() {
    use letfall_core::edit::plan_handover;
    let (show, handover) = with_handover();
    let refused = |change: &dyn Fn(&mut Show, &mut letfall_core::show::Handover)| {
        let (mut show, mut handover) = (show.clone(), handover.clone());
        change(&mut show, &mut handover);
        plan_handover(&show, "A", &handover).unwrap_err().to_string()
    };
    assert!(refused(&|_, h| h.release = "R7".parse().unwrap()).contains("has no cue R7"));
    assert!(refused(&|_, h| h.leave.route = "house-still".parse().unwrap()).contains("is no route of"));
    assert!(refused(&|s, _| s.tracks.retain(|t| t.key.as_str() != "o")).contains("no output track"));
    assert!(refused(&|s, _| s.hangs.clear()).contains("lets no fabric go"));
}

/// A service is not carried to itself: with “both” every cue would be doubled, releases too.
#[test]
fn a_service_is_not_carried_to_itself() {
    let show = plans::one(&cues("L1@5|1 R1@9|1"));
    for clash in [Clash::Keep, Clash::Replace, Clash::Both] {
        let why = carry(&show, "A", "A", &labels("L1 R1"), Match::Bars, clash).unwrap_err();
        assert!(why.to_string().contains("cannot be carried to itself"), "{why}");
    }
}
