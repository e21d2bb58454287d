//! Whether pages can be read in the dark: size, contrast, nothing set over anything else. For tests: it looks at the typeset pages themselves.

use crate::options::{PaperOptions, Sheet, Size};
use letfall_core::filmed::{FilmPage, FilmedCue, FilmedFall, FilmedReason, FilmedReceiver};
use letfall_core::prepared::Prepared;
use letfall_core::show::Show;
use std::sync::Arc;
use typst::layout::{Frame, FrameItem, Point, Transform};
use typst::visualize::Paint;

/// A run of text as it lies on a page: in points from its top left corner.
pub struct Run {
    pub text: String,
    size: f64,
    left: f64,
    right: f64,
    pub baseline: f64,
    /// Relative luminance, 0 to 1 (WCAG 2.2).
    luminance: f64,
}

fn luminance(paint: &Paint) -> f64 {
    let Paint::Solid(colour) = paint else { return 0.0 };
    let rgb = colour.to_linear_rgb();
    0.2126 * f64::from(rgb.red) + 0.7152 * f64::from(rgb.green) + 0.0722 * f64::from(rgb.blue)
}

fn collect(frame: &Frame, to_page: Transform, runs: &mut Vec<Run>) {
    for (place, item) in frame.items() {
        match item {
            FrameItem::Text(text) => {
                let at = Point::new(place.x, place.y).transform(to_page);
                let scale = to_page.sy.get().abs();
                runs.push(Run {
                    text: text.text.to_string(),
                    size: text.size.to_pt() * scale,
                    left: at.x.to_pt(),
                    right: at.x.to_pt() + text.width().to_pt() * to_page.sx.get().abs(),
                    baseline: at.y.to_pt(),
                    luminance: luminance(&text.fill),
                });
            }
            FrameItem::Group(group) => {
                let here = to_page.pre_concat(Transform::translate(place.x, place.y)).pre_concat(group.transform);
                collect(&group.frame, here, runs);
            }
            _ => {}
        }
    }
}

/// The demo show: as it is, or with longer labels, hours and more cues.
pub fn demo(change: impl FnOnce(&mut serde_json::Value)) -> Arc<Prepared> {
    let show = include_bytes!("../../../demo-shows/lantern-night.letfall");
    let mut file = serde_json::from_slice(show).expect("JSON");
    change(&mut file);
    let show: Show = letfall_core::file::read(&serde_json::to_vec(&file).expect("JSON")).expect("a show");
    Prepared::hypothetical(Arc::new(show), 1).expect("its late service")
}

/// Over an hour, past midnight, 400 cues, labels of three figures.
fn long_service(file: &mut serde_json::Value) {
    let service = &mut file["show"]["services"][1];
    service["starts"] = serde_json::json!("23:30:00");
    service["song"] = serde_json::json!({"title": "A long evening with a title that goes on", "bars": 2400,
        "grid": {"metres": [{"bar": 1, "metre": "4/4"}], "tempos": [{"at": {"bar": 1, "beat": 1}, "tempo": "120"}]}});
    service["cues"][0]["at"] = serde_json::json!({"bar": 2000, "beat": 1});
    let cues = service["cues"].as_array_mut().expect("cues");
    for n in 0..400 {
        let (kind, track, does) = if n % 2 == 0 {
            ("L", "lighting", serde_json::json!({"lighting": {"preset": "verse"}}))
        } else {
            ("M", "media", serde_json::json!({"media": {"item": "dusk"}}))
        };
        let goes = serde_json::json!({"goes": if n % 4 == 0 { "operator" } else { "machine" }});
        cues.push(
            serde_json::json!({"label": format!("{kind}{}", 100 + n), "track": track, "does": does, "call": goes,
            "at": {"bar": 20 + n * 5, "beat": 1 + n % 4}}),
        );
    }
}

/// A film with everything that its page can have, and with long names.
fn film() -> FilmPage {
    let words = |text: &str| text.to_owned();
    let long = "A receiver with a name that goes on and on";
    let cue = |run: &str, cue: &str, late: &str, how: &str| FilmedCue {
        run: words(run),
        cue: words(cue),
        what: words("Verse, amber edges and a very long name, fade 12.5 s"),
        region: words("The wide wash at the left of the stage"),
        planned: words("123:16.286"),
        seen: words("123:16.385"),
        late: words(late),
        within: words("112 ms"),
        how: words(how),
    };
    let fall = |to: &str, side: &str, confirmed: bool| FilmedFall {
        fabric: words("The front fabric with a long name"),
        cue: words("R100 in run 12"),
        to: words(to),
        time: words("0.891 s"),
        within: words("35 ms"),
        side: words(side),
        confirmed,
    };
    FilmPage {
        film: words("a-film-with-a-rather-long-name-of-the-rehearsal-in-december.mp4"),
        service: words("Late"),
        runs: vec![words("Run 1: 0:00.000 to 0:26.624 of the film is bars 45 to 59.")],
        how: vec![words("The camera stood at the seat that the show plans for (assumed).")],
        cues: vec![cue("12", "L100", "+1101 ms", "100 % sure"), cue("12", "M101", "-1040 ms", "by hand")],
        not_told: vec![FilmedReason { cues: words("L11, L10"), why: words("another cue changes the same region") }],
        receivers: vec![FilmedReceiver {
            name: words(long),
            count: 128,
            late: words("+1100 ms"),
            before: words("1035 ms"),
            after: words("2135 ms, spread 130 ms"),
            remark: words("look again at L100, L101, L102; it counts"),
        }],
        falls: vec![fall("sightline", "", true), fall("floor", "right side 0.15 s later", false)],
    }
}

pub fn runs_of(plan: &Prepared, sheet: Sheet, size: Size) -> Vec<Vec<Run>> {
    let filmed = (sheet == Sheet::Filmed).then(|| Arc::new(film()));
    let options = PaperOptions { sheet, size, filmed, printed: "2026-12-19".into(), ..PaperOptions::default() };
    let typeset = crate::typeset(plan, &options).unwrap_or_else(|why| panic!("{sheet:?} {size:?}: {why}"));
    let page = |page: &typst_layout::Page| {
        let mut runs = Vec::new();
        collect(&page.frame, Transform::identity(), &mut runs);
        runs
    };
    typeset.document.pages().iter().map(page).collect()
}

const SIZES: [Size; 4] = [Size::A4, Size::Letter, Size::A3, Size::Tabloid];

/// Nothing under 10 pt. Grey on white passes 7:1, and white on grey too (WCAG 2.2, 1.4.6).
fn readable(runs: &[Run], whose: &str) {
    for run in runs.iter().filter(|run| !run.text.trim().is_empty()) {
        assert!(run.size > 9.99, "{whose}: “{}” is set in {:.1} pt", run.text, run.size);
        let on_white = 1.05 / (run.luminance + 0.05);
        assert!(on_white >= 7.0 || run.luminance > 0.99, "{whose}: “{}” has a contrast of {on_white:.1}", run.text);
    }
}

/// No two texts lie over each other.
fn apart(runs: &[Run], whose: &str) {
    for (at, one) in runs.iter().enumerate() {
        for other in &runs[at + 1..] {
            let height = one.size.min(other.size);
            let over = one.right.min(other.right) - one.left.max(other.left);
            let near = (one.baseline - other.baseline).abs() < 0.55 * height;
            let blank = one.text.trim().is_empty() || other.text.trim().is_empty();
            assert!(!near || over < 0.6 || blank, "{whose}: “{}” lies over “{}”", one.text, other.text);
        }
    }
}

/// Every sheet, on every size of paper, of the demo show.
#[test]
fn the_demo_show_can_be_read_in_the_dark() {
    let plan = demo(|_| {});
    for sheet in Sheet::all() {
        for size in SIZES {
            for (page, runs) in runs_of(&plan, sheet, size).iter().enumerate() {
                let whose = format!("{sheet:?} {size:?} page {}", page + 1);
                readable(runs, &whose);
                apart(runs, &whose);
                // Nothing on the page of contents has a dark ground. Seen: a heading was white there too.
                if sheet == Sheet::All && page == 0 {
                    let white = runs.iter().find(|run| run.luminance > 0.9 && !run.text.trim().is_empty());
                    assert!(white.is_none(), "{whose}: “{}” is white on white", white.map_or("", |run| &run.text));
                }
            }
        }
    }
}

/// Services over an hour, past midnight and with 400 cues keep their columns apart, and labels of three figures stay in one piece.
#[test]
fn a_long_service_keeps_its_columns() {
    let plan = demo(long_service);
    for sheet in Sheet::EACH.map(|(sheet, _)| sheet) {
        let mut whole = 0;
        for (page, runs) in runs_of(&plan, sheet, Size::A4).iter().enumerate() {
            let whose = format!("{sheet:?} page {}", page + 1);
            readable(runs, &whose);
            apart(runs, &whose);
            whole += runs.iter().filter(|run| run.text.trim() == "L100" || run.text.trim() == "M101").count();
        }
        if matches!(sheet, Sheet::Order | Sheet::Lighting | Sheet::Media | Sheet::Calls) {
            assert!(whole > 0, "{sheet:?}: labels are in one piece");
        }
    }
}

/// A long title shrinks nothing and pushes nothing off: it is cut, and the text below is as large as ever.
#[test]
fn a_long_title_shrinks_nothing() {
    let long =
        demo(|file| file["show"]["title"] = serde_json::json!("A night of lanterns and a very long name ".repeat(6)));
    let sizes = |plan: &Prepared| {
        let pages = runs_of(plan, Sheet::Calls, Size::A4);
        let mut sizes: Vec<String> = pages.iter().flatten().map(|run| format!("{:.1}", run.size)).collect();
        sizes.sort();
        sizes.dedup();
        (sizes, pages.len())
    };
    assert_eq!(sizes(&long), sizes(&demo(|_| {})));
}

/// On an imperial show no sheet has a metric figure, and the other way round. What people wrote themselves stays as it is, so it is left out
/// here.
#[test]
fn units_are_not_mixed() {
    let plain = |units: &str| {
        demo(|file| {
            let show = &mut file["show"];
            show["settings"]["units"] = serde_json::json!(units);
            show["settings"]["seat_m"] = serde_json::json!(12.0);
            for (part, words) in [("drop_zone", "marked with tape"), ("key_switch", "in a hand"), ("spotter", "deputy")]
            {
                show["safety"][part] = serde_json::json!(words);
            }
            show["kit"] = serde_json::json!([]);
            show["crew"] = serde_json::json!([]);
            show["room"]["survey"] = serde_json::json!([]);
            show["hangs"][0]["folded"] = serde_json::json!("small");
            for point in show["room"]["points"].as_array_mut().into_iter().flatten() {
                point["limit"] = serde_json::json!("as the letter says");
            }
        })
    };
    let figures = |units: &str| {
        let plan = plain(units);
        let mut found = Vec::new();
        for sheet in Sheet::EACH.map(|(sheet, _)| sheet) {
            for run in runs_of(&plan, sheet, Size::A4).iter().flatten() {
                let text = run.text.replace('\u{a0}', " ");
                let words: Vec<&str> = text.split([' ', ',', ';', ')']).collect();
                for pair in words.windows(2) {
                    let number = !pair[0].is_empty() && pair[0].chars().all(|c| c.is_ascii_digit() || c == '.');
                    if number && ["m", "cm", "mm", "kg", "g", "°C", "ft", "lb", "°F"].contains(&pair[1]) {
                        found.push(pair[1].to_owned());
                    }
                }
            }
        }
        found.sort();
        found.dedup();
        found
    };
    assert_eq!(figures("metric"), ["kg", "m", "mm", "°C"]);
    assert_eq!(figures("imperial"), ["ft", "lb", "°F"]);
}
