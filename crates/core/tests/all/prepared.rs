//! Prepared plans: equal input gives equal plans, different input different ones, and a plan never changes later.

use super::plans::{one, prepared, service, show};
use letfall_core::prepared::{OutsideFacts, PrepareError, Prepared, PreparedShow};
use letfall_core::show::{Guide, Show};
use std::sync::Arc;

const CUES: &str = r#"{"label":"L2","track":"l","at":"5|1","does":{"lighting":{"preset":"warm"}}},
    {"label":"L1","track":"l","at":"9|1","does":{"lighting":{"preset":"cold"}}},
    {"label":"M1","track":"m","at":"5|1","does":{"media":{"item":"film"}}}"#;

fn with_guide(path: &str) -> Show {
    let mut show = one(CUES);
    let guide = serde_json::json!({ "path": path, "sha256": "ab", "length_us": 60_000_000 });
    show.services[0].song.guide = Some(serde_json::from_value(guide).unwrap());
    show
}

fn looked_up(show: &Show, sum: Option<&str>) -> Arc<Prepared> {
    let guide: &Guide = show.services[0].song.guide.as_ref().unwrap();
    let mut facts = OutsideFacts::none();
    facts.note_guide(guide, sum.map(str::to_owned));
    PreparedShow::new(Arc::new(show.clone()), facts).prepare(0).unwrap()
}

/// Everything that can be read of a plan, as text.
fn read(plan: &Prepared) -> String {
    let rows = &plan.schedule().rows;
    format!(
        "{rows:?} {:?} {:?} {:?} {:?} {:?} {:?} {:?} {}",
        plan.stage(),
        plan.calls(),
        plan.call_groups(),
        plan.all_problems().collect::<Vec<_>>(),
        plan.tracks(),
        plan.ends(),
        plan.levels(),
        plan.fingerprint(),
    )
}

#[test]
fn it_does_not_matter_when_a_part_is_worked_out() {
    let (lazy, whole) = (prepared(&one(CUES)), prepared(&one(CUES)));
    whole.complete();
    assert_eq!(read(&lazy), read(&whole));
}

#[test]
fn cues_and_rows_lead_to_each_other() {
    let plan = prepared(&one(CUES));
    for row in &plan.schedule().rows {
        assert_eq!(plan.row(row.label), Some(row));
        assert_eq!(plan.cue(row).label, row.label);
    }
    assert!(plan.row("L9".parse().unwrap()).is_none());
    let lighting = plan.tracks().iter().find(|t| t.key.as_str() == "l").unwrap();
    let labels: Vec<String> =
        lighting.rows.iter().map(|at| plan.schedule().rows[*at as usize].label.to_string()).collect();
    assert_eq!(labels, ["L2", "L1"], "in order of landing, not of label");
}

#[test]
fn a_fingerprint_is_of_all_that_was_read() {
    let plan = |show: &Show| prepared(show).fingerprint();
    let base = one(CUES);
    assert_eq!(plan(&base), plan(&base.clone()));
    let mut other = base.clone();
    other.safety.abort_words.push_str("stop");
    assert_ne!(plan(&base), plan(&other), "facts that no message depends on count too");
    let two = show(&format!("[{},{}]", service("A", 40, CUES), service("B", 40, CUES)));
    let both = PreparedShow::new(Arc::new(two), OutsideFacts::none());
    assert_ne!(both.prepare(0).unwrap().fingerprint(), both.prepare(1).unwrap().fingerprint());
    let guided = with_guide("song.wav");
    let prints = [None, Some("ab"), Some("cd")].map(|sum| looked_up(&guided, sum).fingerprint());
    assert!(prints[0] != prints[1] && prints[1] != prints[2] && !prints.contains(&plan(&guided)));
}

#[test]
fn recordings_are_told_only_where_somebody_looked() {
    let guided = with_guide("song.wav");
    let codes = |plan: &Prepared| plan.problems().iter().map(|p| p.code.text()).collect::<Vec<_>>();
    let found =
        |sum| codes(&looked_up(&guided, sum)).into_iter().filter(|c| c.starts_with("guide-")).collect::<Vec<_>>();
    assert_eq!(found(None), ["guide-missing"]);
    assert_eq!(found(Some("cd")), ["guide-changed"]);
    assert_eq!(found(Some("AB")), [""; 0]);
    assert!(!codes(&prepared(&guided)).iter().any(|c| c.starts_with("guide-")));
}

#[test]
fn a_service_that_is_not_there_has_no_plan() {
    let show = PreparedShow::new(Arc::new(one(CUES)), OutsideFacts::none());
    assert_eq!(show.prepare(1).unwrap_err(), PrepareError::NoService);
    assert_eq!(show.prepare_named("Nobody").unwrap_err(), PrepareError::NoService);
    assert_eq!(show.prepare_named("A").unwrap().service_at(), 0);
}
