//! A cue that comes after another comes after that one's copy, wherever both are copied.

use super::checks::light;
use super::plans::{one, service, show};
use letfall_core::edit::{Clash, Match, PasteAt, carry, copy, paste, repeat};
use letfall_core::show::{Goes, Label, Show};
use letfall_core::time::TickSpan;

/// L1, and L2 after it.
fn two() -> String {
    let second = light("L2", "5|3", "cold").replace("\"does\"", "\"call\":{\"goes\":{\"after\":\"L1\"}},\"does\"");
    format!("{},{second}", light("L1", "5|1", "warm"))
}

fn label(text: &str) -> Label {
    text.parse().unwrap()
}

/// What each cue of a service comes after.
fn after(show: &Show, at: usize) -> Vec<String> {
    let service = &show.services[at];
    let told = service.cues.iter().filter_map(|cue| match show.goes(cue) {
        Goes::After(first) => Some(format!("{} after {first}", cue.label)),
        _ => None,
    });
    told.collect()
}

#[test]
fn pasted_and_repeated_cues_follow_their_own() {
    let mut show = one(&two());
    let clipboard = copy(&show, "A", &[label("L1"), label("L2")]).unwrap();
    let tick = letfall_core::time::Tick::new(0) + TickSpan::new(40_000);
    let (edit, _) = paste(&show, "A", &clipboard, PasteAt::Tick(tick)).unwrap();
    edit.apply(&mut show).unwrap();
    assert_eq!(after(&show, 0), ["L2 after L1", "L4 after L3"]);
    // Alone, a copy still follows the one that was there.
    let clipboard = copy(&show, "A", &[label("L2")]).unwrap();
    let (edit, _) = paste(&show, "A", &clipboard, PasteAt::SamePlace).unwrap();
    edit.apply(&mut show).unwrap();
    assert_eq!(after(&show, 0), ["L2 after L1", "L4 after L3", "L5 after L1"]);
    let mut show = one(&two());
    let (edit, _) = repeat(&show, "A", &[label("L1"), label("L2")], 4, 2).unwrap();
    edit.apply(&mut show).unwrap();
    assert_eq!(after(&show, 0), ["L2 after L1", "L4 after L3", "L6 after L5"]);
}

#[test]
fn carried_cues_follow_their_own() {
    let (source, other) = (service("A", 32, &two()), service("B", 32, &light("L1", "9|1", "warm")));
    let mut show = show(&format!("[{source},{other}]"));
    let labels = [label("L1"), label("L2")];
    let (edit, told) = carry(&show, "A", "B", &labels, Match::Bars, Clash::Both).unwrap();
    edit.apply(&mut show).unwrap();
    // L1 of B is another; the carried L1 gets a free label, and L2 goes after it.
    assert_eq!(told.relabelled.len(), 1, "{told:?}");
    let new = told.relabelled[0].1;
    assert_eq!(after(&show, 1), [format!("L2 after {new}")]);
}
