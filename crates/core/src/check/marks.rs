//! Marks of the song that are allowed but that no song has: tempos, pins and sections beyond what is sane.

use super::context::Checks;
use super::problem::Code;

/// The slowest and fastest usual tempo, in quarter notes a minute. Common practice, no source.
const USUAL: (f64, f64) = (30.0, 300.0);

pub(super) fn run(checks: &mut Checks<'_>) {
    let song = &checks.service.song;
    let end = song.end_bar();
    for mark in &song.grid.tempos {
        for tempo in [Some(mark.tempo), mark.ramp.as_ref().map(|ramp| ramp.to)].into_iter().flatten() {
            let quarters = 60_000_000.0 / tempo.quarter_micros();
            if !(USUAL.0..=USUAL.1).contains(&quarters) {
                let what = format!("the tempo mark at {} gives {quarters:.1} quarter notes a minute", mark.at);
                checks.find(Code::TempoOdd, &[], what, "look whether a quarter note is meant, or another note");
            }
        }
        if mark.at.bar >= end {
            beyond(checks, &format!("the tempo mark at {}", mark.at), end);
        }
    }
    for mark in song.grid.metres.iter().filter(|mark| mark.bar >= end) {
        beyond(checks, &format!("the metre at bar {}", mark.bar), end);
    }
    for pin in song.grid.pins.iter().filter(|pin| pin.bar > end) {
        beyond(checks, &format!("the pin at bar {}", pin.bar), end);
    }
    for section in &song.sections {
        let last = i64::from(section.bar) + i64::from(section.bars) - 1;
        if last >= i64::from(end) {
            beyond(checks, &format!("section \"{}\", which ends with bar {last},", section.name), end);
        }
    }
}

fn beyond(checks: &mut Checks<'_>, what: &str, end: i32) {
    let what = format!("{what} lies beyond the song's last bar, {}", end - 1);
    checks.find(Code::MarkBeyond, &[], what, "move it, take it out, or give the song more bars");
}
