//! A run in words, from its log: what people chose, where the song left the straight line, what became of each release.

use crate::log::LogRecord;
use letfall_core::performed::{Performed, PerformedRelease};
use letfall_core::show::{Kind, Label};
use letfall_core::time::{Grid, SongTime, WallTime};

/// What is known of a performance. `time_of_day` turns a time of the log, in microseconds since 1970, into the time of day at the place.
pub fn performed(records: &[LogRecord], grid: &Grid, time_of_day: &dyn Fn(i64) -> WallTime) -> Performed {
    let began = records.iter().find_map(|record| match record {
        LogRecord::Started { wall_us, song_us } => Some(wall_us - song_us),
        _ => None,
    });
    let ended = records.iter().rev().find_map(|record| match record {
        LogRecord::Stopped { wall_us, .. } => Some(*wall_us),
        _ => None,
    });
    let mut performed = Performed {
        began: began.map(time_of_day),
        ended: ended.filter(|_| began.is_some()).map(time_of_day),
        ..Performed::default()
    };
    for record in records {
        if let Some((at, words)) = bend_words(record, grid) {
            performed.lines.push((time_of_day(at), words));
        }
        became(&mut performed.releases, record, time_of_day);
    }
    performed
}

/// The row of a release, made when it is first told of.
fn row<'a>(releases: &'a mut Vec<PerformedRelease>, label: &str) -> Option<&'a mut PerformedRelease> {
    let label: Label = label.parse().ok().filter(|label: &Label| label.kind == Kind::Release)?;
    let at = releases.iter().position(|of| of.label == label).unwrap_or_else(|| {
        let (stuck, told) = (None, Vec::new());
        releases.push(PerformedRelease { label, down: false, stuck, early: false, stayed: false, told });
        releases.len() - 1
    });
    releases.get_mut(at)
}

/// What a line of the log says of a release.
fn became(releases: &mut Vec<PerformedRelease>, record: &LogRecord, time_of_day: &dyn Fn(i64) -> WallTime) {
    match record {
        LogRecord::Lock { wall_us, label, what, holder } if what == "armed" => {
            let by = holder.as_ref().map_or_else(String::new, |by| format!(" by {by}"));
            if let Some(of) = row(releases, label) {
                of.told.push((time_of_day(*wall_us), format!("armed{by}")));
            }
        }
        LogRecord::Message { wall_us, label, what, armed_by, .. } => {
            let words = match what.as_str() {
                // What ends its pulse has no holder.
                "sent" if armed_by.is_some() => "its message left",
                "stand-in" => "its stand-in left",
                "rehearsed" => "rehearsed, nothing left",
                "locked" => "not sent: nobody had armed it",
                "too-late" => "not sent: its moment had passed",
                "no-port" => "not sent: its port was not there",
                "port-stuck" => "its port was stuck: nobody knows whether it left",
                "withdrawn" => "not sent: withdrawn",
                _ => return,
            };
            if let Some(of) = row(releases, label).filter(|of| of.told.last().is_none_or(|(_, last)| last != words)) {
                of.told.push((time_of_day(*wall_us), words.to_owned()));
            }
        }
        LogRecord::Course { label, what, .. } => {
            let Some(of) = row(releases, label) else { return };
            match what.as_str() {
                "fabric-stays" => of.stayed = true,
                // A second try.
                "open" => of.stayed = false,
                "early" => of.early = true,
                "gone" | "given" => {}
                what => of.stuck = what.strip_prefix("stuck-").map(str::to_owned).or_else(|| of.stuck.take()),
            }
        }
        LogRecord::Bend { what, label: Some(label), answer, .. } if what == "down" && answer != "refused" => {
            if let Some(of) = row(releases, label) {
                // What was stuck has come down, or what stayed.
                (of.down, of.stayed) = (true, false);
            }
        }
        _ => {}
    }
}

/// What a line of the log says of the song's way, of people's choices, and of a release that took another course: when, and what.
pub fn bend_words(record: &LogRecord, grid: &Grid) -> Option<(i64, String)> {
    let bar = |micros: i64| grid.place_of(grid.tick_at(SongTime::saturating(micros))).bar;
    let (at, words) = match record {
        LogRecord::Bend { wall_us, what, by, answer, why, label, part, at_us, to_us } => {
            let mut parts = vec![what.replace('-', " ")];
            parts.extend([label, part].into_iter().flatten().cloned());
            let place = at_us.map_or_else(String::new, |at| format!(", bar {}", bar(at)));
            let to = to_us.map_or_else(String::new, |to| format!(" to bar {}", bar(to)));
            let came = match (answer.as_str(), why) {
                ("refused", Some(why)) => format!(": not done, {why}"),
                ("once-more", _) => ": after one more round".to_owned(),
                _ => String::new(),
            };
            (*wall_us, format!("{}{place}{to}, by {by}{came}", parts.join(" ")))
        }
        LogRecord::Course { wall_us, label, what, late } if !matches!(what.as_str(), "open" | "given") => {
            let late = if *late { "; something that depends on it had left" } else { "" };
            // Its message left, or somebody saw it down: the log does not tell which.
            let what = if what == "gone" { "what depends on it goes on" } else { what };
            (*wall_us, format!("{label}: {}{late}", what.replace('-', " ")))
        }
        LogRecord::Way { wall_us, what, from_us, to_us, round } => {
            let words = match (what.as_str(), round) {
                ("waits", _) => format!("time stood at bar {}", bar(*from_us)),
                ("goes-on", _) => format!("went on at bar {}", bar(*to_us)),
                ("round", Some(round)) => format!("round {round} from bar {}", bar(*to_us)),
                _ => format!("went on from bar {} with bar {}", bar(*from_us), bar(*to_us)),
            };
            (*wall_us, words)
        }
        LogRecord::Group { wall_us, labels } => (*wall_us, format!("by hand: {}", labels.join(", "))),
        LogRecord::PortLost { wall_us, port } => (*wall_us, format!("\"{port}\" was lost")),
        _ => return None,
    };
    Some((at, words))
}

#[cfg(test)]
mod tests {
    use super::performed;
    use crate::log::LogRecord;
    use letfall_core::time::{Grid, GridPlan, Metre, Tempo, WallTime};

    fn grid() -> Grid {
        let tempo = Tempo::quarters_per_minute(120.0).unwrap_or_else(|why| panic!("{why}"));
        GridPlan::steady(Metre::common(), tempo).build().unwrap_or_else(|why| panic!("{why}"))
    }

    fn record(json: &str) -> LogRecord {
        serde_json::from_str(json).unwrap_or_else(|why| panic!("{json}: {why}"))
    }

    /// A log as a run writes it: begun 40 s into the song, armed, sent, stuck left, then down; another release stays, and is tried again.
    #[test]
    fn a_log_becomes_a_report() {
        let log: Vec<LogRecord> = [
            r#"{"type":"started","wall_us":100000000,"song_us":40000000}"#,
            r#"{"type":"bend","wall_us":101000000,"what":"wait","by":"Robin","answer":"done","at_us":48000000}"#,
            r#"{"type":"way","wall_us":108000000,"what":"waits","from_us":48000000,"to_us":48000000}"#,
            r#"{"type":"bend","wall_us":109000000,"what":"cut","by":"Robin","answer":"refused","why":"too late","at_us":48000000,"to_us":60000000}"#,
            r#"{"type":"lock","wall_us":110000000,"label":"R1","what":"armed","holder":"Kim"}"#,
            r#"{"type":"message","wall_us":112000000,"label":"R1","port":"p","bytes":"90 3C 7F","planned_us":1,"late_us":0,"what":"sent","armed_by":"Kim"}"#,
            r#"{"type":"message","wall_us":112500000,"label":"R1","port":"p","bytes":"80 3C 00","planned_us":1,"late_us":0,"what":"sent"}"#,
            r#"{"type":"course","wall_us":112000000,"label":"R1","what":"gone"}"#,
            r#"{"type":"course","wall_us":114000000,"label":"R1","what":"stuck-left"}"#,
            r#"{"type":"bend","wall_us":119000000,"what":"down","by":"Kim","answer":"done","label":"R1"}"#,
            r#"{"type":"message","wall_us":120000000,"label":"R2","port":"p","bytes":"90","planned_us":1,"late_us":0,"what":"locked"}"#,
            r#"{"type":"course","wall_us":120000000,"label":"R2","what":"fabric-stays","late":true}"#,
            r#"{"type":"message","wall_us":120000000,"label":"R2 stays: light","port":"p","bytes":"90","planned_us":0,"late_us":0,"what":"sent"}"#,
            r#"{"type":"course","wall_us":121000000,"label":"R3","what":"fabric-stays"}"#,
            r#"{"type":"course","wall_us":122000000,"label":"R3","what":"open"}"#,
            r#"{"type":"course","wall_us":123000000,"label":"R3","what":"early"}"#,
            r#"{"type":"port-lost","wall_us":124000000,"port":"Desk"}"#,
            r#"{"type":"stopped","wall_us":160000000,"song_us":100000000}"#,
        ]
        .map(record)
        .into();
        let at = |micros: i64| WallTime::from_secs(72_000 + micros / 1_000_000);
        let told = performed(&log, &grid(), &at);
        assert_eq!(told.began, Some(at(60_000_000)), "song time 0 lies before the start");
        assert_eq!(told.ended, Some(at(160_000_000)));
        let seen: Vec<_> = told
            .releases
            .iter()
            .map(|of| (of.label.to_string(), of.down, of.stuck.clone(), of.early, of.stayed))
            .collect();
        let left = Some("left".to_owned());
        let all =
            [("R1", true, left, false, false), ("R2", false, None, false, true), ("R3", false, None, true, false)];
        assert_eq!(seen, all.map(|(label, down, stuck, early, stayed)| (label.to_owned(), down, stuck, early, stayed)));
        let words = |at: usize| told.releases[at].told.iter().map(|(_, words)| words.as_str()).collect::<Vec<_>>();
        assert_eq!(words(0), ["armed by Kim", "its message left"]);
        assert_eq!(words(1), ["not sent: nobody had armed it"]);
        let lines: Vec<&str> = told.lines.iter().map(|(_, words)| words.as_str()).collect();
        assert_eq!(
            lines,
            [
                "wait, bar 25, by Robin",
                "time stood at bar 25",
                "cut, bar 25 to bar 31, by Robin: not done, too late",
                "R1: what depends on it goes on",
                "R1: stuck left",
                "down R1, by Kim",
                "R2: fabric stays; something that depends on it had left",
                "R3: fabric stays",
                "R3: early",
                "\"Desk\" was lost"
            ]
        );
        assert_eq!(told.lines[0].0, at(101_000_000));
        // A log in which nothing was started tells of no beginning and no end.
        let empty = performed(&log[17..], &grid(), &at);
        assert_eq!((empty.began, empty.ended, empty.releases.len()), (None, None, 0));
    }
}
