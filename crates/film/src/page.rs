//! What a film shows, in words: for paper, and for whoever reads along.

use crate::align::{LaidBy, Run, by_wire};
use crate::measure::{CueSeen, DropSeen, Filmed, Filming, ReceiverSeen, Report, SeenBy};
use letfall_core::filmed::{FilmPage, FilmedCue, FilmedFall, FilmedReason, FilmedReceiver};
use letfall_core::prepared::Prepared;
use letfall_core::room::length;
use letfall_core::schedule::describe;
use letfall_core::show::{Instant, Label, Units};
use letfall_core::time::{SongTime, round};

/// A time of the film, such as "1:23.456".
pub fn clock(secs: f64) -> String {
    let millis = round::nearest(secs.max(0.0) * 1000.0);
    format!("{}:{:02}.{:03}", millis / 60_000, millis / 1000 % 60, millis % 1000)
}

/// Where a run lies, as a sentence; `number` counts from 1, and `begins` is when the sound begins by the film's clock, seconds.
pub fn run_words(plan: &Prepared, run: &Run, number: usize, begins: f64) -> String {
    if run.by == LaidBy::Hand {
        return format!("Run {number}: laid against the song by hand, within {:.0} ms or so.", 2000.0 * run.standard);
    }
    let bar = |secs: f64| {
        let grid = plan.grid();
        grid.place_of(grid.tick_at(SongTime::saturating(round::nearest(secs * 1e6)))).bar
    };
    let slow = if run.slow > 1.0 { format!(", {} times slower than it was filmed", run.slow) } else { String::new() };
    let what = match run.by {
        LaidBy::Timecode => "frames of its timecode were read",
        LaidBy::Sound | LaidBy::Hand => "stretches of its sound agree",
    };
    format!(
        "Run {number}: {} to {} of the film is bars {} to {}; {} of {} {what}, within {:.1} ms, clocks {:+.0} millionths apart{slow}.",
        clock(run.from + begins),
        clock(run.to + begins),
        bar(run.song(run.from)),
        bar(run.song(run.to)),
        run.agree,
        run.of,
        2000.0 * run.standard,
        run.drift * 1e6,
    )
}

/// How it was filmed, and what is assumed of that: sentences.
pub fn how_words(filming: &Filming, runs: &[Run], units: Units, clapped: bool) -> [String; 3] {
    [
        match filming.distance_m {
            _ if by_wire(runs) => "Its timecode came by wire, so no way through the air counts.".to_owned(),
            Some(m) => format!("The camera stood {} from the loudspeaker.", length(m, units)),
            None => "The camera stood at the seat that the show plans for (assumed).".to_owned(),
        },
        format!(
            "It has its sound {:.0} ms after its picture, within {:.0} ms ({}).",
            filming.sound_late * 1e3,
            filming.sound_late_within * 1e3,
            if clapped { "by a clap in view, or as stated" } else { "assumed: a clap in view says more" }
        ),
        format!(
            "It reads a picture {}.",
            if filming.rolling > 0.0 {
                format!("in {:.0} ms from the first row to the last", filming.rolling * 1e3)
            } else {
                "all at once (assumed)".to_owned()
            }
        ),
    ]
}

/// Why cues are not told, each reason once.
pub fn reasons<'a>(cues: impl Iterator<Item = &'a CueSeen>) -> Vec<FilmedReason> {
    let mut all: Vec<(String, Vec<String>)> = Vec::new();
    for cue in cues {
        let Err(why) = cue.seen else { continue };
        let (why, label) = (why.to_string(), cue.label.to_string());
        match all.iter_mut().find(|(other, _)| *other == why) {
            Some((_, labels)) if labels.contains(&label) => {}
            Some((_, labels)) => labels.push(label),
            None => all.push((why, vec![label])),
        }
    }
    all.into_iter().map(|(why, cues)| FilmedReason { cues: cues.join(", "), why }).collect()
}

/// Which side of a fall is late, as far as that is known; empty if neither is.
pub fn side_words(fall: &DropSeen) -> String {
    if fall.right_later.abs() <= fall.within {
        return String::new();
    }
    let side = if fall.right_later > 0.0 { "right" } else { "left" };
    format!("{side} side {:.2} s later", fall.right_later.abs())
}

/// A moment of a fall.
pub const fn moment_words(to: Instant) -> &'static str {
    match to {
        Instant::LetGo => "let-go",
        Instant::Sightline => "sightline",
        Instant::Floor => "floor",
    }
}

/// What stands out of a receiver; empty if nothing does.
pub fn receiver_remark(seen: &ReceiverSeen) -> String {
    let mut words = Vec::new();
    if !seen.odd.is_empty() {
        let odd: Vec<String> = seen.odd.iter().map(Label::to_string).collect();
        words.push(format!("look again at {}; it counts", odd.join(", ")));
    }
    if seen.impossible {
        words.push(
            "earlier than its message can have come, so it is not taken: look at the film's place and sound".to_owned(),
        );
    }
    words.join("; ")
}

/// A receiver as it was seen, in words.
pub fn receiver_words(seen: &ReceiverSeen) -> FilmedReceiver {
    FilmedReceiver {
        name: seen.name.clone(),
        count: seen.count,
        late: millis(seen.late),
        before: format!("{} ms", seen.before.mean.micros() / 1000),
        after: format!("{} ms, spread {} ms", seen.after.mean.micros() / 1000, seen.after.spread.micros() / 1000),
        remark: receiver_remark(seen),
    }
}

fn millis(secs: f64) -> String {
    format!("{:+.0} ms", secs * 1e3)
}

/// Everything on a page. `confirmed` says whether a person has gone through a fall of a run and confirmed it.
pub fn page(
    film: &str,
    filmed: &Filmed<'_>,
    report: &Report,
    clapped: bool,
    (receivers, falls): (&[ReceiverSeen], &[DropSeen]),
    confirmed: impl Fn(usize, Label) -> bool,
) -> FilmPage {
    let (plan, look) = (filmed.plan, filmed.look);
    let several = look.runs.len() > 1;
    let run = |at: usize| if several { (at + 1).to_string() } else { String::new() };
    let cue = |one: &CueSeen| {
        let seen = one.seen.ok()?;
        let row = plan.row(one.label)?;
        Some(FilmedCue {
            run: run(one.run),
            cue: one.label.to_string(),
            what: describe(plan.show(), plan.cue(row)),
            region: one
                .region
                .and_then(|at| filmed.regions.regions.get(at))
                .map_or_else(String::new, |r| r.name.clone()),
            planned: clock(one.planned),
            seen: clock(seen.at),
            late: millis(seen.late),
            within: format!("{:.0} ms", seen.within * 1e3),
            how: match seen.by {
                SeenBy::Hand => "by hand".to_owned(),
                SeenBy::Looking => format!("{:.0} % sure", seen.trust * 100.0),
            },
        })
    };
    let fall = |drop: &DropSeen| FilmedFall {
        fabric: drop.name.clone(),
        cue: if several { format!("{} in run {}", drop.label, drop.run + 1) } else { drop.label.to_string() },
        to: moment_words(drop.to).to_owned(),
        time: format!("{:.3} s", drop.seconds),
        within: format!("{:.0} ms", drop.within * 1e3),
        side: side_words(drop),
        confirmed: confirmed(drop.run, drop.label),
    };
    let mut how = how_words(filmed.filming, &filmed.look.runs, plan.show().settings.units, clapped).to_vec();
    how.push(format!("The whole film may be off by {:.0} ms (standard uncertainty).", report.common * 1e3));
    if !filmed.sent.is_empty() {
        how.push("What was sent late by the log of the run does not count as late of a device.".to_owned());
    }
    let mut not_told = reasons(report.cues.iter());
    if !report.nowhere.is_empty() {
        let cues: Vec<String> = report.nowhere.iter().map(Label::to_string).collect();
        not_told.push(FilmedReason { cues: cues.join(", "), why: "no region shows it".to_owned() });
    }
    FilmPage {
        film: film.to_owned(),
        service: plan.service().name.clone(),
        runs: look.runs.iter().zip(1..).map(|(run, n)| run_words(plan, run, n, look.begins)).collect(),
        how,
        cues: report.cues.iter().filter_map(cue).collect(),
        not_told,
        receivers: receivers.iter().map(receiver_words).collect(),
        falls: falls.iter().map(fall).collect(),
    }
}
