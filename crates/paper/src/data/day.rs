//! The day: work between two services, papers, figures for a risk assessment, the show-stop card, the report, the strike.

use super::words::clock;
use letfall_core::performed::Performed;
use letfall_core::prepared::Prepared;
use letfall_core::reveal::weight_figures;
use letfall_core::schedule::message_words;
use letfall_core::show::{
    Action, BetweenStep, DayPaper, Hang, OpenNote, Reach, Release, ReleaseKind, ShowStop, Source, Units, between_lines,
    between_total,
};
use letfall_core::time::{SongSpan, SongTime, WallTime, nearest_in_a_day};
use serde::Serialize;

/// What is done between this service and the next.
#[derive(Serialize)]
pub struct Between {
    /// The service that follows on the same day; empty if none does.
    next: String,
    doors: String,
    done_by: String,
    begins: String,
    ends: String,
    total: i64,
    before_doors: u16,
    /// Minutes there are, if the doors are known; -1 if not.
    there: i64,
    assumed: bool,
    rows: Vec<Task>,
}

#[derive(Serialize)]
struct Task {
    what: String,
    minutes: u16,
    people: u16,
    who: String,
    assumed: bool,
    /// What is counted, such as "of 7"; empty if nothing is.
    count: String,
}

/// The releases that the service uses, each once, with their hangs.
fn releases(prepared: &Prepared) -> Vec<(&Release, Option<&Hang>)> {
    let show = prepared.show();
    let mut found: Vec<(&Release, Option<&Hang>)> = Vec::new();
    for cue in prepared.service().cues.iter().filter(|cue| !cue.resting) {
        if let Action::Release { release, .. } = &cue.does
            && let Some(release) = show.release(release)
            && !found.iter().any(|(own, _)| own.key == release.key)
        {
            found.push((release, show.hang(&release.hang)));
        }
    }
    found
}

fn step_words(step: BetweenStep, prepared: &Prepared, used: &[(&Release, Option<&Hang>)]) -> (String, String) {
    let units: u32 = used.iter().map(|(release, _)| release.units).sum();
    let lift = used.iter().any(|(_, hang)| hang.is_some_and(|hang| hang.reach == Reach::Lift));
    let is = |kind| used.iter().any(|(release, _)| release.kind == kind);
    let of = |n: u32| format!("of {n}");
    let plain = |words: &str| (words.to_owned(), String::new());
    match step {
        BetweenStep::Inactive => {
            let mut words = "Key out.".to_owned();
            if is(ReleaseKind::Energise) {
                words += " Power-to-release: the circuit's supply off and kept off.";
            }
            if is(ReleaseKind::Deenergise) {
                words += " Power-held: the coils stay fed. Do not cut the power: that drops the fabric.";
            }
            if is(ReleaseKind::Unknown) || used.is_empty() {
                words +=
                    " Find out first what a loss of power does, then make the release inactive as its kind requires.";
            }
            (words, String::new())
        }
        BetweenStep::AudienceOut => plain("Audience out; the drop zone stays closed"),
        BetweenStep::FabricUp => plain("Fabric off the floor, looked over: tears, snags, damp"),
        BetweenStep::ContactOpen if is(ReleaseKind::Deenergise) => {
            plain("Contact proved open or, power-held, coils proved fed")
        }
        BetweenStep::ContactOpen => plain("Contact proved open"),
        BetweenStep::BarDown if lift => plain("Lift or tower in place, by people trained for it; nobody below"),
        BetweenStep::BarDown => plain("Bar down; nobody below"),
        BetweenStep::UnitsReset => ("Units reset and counted".to_owned(), of(units)),
        BetweenStep::Hang => plain("Hang from the centre out"),
        BetweenStep::Tug => ("Tug each unit".to_owned(), of(units)),
        BetweenStep::TiesOn => ("Retaining ties on, counted: write how many".to_owned(), "ties".to_owned()),
        BetweenStep::BarUp if lift => plain("Lift or tower away; fabric at its mark"),
        BetweenStep::BarUp => plain("Bar to its mark"),
        BetweenStep::Looked => {
            let who = prepared.show().safety.competent.trim();
            (
                if who.is_empty() {
                    "The competent person looks".to_owned()
                } else {
                    format!("The competent person looks: {who}")
                },
                String::new(),
            )
        }
        BetweenStep::StandIn => {
            let tried = used.iter().filter_map(|(release, _)| release.stand_in.as_ref()).map(message_words);
            let tried: Vec<String> = tried.collect();
            (
                if tried.is_empty() {
                    "Stand-in test".to_owned()
                } else {
                    format!("Stand-in test: {}", tried.join(", "))
                },
                String::new(),
            )
        }
        BetweenStep::TiesOff => ("Ties off, counted back: as many as went on".to_owned(), "of ties".to_owned()),
        BetweenStep::Zone => plain(
            "Zone set: floor swept of snags, tape seen, exits and extinguishers not covered, headsets back on and counted",
        ),
    }
}

/// Works out what is done between this service and the next.
pub fn between(prepared: &Prepared) -> Between {
    let (show, service) = (prepared.show(), prepared.service());
    let next = show
        .services
        .iter()
        .filter(|other| {
            other.date.trim() == service.date.trim() && other.starts > service.starts && service.starts.is_some()
        })
        .min_by_key(|other| other.starts);
    let doors = next.and_then(|next| next.doors);
    let minutes = |time: WallTime| time.micros().div_euclid(60_000_000);
    let before = i64::from(show.settings.before_doors_min);
    let done_by = doors.map(|doors| doors.at(SongTime::ZERO - SongSpan::from_millis(before * 60_000)));
    let ends = service.wall(prepared.end());
    let lines = between_lines(&show.between);
    let assumed = lines.iter().any(|line| line.assumed);
    let used = releases(prepared);
    let rows = lines.into_iter().map(|line| {
        let (what, count) =
            if line.own.is_empty() { step_words(line.step, prepared, &used) } else { (line.own, String::new()) };
        Task { what, count, minutes: line.minutes, people: line.people, who: line.who, assumed: line.assumed }
    });
    Between {
        next: next.map_or_else(String::new, |next| next.name.clone()),
        doors: doors.map_or_else(String::new, |doors| doors.to_string()),
        done_by: done_by.map_or_else(String::new, |time| time.to_string()),
        begins: next.and_then(|next| next.starts).map_or_else(String::new, |time| time.to_string()),
        ends: clock(service, None, prepared.end()),
        total: between_total(&show.between).micros() / 60_000_000,
        before_doors: show.settings.before_doors_min,
        there: done_by.zip(ends).map_or(-1, |(by, ends)| (minutes(by) - minutes(ends)).max(0)),
        assumed,
        rows: rows.collect(),
    }
}

/// Papers of the day.
#[derive(Serialize)]
pub struct Papers {
    rows: Vec<PaperLine>,
    open: Vec<OpenNote>,
    closed: Vec<OpenNote>,
}

#[derive(Serialize)]
struct PaperLine {
    what: String,
    number: String,
    dated: String,
    expires: String,
    note: String,
    /// Whether its last day lies before the service's.
    over: bool,
}

/// Works out the papers of the day.
pub fn papers(prepared: &Prepared) -> Papers {
    let (show, date) = (prepared.show(), prepared.service().date.trim());
    // Days as YYYY-MM-DD stand in order as texts.
    let is_day = |text: &str| text.len() == 10 && text.bytes().all(|b| b.is_ascii_digit() || b == b'-');
    let over = |paper: &DayPaper| {
        let last = paper.expires.trim();
        is_day(last) && is_day(date) && last < date
    };
    let line = |paper: &DayPaper| PaperLine {
        what: paper.what.clone(),
        number: paper.number.clone(),
        dated: paper.dated.clone(),
        expires: paper.expires.clone(),
        note: paper.note.clone(),
        over: over(paper),
    };
    let (open, closed) = show.notes.iter().cloned().partition(|note| note.closed.trim().is_empty());
    Papers { rows: show.papers.iter().map(line).collect(), open, closed }
}

/// Facts for the user's own risk assessment: no ratings.
#[derive(Serialize)]
pub struct Risk {
    groups: Vec<RiskGroup>,
}

#[derive(Serialize)]
struct RiskGroup {
    name: &'static str,
    /// What it is, and the figure or the words; empty for what nobody has entered.
    rows: Vec<(String, String)>,
}

/// The most changes of light within a second, and when.
fn quickest_changes(prepared: &Prepared) -> (usize, SongTime) {
    let cues = prepared.service().cues.as_slice();
    let mut lands: Vec<SongTime> = prepared
        .schedule()
        .rows
        .iter()
        .filter(|row| matches!(cues[row.cue as usize].does, Action::Lighting { .. }) && !cues[row.cue as usize].resting)
        .map(|row| row.land)
        .collect();
    lands.sort_unstable();
    let second = SongSpan::from_millis(1000);
    let mut most = (0, SongTime::ZERO);
    let mut from = 0;
    for (at, land) in lands.iter().enumerate() {
        while *land - lands[from] > second {
            from += 1;
        }
        if at + 1 - from > most.0 {
            most = (at + 1 - from, lands[from]);
        }
    }
    most
}

/// Works out the facts for a risk assessment.
pub fn risk(prepared: &Prepared) -> Risk {
    let show = prepared.show();
    let imperial = show.settings.units == Units::Imperial;
    let length = |metres: f64| {
        if imperial { format!("{:.2}\u{a0}ft", metres / 0.3048) } else { format!("{metres:.2}\u{a0}m") }
    };
    let mass = |kg: f64| {
        if imperial { format!("{:.1}\u{a0}lb", kg / 0.453_592_37) } else { format!("{kg:.1}\u{a0}kg") }
    };
    let mut groups = Vec::new();
    for (release, hang) in releases(prepared) {
        let Some(hang) = hang else { continue };
        let weight = weight_figures(hang, release);
        groups.push(RiskGroup {
            name: "Overhead",
            rows: vec![
                ("fabric".to_owned(), hang.name.clone()),
                ("all that hangs".to_owned(), mass(weight.total_kg)),
                ("of it what falls".to_owned(), mass(weight.fabric_kg)),
                ("top edge above the floor".to_owned(), length(hang.top_m)),
                ("width and drop".to_owned(), format!("{} and {}", length(hang.width_m), length(hang.drop_m))),
                ("release units".to_owned(), release.units.to_string()),
                (
                    "if power is lost".to_owned(),
                    match release.kind {
                        ReleaseKind::Energise => "it stays up",
                        ReleaseKind::Deenergise => "it falls",
                        ReleaseKind::Unknown => "not known: find out",
                    }
                    .to_owned(),
                ),
            ],
        });
    }
    let dark: Vec<String> = prepared
        .service()
        .cues
        .iter()
        .filter(|cue| !cue.resting)
        .filter(|cue| matches!(&cue.does, Action::Lighting { preset, .. } if show.preset(preset).is_some_and(|p| p.level == 0)))
        .map(|cue| cue.label.to_string())
        .collect();
    let (changes, at) = quickest_changes(prepared);
    let said = |text: &str| text.trim().to_owned();
    groups.push(RiskGroup {
        name: "People",
        rows: vec![
            ("drop zone".to_owned(), said(&show.safety.drop_zone)),
            ("people behind the fabric when it falls, how many and where".to_owned(), String::new()),
            ("heads counted".to_owned(), said(&show.stop.head_count)),
            ("who sees the zone".to_owned(), said(&show.safety.spotter)),
            ("who is competent for the rig".to_owned(), said(&show.safety.competent)),
            ("ways out".to_owned(), said(&show.stop.routes)),
        ],
    });
    groups.push(RiskGroup {
        name: "Darkness and light",
        rows: vec![
            ("light goes out at".to_owned(), if dark.is_empty() { "no cue".to_owned() } else { dark.join(", ") }),
            ("how long people stand or walk in the dark".to_owned(), String::new()),
            (
                "most changes of light within a second".to_owned(),
                if changes == 0 { "none".to_owned() } else { format!("{changes}, at {}", super::words::elapsed(at)) },
            ),
            ("flashing in films and from lamps themselves".to_owned(), String::new()),
            ("working light".to_owned(), said(&show.stop.working_light)),
        ],
    });
    groups.push(RiskGroup {
        name: "Rules",
        rows: vec![("local rule that comes first".to_owned(), said(&show.safety.local_rule))],
    });
    Risk { groups }
}

/// The show-stop card.
#[derive(Serialize)]
pub struct StopCard {
    words: String,
    card: Vec<(&'static str, String)>,
}

/// Works out the show-stop card.
pub fn stop_card(prepared: &Prepared) -> StopCard {
    let show = prepared.show();
    let ShowStop { said_by, working_light, music_out, tells_band, routes, assembly, head_count, announcement } =
        &show.stop;
    let arm = &show.safety.arm_holder;
    let held = releases(prepared).iter().any(|(release, _)| release.kind == ReleaseKind::Deenergise);
    let off = if held { "lets go; key out. Do not cut the power: that drops the fabric" } else { "lets go; key out" };
    let arm_off = if arm.trim().is_empty() { String::new() } else { format!("{} {off}", arm.trim()) };
    let card = vec![
        ("Who says it", said_by.clone()),
        ("Arm off", arm_off),
        ("Working light", working_light.clone()),
        ("Music out", music_out.clone()),
        ("Who tells band and choir", tells_band.clone()),
        ("Announcement", announcement.clone()),
        ("Ways out, not under an unreleased fabric nor over the pile", routes.clone()),
        ("Assembly point", assembly.clone()),
        ("Head count", head_count.clone()),
    ];
    StopCard { words: show.safety.abort_words.trim().to_owned(), card }
}

/// The form for the report of the performance.
#[derive(Serialize)]
pub struct Report {
    releases: Vec<ReportedRelease>,
    planned_start: String,
    planned_end: String,
    /// When it was, and how late, if that is known; else empty.
    start: [String; 2],
    end: [String; 2],
    /// What people chose and where the song bent: when, and what.
    lines: Vec<(String, String)>,
    open: Vec<OpenNote>,
}

/// A release in the report. Boxes are ticked where people said so during the run; all else is for people to fill in.
#[derive(Serialize)]
struct ReportedRelease {
    label: String,
    name: String,
    down: bool,
    stuck: String,
    early: bool,
    stayed: bool,
    told: String,
}

/// When something was, and how much later than planned.
fn was(planned: Option<WallTime>, was: Option<WallTime>) -> [String; 2] {
    let Some(was) = was else { return [String::new(), String::new()] };
    let late = planned.map(|planned| nearest_in_a_day(was.micros() - planned.micros()) / 1_000_000);
    let words = late.map_or_else(String::new, |late| {
        let by = format!("{}:{:02}", late.abs() / 60, late.abs() % 60);
        match late {
            0 => "on time".to_owned(),
            1.. => format!("{by} min late"),
            _ => format!("{by} min early"),
        }
    });
    [was.to_string(), words]
}

/// Works out the form for the report.
pub fn report(prepared: &Prepared, performed: Option<&Performed>) -> Report {
    let (show, service) = (prepared.show(), prepared.service());
    let drops = service.cues.iter().filter(|cue| !cue.resting).filter_map(|cue| match &cue.does {
        Action::Release { release, .. } => {
            let name = show.release(release).map_or_else(|| release.to_string(), |r| r.name.clone());
            let of = performed.and_then(|performed| performed.releases.iter().find(|of| of.label == cue.label));
            let told = of.into_iter().flat_map(|of| &of.told).map(|(at, words)| format!("{words} {at}"));
            Some(ReportedRelease {
                label: cue.label.to_string(),
                name,
                down: of.is_some_and(|of| of.down),
                stuck: of.and_then(|of| of.stuck.clone()).unwrap_or_default(),
                early: of.is_some_and(|of| of.early),
                stayed: of.is_some_and(|of| of.stayed),
                told: told.collect::<Vec<_>>().join(", "),
            })
        }
        _ => None,
    });
    let lines = performed.into_iter().flat_map(|performed| &performed.lines);
    Report {
        releases: drops.collect(),
        planned_start: clock(service, None, SongTime::ZERO),
        planned_end: clock(service, None, prepared.end()),
        start: was(service.wall(SongTime::ZERO), performed.and_then(|performed| performed.began)),
        end: was(service.wall(prepared.end()), performed.and_then(|performed| performed.ended)),
        lines: lines.map(|(at, words)| (at.to_string(), words.clone())).collect(),
        open: papers(prepared).open,
    }
}

/// Taking it all down.
#[derive(Serialize)]
pub struct Strike {
    steps: Vec<(String, String)>,
    hire: Vec<(String, u32, String)>,
}

/// Works out the strike.
pub fn strike(prepared: &Prepared) -> Strike {
    let show = prepared.show();
    let used = releases(prepared);
    let units: u32 = used.iter().map(|(release, _)| release.units).sum();
    let lift = used.iter().any(|(_, hang)| hang.is_some_and(|hang| hang.reach == Reach::Lift));
    let held = used.iter().any(|(release, _)| release.kind == ReleaseKind::Deenergise);
    let step = |what: &str, count: &str| (what.to_owned(), count.to_owned());
    let mut steps = vec![step("Key out, arm off; the competent person leads", "")];
    if held {
        steps.push(step("Power-held: nothing hangs on the units before their supply is isolated", ""));
    }
    steps.push(step("Release circuit isolated by whoever is licensed for it, and kept off", ""));
    steps.push(step(
        if lift {
            "Lift or tower in place, by people trained for it; nobody below"
        } else {
            "Bar lowered; nobody below"
        },
        "",
    ));
    let all = format!("of {units}");
    steps.push(step("Release units taken off and counted back", &all));
    steps.push(step("Retaining ties counted back", "of ties"));
    steps.push(step("Fabric looked over, and dry before it is folded", ""));
    steps.push(step("Cables coiled, floor swept, tape off", ""));
    steps.push(step("Headsets, keys and lamps counted back", ""));
    let hire = show.kit.iter().filter(|item| item.source == Source::Hired);
    Strike { steps, hire: hire.map(|item| (item.name.clone(), item.quantity, item.brings.clone())).collect() }
}
