//! Paper loses nothing: with any number of calls, in bursts, with long words, everything said is on the call sheet. The pages are read by
//! the printer itself, which refuses to print if something is missing; that it sees what is missing is tested beside it.

#![allow(clippy::unwrap_used, missing_docs)]

use letfall_core::prepared::Prepared;
use letfall_core::show::Show;
use letfall_paper::{PaperOptions, Sheet, Size, print};
use proptest::prelude::*;
use std::sync::Arc;

/// The learning show with more called lighting cues: how many, from which bar, how far apart, and with which words.
fn with_calls(count: usize, from: usize, apart_ticks: usize, words: &str) -> Show {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../../demo-shows/first-opener.letfall");
    let mut file: serde_json::Value = serde_json::from_slice(&std::fs::read(path).unwrap()).unwrap();
    let service = &mut file["show"]["services"][0];
    service["song"]["bars"] = serde_json::json!(1000);
    let cues = service["cues"].as_array_mut().unwrap();
    for n in 0..count {
        let tick = n * apart_ticks;
        let at = serde_json::json!({"bar": from + tick / 3840, "beat": 1 + tick % 3840 / 960, "ticks": tick % 960});
        let own = if n % 7 == 0 { words } else { "" };
        let call = serde_json::json!({"goes": "operator", "go_words": own});
        cues.push(serde_json::json!({"label": format!("L{}", 20 + n), "track": "lighting", "at": at, "call": call,
            "does": {"lighting": {"preset": "low"}}}));
    }
    letfall_core::file::read(&serde_json::to_vec(&file).unwrap()).unwrap()
}

fn pages(show: Show, sheet: Sheet, size: Size) -> Result<usize, String> {
    let plan = Prepared::hypothetical(Arc::new(show), 0).unwrap();
    let options = PaperOptions { sheet, size, ..PaperOptions::default() };
    print(&plan, &options).map(|paper| paper.pages).map_err(|why| why.to_string())
}

/// Seen once: with twelve lighting cues in the three bars before the release, the sheet lost the go, the count-down and the plan for a
/// stuck fabric without a word.
#[test]
fn twelve_calls_before_the_release() {
    for size in [Size::A4, Size::Letter] {
        let pages = pages(with_calls(12, 6, 960, "go now"), Sheet::Calls, size);
        assert!(pages.as_ref().is_ok_and(|pages| *pages <= 5), "{pages:?}");
    }
}

#[test]
fn three_thousand_calls_and_many_drops() {
    assert!(pages(with_calls(3000, 1, 960, "and now"), Sheet::Calls, Size::A4).unwrap() > 100);
    let mut show = with_calls(1, 6, 960, "x");
    show.hangs[0].measured = vec![show.hangs[0].measured[0].clone(); 120];
    assert!(pages(show, Sheet::Release, Size::A4).unwrap() > 3);
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 10, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn bursts_of_calls(count in 0usize..160, from in 1usize..9, apart in 60usize..2000, word in "[a-zäöü]{1,90}", times in 1usize..12) {
        let words = vec![word; times].join(" ");
        let show = with_calls(count, from, apart, &words);
        for sheet in [Sheet::Calls, Sheet::Lighting] {
            prop_assert!(pages(show.clone(), sheet, Size::A4).is_ok(), "{:?}", pages(show.clone(), sheet, Size::A4));
        }
    }
}

/// A row that is higher than a page breaks. Seen: it ran off the foot of its page, and the rest of a long note was not on paper.
#[test]
fn a_text_of_more_than_a_page() {
    let long = "watch the left edge ".repeat(400);
    let mut show = with_calls(1, 6, 960, "x");
    let label = "M1".parse().unwrap();
    let edit = letfall_core::edit::change(&show, "Evening", &[label], |cue| long.clone_into(&mut cue.note)).unwrap();
    edit.apply(&mut show).unwrap();
    let item = serde_json::json!([{"name": long, "quantity": 1, "note": long}]);
    show.kit = serde_json::from_value(item).unwrap();
    for sheet in [Sheet::Order, Sheet::Media, Sheet::Kit] {
        assert!(pages(show.clone(), sheet, Size::A4).unwrap() > 1, "{sheet:?}");
    }
}
