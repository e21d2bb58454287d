//! Where pages of the call sheet turn: where a hand is free. For tests: it reads the typeset pages.

use crate::legible::{Run, demo, runs_of};
use crate::options::{Sheet, Size};
use serde_json::json;

/// The late service with calls an operator presses for, `apart` bars from each other, but for one pause of `pause` bars.
fn with_calls(count: usize, apart: usize, pause: usize) -> Vec<Vec<Run>> {
    let plan = demo(|file| {
        let service = &mut file["show"]["services"][1];
        let cues = service["cues"].as_array_mut().expect("cues");
        cues.retain(|cue| cue["label"] == "R1" || cue["label"] == "O2" || cue["label"] == "O3");
        cues[0]["at"] = json!({"bar": 600, "beat": 1});
        for n in 0..count {
            let bar = 10 + n * apart + if n > count / 2 { pause } else { 0 };
            cues.push(json!({"label": format!("L{}", 100 + n), "track": "lighting", "at": {"bar": bar, "beat": 1},
                "does": {"lighting": {"preset": "verse"}}, "call": {"goes": "operator", "standby_us": 0}}));
        }
        service["handovers"] = json!([]);
        service["song"] = json!({"title": "Long", "bars": 700,
            "grid": {"metres": [{"bar": 1, "metre": "4/4"}], "tempos": [{"at": {"bar": 1, "beat": 1}, "tempo": "120"}]}});
        file["show"]["releases"][0]["hang_up"]["hold"] = json!([]);
        file["show"]["services"].as_array_mut().expect("services").remove(0);
        let only = file["show"]["services"][0].clone();
        file["show"]["services"] = json!([{"name": "First", "song": only["song"], "cues": []}, only]);
    });
    runs_of(&plan, Sheet::Calls, Size::A4)
}

fn has(page: &[Run], text: &str) -> bool {
    page.iter().map(|run| run.text.as_str()).collect::<String>().contains(text)
}

/// From the release's standby to what is said after its land, everything is on one page, if a page can hold it.
#[test]
fn no_page_turns_in_a_reveal() {
    for count in 0..40 {
        let pages = with_calls(count, 4, 0);
        let page = |text: &str| pages.iter().position(|page| has(page, text)).unwrap_or_else(|| panic!("{text}"));
        let reveal = page("Reveal R1");
        for text in ["Standby release 1", "Arm on", "LAND", "Count-down to R1", "Arm off"] {
            assert_eq!(page(text), reveal, "{text}, with {count} calls before");
        }
        assert!(!pages.iter().any(|page| has(page, "TURNS BEFORE")), "{count}");
    }
}

/// "turn" stands at the foot of a page that goes on, and the last line is repeated on top of the next.
#[test]
fn the_last_line_is_repeated_on_top() {
    let pages = with_calls(60, 4, 0);
    let go = |run: &&Run| run.text.contains("Lights") || run.text.trim() == "L100" || run.text.starts_with("L1");
    let mut turns = 0;
    for pair in pages.windows(2).filter(|pair| has(&pair[0], "turn") && !has(&pair[1], "Reveal")) {
        let last =
            pair[0].iter().filter(go).max_by(|a, b| a.baseline.total_cmp(&b.baseline)).map(|run| run.text.clone());
        let first = pair[1]
            .iter()
            .filter(go)
            .filter(|run| run.text.starts_with("L1"))
            .min_by(|a, b| a.baseline.total_cmp(&b.baseline));
        assert_eq!(last, first.map(|run| run.text.clone()));
        turns += 1;
    }
    assert!(turns >= 2, "{turns}");
}

/// A page turns at its longest pause, if that is in its second half.
#[test]
fn a_page_turns_at_the_longest_pause() {
    // One long pause among calls that are all equally far apart: it moves through the second half of a page, and the turn with it.
    let mut found = 0;
    for count in 14..44 {
        let pages = with_calls(count, 4, 40);
        let before = format!("L{}", 100 + count / 2);
        let Some(page) = pages.iter().position(|page| page.iter().any(|run| run.text.trim() == before)) else {
            continue;
        };
        let feet: Vec<&Run> = pages[page].iter().filter(|run| run.text.contains("turn")).collect();
        let place =
            pages[page].iter().filter(|run| run.text.trim() == before).map(|run| run.baseline).fold(0.0, f64::max);
        if place < 520.0 || feet.is_empty() {
            continue;
        }
        let after = format!("L{}", 101 + count / 2);
        assert!(!pages[page].iter().any(|run| run.text.trim() == after), "{count}: {after} is on the same page");
        found += 1;
    }
    assert!(found > 0, "the pause was never in the second half of a page");
}

/// What cannot be kept on a page says that it turns early.
#[test]
fn a_page_that_must_turn_early_says_so() {
    let plan = demo(|file| {
        let cues = file["show"]["services"][1]["cues"].as_array_mut().expect("cues");
        for n in 0..40 {
            cues.push(json!({"label": format!("L{}", 100 + n), "track": "lighting", "at": {"bar": 46 + n / 4, "beat": 1 + n % 2},
                "does": {"lighting": {"preset": "verse"}}, "call": {"goes": "operator"}}));
        }
    });
    let pages = runs_of(&plan, Sheet::Calls, Size::A4);
    assert!(pages.iter().any(|page| has(page, "TURNS BEFORE THE REVEAL IS OVER")));
    assert!(pages.iter().any(|page| has(page, "LAND")));
}
