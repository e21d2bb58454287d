//! What `letfall film` says of a film: for people, and as JSON Lines.

use super::common::{json_line, line, thousandths};
use letfall_core::prepared::Prepared;
use letfall_core::show::{Instant, Label};
use letfall_core::time::round;
use letfall_film::align::{LaidBy, Run, by_wire};
use letfall_film::measure::{CueSeen, DropSeen, Filmed, Filming, Look, ReceiverSeen, Report, SentLate, Taken};
use letfall_film::page::{moment_words, receiver_remark, run_words, side_words};
use letfall_film::picture::Regions;
use serde::Serialize;

/// What the film shows.
pub struct Shown {
    /// Every run of the song in it.
    pub runs: Vec<Run>,
    /// When its sound begins by its clock, seconds.
    pub begins: f64,
    /// How it was filmed.
    pub filming: Filming,
    /// What its pictures show, if somebody has said what is seen where.
    pub pictures: Option<Pictures>,
}

/// What was looked for in the pictures, and found.
pub struct Pictures {
    /// What is seen where.
    pub regions: Regions,
    /// What was looked for.
    pub look: Look,
    /// What was sent late, by the log of the run.
    pub sent: SentLate,
    /// What was found.
    pub report: Report,
}

impl Pictures {
    /// All that it was measured with.
    pub const fn filmed<'a>(&'a self, plan: &'a Prepared, filming: &'a Filming) -> Filmed<'a> {
        Filmed { plan, regions: &self.regions, look: &self.look, filming, sent: &self.sent }
    }
}

#[derive(Serialize)]
#[serde(tag = "type", rename_all = "kebab-case")]
enum JsonLine<'a> {
    Run {
        run: usize,
        from_us: i64,
        to_us: i64,
        song_at_start_us: i64,
        drift_ppm: f64,
        slow: f64,
        within_us: i64,
        by: &'static str,
        trust: f64,
    },
    Filming {
        sound_late_us: i64,
        sound_late_within_us: i64,
        rolling_us: i64,
        distance_m: Option<f64>,
        common_us: i64,
    },
    Seen {
        run: usize,
        cue: String,
        region: &'a str,
        planned_us: i64,
        seen_us: i64,
        late_us: i64,
        #[serde(skip_serializing_if = "Option::is_none")]
        sent_late_us: Option<i64>,
        within_us: i64,
        trust: f64,
    },
    NotSeen {
        run: usize,
        cue: String,
        region: &'a str,
        planned_us: i64,
        why: String,
    },
    NoRegion {
        cue: String,
    },
    Receiver {
        name: &'a str,
        count: usize,
        late_us: i64,
        deviation_us: Option<i64>,
        before_us: i64,
        after_us: i64,
        spread_us: i64,
        impossible: bool,
        odd: Vec<String>,
    },
    Drop {
        fabric: &'a str,
        cue: String,
        run: usize,
        to: Instant,
        seconds: f64,
        within_us: i64,
        right_later_us: i64,
        confirmed: bool,
    },
}

fn micros(secs: f64) -> i64 {
    round::nearest(secs * 1e6)
}

pub fn as_json(
    text: &mut String,
    plan: &Prepared,
    shown: &Shown,
    delays: &[ReceiverSeen],
    falls: &[DropSeen],
    what: Taken,
) {
    for (n, run) in shown.runs.iter().enumerate() {
        let to = if run.to < 1e9 {
            micros(run.to + shown.begins)
        } else {
            micros(run.film(plan.end().micros() as f64 / 1e6))
        };
        json_line(
            text,
            &JsonLine::Run {
                run: n + 1,
                from_us: micros(run.from + shown.begins),
                to_us: to,
                song_at_start_us: micros(run.song(-shown.begins)),
                drift_ppm: round::nearest(run.drift * 1e8) as f64 / 100.0,
                slow: run.slow,
                within_us: micros(2.0 * run.standard),
                by: match run.by {
                    LaidBy::Sound => "sound",
                    LaidBy::Hand => "hand",
                    LaidBy::Timecode => "timecode",
                },
                trust: thousandths(run.trust()),
            },
        );
    }
    let Some(Pictures { regions, report, .. }) = &shown.pictures else { return };
    let filming = &shown.filming;
    json_line(
        text,
        &JsonLine::Filming {
            sound_late_us: micros(filming.sound_late),
            sound_late_within_us: micros(filming.sound_late_within),
            rolling_us: micros(filming.rolling),
            distance_m: filming.distance_m,
            common_us: micros(report.common),
        },
    );
    for cue in &report.cues {
        let (run, region, planned_us) = (cue.run + 1, name_of(regions, cue), micros(cue.planned));
        let label = cue.label.to_string();
        let line = match cue.seen {
            Ok(seen) => JsonLine::Seen {
                run,
                cue: label,
                region,
                planned_us,
                seen_us: micros(seen.at),
                late_us: micros(seen.late),
                sent_late_us: seen.sent_late.map(micros),
                within_us: micros(seen.within),
                trust: thousandths(seen.trust),
            },
            Err(why) => JsonLine::NotSeen { run, cue: label, region, planned_us, why: why.to_string() },
        };
        json_line(text, &line);
    }
    for cue in &report.nowhere {
        json_line(text, &JsonLine::NoRegion { cue: cue.to_string() });
    }
    for seen in delays {
        json_line(
            text,
            &JsonLine::Receiver {
                name: &seen.name,
                count: seen.count,
                late_us: micros(seen.late),
                deviation_us: seen.deviation.map(micros),
                before_us: seen.before.mean.micros(),
                after_us: seen.after.mean.micros(),
                spread_us: seen.after.spread.micros(),
                impossible: seen.impossible,
                odd: seen.odd.iter().map(Label::to_string).collect(),
            },
        );
    }
    for fall in falls {
        json_line(
            text,
            &JsonLine::Drop {
                fabric: &fall.name,
                cue: fall.label.to_string(),
                run: fall.run + 1,
                to: fall.to,
                seconds: thousandths(fall.seconds),
                within_us: micros(fall.within),
                right_later_us: micros(fall.right_later),
                confirmed: what.drops,
            },
        );
    }
}

/// The name of the region in which a cue was looked for.
fn name_of<'a>(regions: &'a Regions, cue: &CueSeen) -> &'a str {
    cue.region.and_then(|at| regions.regions.get(at)).map_or("", |region| region.name.as_str())
}

/// "+0.043 s"
fn late_words(secs: f64) -> String {
    format!("{secs:+.3} s")
}

pub fn as_words(text: &mut String, plan: &Prepared, shown: &Shown, delays: &[ReceiverSeen], falls: &[DropSeen]) {
    for (n, run) in shown.runs.iter().enumerate() {
        line!(text, "{}", run_words(plan, run, n + 1, shown.begins));
    }
    let Some(Pictures { regions, report, .. }) = &shown.pictures else {
        line!(text, "What changed when is measured if you say what is seen where: --regions FILE.");
        return;
    };
    let filming = &shown.filming;
    line!(
        text,
        "Sound is taken to be {:.0} ms later than the picture in this film, within {:.0} ms{}; the camera to stand {}.",
        filming.sound_late * 1e3,
        filming.sound_late_within * 1e3,
        if filming.sound_late_within >= 0.04 { " (assumed: a clap in view says more)" } else { "" },
        match filming.distance_m {
            _ if by_wire(&shown.runs) => "on the timecode's wire".to_owned(),
            Some(m) => format!("{m} m from the loudspeaker"),
            None => "at the seat that the show plans for (assumed)".to_owned(),
        },
    );
    line!(
        text,
        "\n{:<5}{:<8}{:<18}{:>12}{:>12}{:>10}{:>8}",
        "run",
        "cue",
        "seen in",
        "film, s",
        "late",
        "within",
        "trust"
    );
    for cue in &report.cues {
        let name = name_of(regions, cue);
        match cue.seen {
            Ok(seen) => line!(
                text,
                "{:<5}{:<8}{name:<18}{:>12.3}{:>12}{:>7.0} ms{:>6.0} %",
                cue.run + 1,
                cue.label.to_string(),
                seen.at,
                late_words(seen.late),
                seen.within * 1e3,
                seen.trust * 100.0
            ),
            Err(why) => line!(
                text,
                "{:<5}{:<8}{name:<18}{:>12.3}  not told: {why}",
                cue.run + 1,
                cue.label.to_string(),
                cue.planned
            ),
        }
    }
    if !report.nowhere.is_empty() {
        line!(text, "No region shows {}.", super::common::listed(&report.nowhere, 12));
    }
    if !delays.is_empty() {
        line!(
            text,
            "\n{:<24}{:>6}{:>12}{:>16}{:>16}{:>12}",
            "receiver",
            "seen",
            "late",
            "delay before",
            "delay seen",
            "spread"
        );
    }
    for seen in delays {
        let remark = receiver_remark(seen);
        line!(
            text,
            "{:<24}{:>6}{:>12}{:>14.3} s{:>14.3} s{:>10.3} s{}{remark}",
            seen.name,
            seen.count,
            late_words(seen.late),
            seen.before.mean.micros() as f64 / 1e6,
            seen.after.mean.micros() as f64 / 1e6,
            seen.after.spread.micros() as f64 / 1e6,
            if remark.is_empty() { "" } else { "  " }
        );
    }
    for fall in falls {
        let side = match side_words(fall) {
            none if none.is_empty() => none,
            side => format!("; the {side}"),
        };
        line!(
            text,
            "{}, {} in run {}: let-go to {} {:.3} s, within {:.0} ms{side}. A proposal: look at the frames before you take it.",
            fall.name,
            fall.label,
            fall.run + 1,
            moment_words(fall.to),
            fall.seconds,
            fall.within * 1e3
        );
    }
    if !delays.is_empty() || !falls.is_empty() {
        line!(text, "Times only: what is seen late may have been sent late. Nothing here says that a rig is safe.");
    }
}
