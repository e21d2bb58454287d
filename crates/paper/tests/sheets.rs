//! Every sheet of every demo show prints, in the engine's strict PDF/UA-1 mode, without a warning.

#![allow(clippy::unwrap_used, missing_docs)]

use letfall_core::prepared::Prepared;
use letfall_core::show::Show;
use letfall_core::time::SongSpan;
use letfall_paper::{EarlierVersion, Paper, PaperError, PaperOptions, Sheet, Size, print};
use std::path::Path;
use std::sync::Arc;

fn demo(name: &str) -> Show {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../demo-shows").join(name).with_extension("letfall");
    letfall_core::file::read(&std::fs::read(path).unwrap()).unwrap()
}

fn sheet(show: &Show, service: usize, options: &PaperOptions) -> Result<Paper, PaperError> {
    print(&Prepared::hypothetical(Arc::new(show.clone()), service).unwrap(), options)
}

fn all_sheets() -> impl Iterator<Item = Sheet> {
    Sheet::all()
}

#[test]
fn every_sheet_of_every_service_in_both_sizes() {
    for name in ["lantern-night", "first-opener", "three-houses"] {
        let show = demo(name);
        for service in 0..show.services.len() {
            for size in [Size::A4, Size::Letter] {
                for sheet_of in all_sheets() {
                    let options = PaperOptions { size, sheet: sheet_of, ..PaperOptions::default() };
                    let paper = sheet(&show, service, &options).unwrap();
                    assert_eq!(paper.warnings, [""; 0], "{name} {service} {sheet_of:?}");
                    assert!(paper.pdf.starts_with(b"%PDF-") && paper.pages > 0);
                    let ua = paper.pdf.windows(7).any(|w| w == b"pdfuaid");
                    assert!(ua, "{name} {sheet_of:?} does not say that it is PDF/UA");
                }
            }
        }
    }
}

#[test]
fn the_whole_file_has_every_sheet_and_the_same_bytes_twice() {
    let show = demo("lantern-night");
    let of = |sheet| PaperOptions { sheet, ..PaperOptions::default() };
    let planned = Sheet::EACH.iter().map(|s| s.0).filter(|sheet| sheet.is_planned(&show));
    let single: usize = planned.map(|one| sheet(&show, 1, &of(one)).unwrap().pages).sum();
    let all = sheet(&show, 1, &of(Sheet::All)).unwrap();
    assert_eq!(all.pages, single + 1, "a cover and every sheet");
    assert_eq!(all, sheet(&show, 1, &of(Sheet::All)).unwrap());
}

#[test]
fn the_wall_sheet_is_one_page_on_every_paper_and_for_a_long_show_too() {
    let long = letfall_core::stress::show(1000, 20).unwrap();
    for size in [Size::A4, Size::Letter, Size::A3, Size::Tabloid] {
        let options = PaperOptions { size, sheet: Sheet::Wall, ..PaperOptions::default() };
        assert_eq!(sheet(&demo("three-houses"), 0, &options).unwrap().pages, 1);
        assert_eq!(sheet(&long, 0, &options).unwrap().pages, 1);
    }
}

#[test]
fn empty_shows_and_services_without_cues_print() {
    let mut show = demo("first-opener");
    show.services[0].cues = letfall_core::show::CueList::default();
    show.kit.clear();
    show.tracks.clear();
    show.version.clear();
    for sheet_of in all_sheets() {
        let options = PaperOptions { sheet: sheet_of, ..PaperOptions::default() };
        assert!(sheet(&show, 0, &options).unwrap().pages > 0, "{sheet_of:?}");
    }
}

#[test]
fn scripts_and_long_names_do_not_break_a_page() {
    let mut show = demo("lantern-night");
    let pages =
        |show: &Show, sheet_of| sheet(show, 1, &PaperOptions { sheet: sheet_of, ..PaperOptions::default() }).unwrap();
    let before = pages(&show, Sheet::Order).pages;
    show.title = "Überlang".repeat(60);
    show.venue = "x".repeat(400);
    show.services[1].cues = {
        let mut cues = show.services[1].cues.clone();
        let all: Vec<_> = cues.iter().cloned().collect();
        cues.put(
            all.into_iter()
                .map(|mut cue| {
                    cue.text = format!("{} שלום مرحبا 灯籠", "W".repeat(90));
                    cue
                })
                .collect(),
        );
        cues
    };
    for sheet_of in all_sheets() {
        let paper = pages(&show, sheet_of);
        // Sheets that print what each cue does, in its own words.
        if matches!(sheet_of, Sheet::Order | Sheet::Calls | Sheet::Lighting | Sheet::Outputs | Sheet::Wall | Sheet::All)
        {
            // The built-in typeface has none of these scripts: there is a warning, and the pages print.
            assert!(paper.warnings.iter().any(|w| w.contains("empty boxes")), "{sheet_of:?} {:?}", paper.warnings);
        }
    }
    assert!(pages(&show, Sheet::Order).pages < before * 6);
}

#[test]
fn what_changed_is_marked() {
    let old = Arc::new(demo("lantern-night"));
    let mut new = (*old).clone();
    // No cue was edited, but the lights respond later, so their messages leave earlier.
    new.receivers[0].latency.mean = new.receivers[0].latency.mean + SongSpan::from_millis(40);
    let text = |show: &Show, previous: Option<&Arc<Show>>| {
        // The template sees the marks: it cannot be typeset if they are missing.
        let template = r#"#let plan = json("plan.json")
#assert(plan.changes != none, message: "no changes")
#assert(plan.changes.changed.all(c => c.words.contains("40")), message: repr(plan.changes))
#assert(plan.changes.changed.len() == 13 and plan.changes.new.len() == 0 and plan.changes.dropped.len() == 0, message: repr(plan.changes))
#assert(plan.sections.map(s => s.rows).flatten().filter(r => r.mark.is == "changed").len() == 13)
#plan.title"#;
        let options = PaperOptions {
            template: Some(("mine.typ".into(), template.into())),
            previous: previous.map(|old| EarlierVersion::of(old.clone(), &show.services[1].name)),
            ..PaperOptions::default()
        };
        sheet(show, 1, &options).map(|p| p.pages).map_err(|e| e.to_string())
    };
    assert!(text(&new, None).unwrap_err().contains("no changes"));
    let lights = old.services[1].cues.iter().filter(|c| c.label.to_string().starts_with('L')).count();
    assert_eq!(lights, 13);
    // PDF/UA needs a document title; that is the only thing this template lacks.
    let said = text(&new, Some(&old)).unwrap_err();
    assert!(said.contains("title"), "{said}");
}

#[test]
fn a_broken_template_tells_file_line_and_column() {
    let show = demo("first-opener");
    for (text, line, column) in [("#let x = (\n", 1, 10), ("Hello\n  #nothing()\n", 2, 4)] {
        let options = PaperOptions { template: Some(("mine.typ".into(), text.into())), ..PaperOptions::default() };
        match sheet(&show, 0, &options).unwrap_err() {
            PaperError::Template { file, line: l, column: c, .. } => {
                assert_eq!((file.as_str(), l, c), ("mine.typ", line, column), "{text}");
            }
            other @ (PaperError::Lost(_) | PaperError::Pdf(_)) => panic!("{other}"),
        }
    }
}

/// A report that is filled in: what people said is ticked, a long evening takes more pages, and long words stay on them.
#[test]
fn a_report_is_filled_in() {
    use letfall_core::performed::{Performed, PerformedRelease};
    use letfall_core::time::WallTime;
    let show = demo("lantern-night");
    let at = |secs: i64| WallTime::from_secs(72_900 + secs);
    let release = PerformedRelease {
        label: "R1".parse().unwrap(),
        down: false,
        stuck: Some("left".into()),
        early: false,
        stayed: true,
        told: vec![(at(147), "armed by Kim".into()), (at(148), "x".repeat(300))],
    };
    let performed = |lines: i64| Performed {
        began: Some(at(190)),
        ended: Some(at(400)),
        releases: vec![release.clone()],
        lines: (0..lines).map(|line| (at(line), format!("round {line} from bar 33 {}", "y".repeat(90)))).collect(),
    };
    let of = |lines: Option<i64>| {
        let performed = lines.map(|lines| Arc::new(performed(lines)));
        let paper =
            sheet(&show, 1, &PaperOptions { sheet: Sheet::Report, performed, ..PaperOptions::default() }).unwrap();
        assert_eq!(paper.warnings, [""; 0]);
        paper
    };
    let (empty, short, long) = (of(None), of(Some(3)), of(Some(400)));
    assert!(empty.pages <= short.pages && short.pages < long.pages, "{} {}", short.pages, long.pages);
    assert_ne!(empty.pdf, short.pdf);
}
