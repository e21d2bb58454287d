//! What a person marks in a film, worked out by hand.

#![allow(clippy::unwrap_used, missing_docs)]

use letfall_core::prepared::{OutsideFacts, Prepared, PreparedShow};
use letfall_core::show::{Instant, Label, TimedBy};
use letfall_film::align::Run;
use letfall_film::measure::{
    Delays, Filmed, Filming, Look, Mark, Marks, Report, SeenBy, SentLate, drops, look, planned_at, receivers,
    with_marks,
};
use letfall_film::picture::{Region, Regions, Unseen};
use std::path::Path;
use std::sync::Arc;

fn plan() -> Arc<Prepared> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../demo-shows/lantern-night.letfall");
    let show = letfall_core::file::read(&std::fs::read(path).unwrap()).unwrap();
    PreparedShow::new(Arc::new(show), OutsideFacts::none()).prepare_named("Late").unwrap()
}

fn label(text: &str) -> Label {
    text.parse().unwrap()
}

/// Pictures 20 ms apart, of a film that plays `slow` times slower and begins with bar 49.
struct Desk {
    plan: Arc<Prepared>,
    regions: Regions,
    look: Look,
    filming: Filming,
    sent: SentLate,
    report: Report,
}

const STEP: f64 = 0.02;

impl Desk {
    fn new(slow: f64, filming: Filming, regions: Vec<Region>) -> Desk {
        let (plan, regions) = (plan(), Regions { regions });
        let run = Run::by_hand(0.0, plan.grid().bar_time(49).secs_f64(), slow);
        let look = look(&plan, &regions, vec![run], 0.0, &filming).unwrap();
        let report = Report::empty(&look, &filming, STEP);
        Desk { plan, regions, look, filming, sent: SentLate::new(), report }
    }

    fn marked(&self, cue: &str, mark: Mark) -> Report {
        let filmed = Filmed {
            plan: &self.plan,
            regions: &self.regions,
            look: &self.look,
            filming: &self.filming,
            sent: &self.sent,
        };
        with_marks(&filmed, &self.report, &Marks::from([((0, label(cue)), mark)]))
    }

    fn planned(&self, cue: &str) -> f64 {
        planned_at(&self.plan, self.plan.row(label(cue)).unwrap(), &self.look.runs[0], self.look.begins, &self.filming)
            .unwrap()
    }
}

fn near(is: f64, wanted: f64) {
    assert!((is - wanted).abs() < 1e-6, "{is} for {wanted}");
}

#[test]
fn a_mark_lies_between_two_pictures() {
    let desk = Desk::new(1.0, Filming::default(), Vec::new());
    // By the clock of the film: what lands so much after bar 49 is seen so much into it.
    let lands = desk.plan.row(label("O3")).unwrap().land.secs_f64() - desk.plan.grid().bar_time(49).secs_f64();
    let seat = desk.plan.row(label("O3")).unwrap().lead.sound.secs_f64();
    near(desk.planned("O3"), lands - seat + seat);
    let report = desk.marked("O3", Mark::Landed(lands + 0.070));
    let cue = &report.cues[0];
    let seen = cue.seen.unwrap();
    assert_eq!((report.cues.len(), cue.label, cue.region, seen.by), (1, label("O3"), None, SeenBy::Hand));
    // It changed between that picture and the one before: in the middle, within half a step.
    near(seen.late, 0.060);
    near(seen.within, 0.010);
    let screens = &receivers(&desk.plan, &report, &Delays::new())[0];
    near(screens.late, 0.060);
    assert_eq!((screens.name.as_str(), screens.count), ("Screens", 1));

    // A fade is told to a tenth of it; what is sent late is not late of the device; slow motion is finer.
    let fade = desk.marked("L9", Mark::Landed(desk.planned("L9") + 0.010)).cues[0].seen.unwrap();
    near(fade.within, 0.010 + 0.3);
    let mut late = Desk::new(1.0, Filming::default(), Vec::new());
    late.sent = SentLate::from([(label("O3"), 0.025)]);
    let seen = late.marked("O3", Mark::Landed(lands + 0.070)).cues[0].seen.unwrap();
    near(seen.late, 0.035);
    assert_eq!(seen.sent_late, Some(0.025));
    let slow = Desk::new(4.0, Filming::default(), Vec::new());
    near(slow.planned("O3"), 4.0 * lands);
    let seen = slow.marked("O3", Mark::Landed(4.0 * lands + 0.250)).cues[0].seen.unwrap();
    near(seen.late, 0.060);
    near(seen.within, 0.0025);
}

#[test]
fn rows_of_a_picture_are_seen_one_after_the_other() {
    let filming = Filming { rolling: 0.016, ..Filming::default() };
    let desk = Desk::new(1.0, filming, Vec::new());
    let at = desk.planned("O3") + 0.070;
    // Nobody says in which row: the middle, within half of all.
    let seen = desk.marked("O3", Mark::Landed(at)).cues[0].seen.unwrap();
    near(seen.late, 0.060 + 0.008);
    near(seen.within, 0.010 + 0.008);
    let screen = Region {
        name: "Screen".into(),
        x: 0.5,
        y: 0.25,
        w: 0.5,
        h: 0.25,
        shows: vec!["House screen".into()],
        sightline: None,
    };
    let desk = Desk::new(1.0, filming, vec![screen]);
    let report = desk.marked("O3", Mark::Landed(at));
    let cue = report.cues.iter().find(|cue| cue.label == label("O3")).unwrap();
    assert_eq!(cue.region, Some(0));
    near(cue.seen.unwrap().late, 0.060 + 0.016 * 0.375);
    near(cue.seen.unwrap().within, 0.010);
    // In slow motion rows come as much further apart as everything does, so nothing changes by it.
    let slow = Desk::new(4.0, filming, Vec::new());
    let seen = slow.marked("O3", Mark::Landed(slow.planned("O3") + 0.280)).cues[0].seen.unwrap();
    near(seen.late, 0.070 - 0.010 / 4.0 + 0.008);
    near(seen.within, 0.010 / 4.0 + 0.008);
}

#[test]
fn what_is_left_out_does_not_count_and_is_listed() {
    let desk = Desk::new(1.0, Filming::default(), Vec::new());
    assert!(desk.report.nowhere.contains(&label("O3")));
    let report = desk.marked("O3", Mark::LeftOut);
    assert_eq!(report.cues[0].seen, Err(Unseen::LeftOut));
    assert!(!report.nowhere.contains(&label("O3")) && report.nowhere.contains(&label("L9")));
    assert!(receivers(&desk.plan, &report, &Delays::new()).is_empty());
    // A cue that the plan does not have is no mark of anything.
    assert!(desk.marked("O99", Mark::LeftOut).cues.is_empty());
}

#[test]
fn a_fall_by_hand() {
    let desk = Desk::new(1.0, Filming::default(), Vec::new());
    let about = desk.planned("R1");
    let fell = |let_go: f64, sightline: Option<f64>, floor: f64| {
        let sightline = sightline.map(|at| about + at);
        desk.marked("R1", Mark::Fell { let_go: about + let_go, sightline, floor: about + floor })
    };
    let report = fell(-0.8, Some(0.1), 0.3);
    let falls = drops(&desk.plan, &report);
    let told: Vec<_> = falls.iter().map(|drop| (drop.to, drop.by)).collect();
    assert_eq!(told, [(Instant::Sightline, TimedBy::Film50), (Instant::Floor, TimedBy::Film50)]);
    // From picture to picture: each is known to half a step, so both to one.
    near(falls[0].seconds, 0.9);
    near(falls[1].seconds, 1.1);
    assert!(falls.iter().all(|drop| (drop.within - STEP).abs() < 1e-9));
    // It lands on the sightline, and is no delay of a receiver.
    near(report.cues[0].seen.unwrap().late, 0.1 - STEP / 2.0);
    assert!(receivers(&desk.plan, &report, &Delays::new()).is_empty());
    // Without a sightline nobody can say when it landed; marks out of order are no fall; only releases fall.
    assert_eq!(fell(-0.8, None, 0.3).cues[0].seen, Err(Unseen::NoSightline));
    for (let_go, sightline, floor) in
        [(0.3, None, -0.8), (0.3, None, 0.3), (-0.8, Some(-0.9), 0.3), (-0.8, Some(0.4), 0.3)]
    {
        assert_eq!(
            fell(let_go, sightline, floor).cues[0].seen,
            Err(Unseen::OutOfOrder),
            "{let_go}, {sightline:?}, {floor}"
        );
    }
    let light = desk.marked("L9", Mark::Fell { let_go: 1.0, sightline: None, floor: 2.0 });
    assert_eq!(light.cues[0].seen, Err(Unseen::NotFilmed));
}
