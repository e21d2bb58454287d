//! `letfall grid`: prints the tempo map of a MIDI file, or finds one in a recording.

use super::common::{count, json_line, line, thousandths};
use crate::cli;
use crate::output::{Answer, CommandOutput};
use letfall_core::show::Section;
use letfall_core::time::{Grid, GridPlan, TickSpan, round};
use letfall_export::midi::import;
use letfall_files::{Failure, guides, io_words};
use letfall_sound::bars::{BarError, Choice, Found, GivenBar, Hearing, TempoRange};
use serde::Serialize;
use std::fs::File;
use std::io::Read as _;

#[derive(Serialize)]
#[serde(tag = "type", rename_all = "kebab-case")]
enum JsonLine<'a> {
    File {
        division: u16,
        bars: u32,
        ends_us: i64,
    },
    Metre {
        bar: i32,
        metre: String,
        cut_ticks: Option<i64>,
    },
    Recording {
        bars: u32,
        tempo_bpm: f64,
    },
    Tempo {
        bar: i32,
        beat: u16,
        ticks: u32,
        at_us: i64,
        quarter_us: f64,
        #[serde(skip_serializing_if = "Option::is_none")]
        to_quarter_us: Option<f64>,
    },
    Pin {
        bar: i32,
        at_us: i64,
    },
    Section {
        name: &'a str,
        bar: i32,
        bars: u32,
    },
    Bar {
        bar: i32,
        tick: i64,
        at_us: i64,
        #[serde(skip_serializing_if = "Option::is_none")]
        confidence: Option<f64>,
    },
    Beat {
        at_us: i64,
        number: u8,
        of: u8,
    },
}

/// Whether a file starts like a Standard MIDI File (SMF 1.0: "MThd").
fn is_midi(args: &cli::Grid) -> Result<bool, Failure> {
    // What comes through a pipe can be looked at only once, and recordings are files.
    if crate::streams::is_stream(&args.file) {
        return Ok(true);
    }
    let fail = |why: &std::io::Error| Failure::Read { what: "the file", why: io_words(why), path: args.file.clone() };
    let mut head = [0u8; 4];
    let mut file = File::open(&args.file).map_err(|e| fail(&e))?;
    Ok(file.read(&mut head).map_err(|e| fail(&e))? == 4 && head == *b"MThd")
}

pub fn run(args: &cli::Grid) -> Answer {
    if is_midi(args)? { of_midi(args) } else { of_recording(args) }
}

fn of_midi(args: &cli::Grid) -> Answer {
    if args.first_downbeat.is_some() || args.beats_per_bar.is_some() || args.tempo.is_some() {
        return Err(Failure::Use(
            "a MIDI file says its own bars; give --first-downbeat, --tempo and --beats-per-bar for a recording".into(),
        ));
    }
    let bytes = crate::streams::read("the file", &args.file)?;
    let fail = |why| Failure::Import { why, path: args.file.clone() };
    let found = import(&bytes).map_err(fail)?;
    let grid = found.grid().map_err(fail)?;
    let ends = grid.bar_time(last(found.bars));
    let mut text = String::new();
    if args.json {
        let line = JsonLine::File { division: found.division, bars: found.bars, ends_us: ends.micros() };
        json_line(&mut text, &line);
    } else {
        line!(text, "{}, {ends}, {} ticks a quarter", count(found.bars as usize, "bar"), found.division);
    }
    marks(&mut text, args.json, &found.plan, &grid, &found.sections);
    if args.json {
        for bar in 1..=last(found.bars) {
            let tick = grid.bar_tick(bar);
            let line = JsonLine::Bar { bar, tick: tick.get(), at_us: grid.time_at(tick).micros(), confidence: None };
            json_line(&mut text, &line);
        }
    }
    Ok(CommandOutput { text, remarks: found.notes, found_stop: false, is_report: false })
}

/// The number of the bar line that ends this many bars.
fn last(bars: u32) -> i32 {
    i32::try_from(bars).unwrap_or(i32::MAX - 1) + 1
}

fn of_recording(args: &cli::Grid) -> Answer {
    let fail = |why: String| Failure::Read { what: "the recording", why, path: args.file.clone() };
    let misused = |why: BarError| Failure::Use(why.to_string());
    let tempo = args.tempo.map(TempoRange::near).transpose().map_err(misused)?;
    let mut decoder = guides::open(&args.file).map_err(fail)?;
    let hearing = Hearing::of(&mut decoder, |_| true).map_err(|e| fail(e.to_string()))?;
    let ends = decoder.decoded() as f64 / f64::from(decoder.facts().sample_rate);
    let downbeats = args.first_downbeat.zip(args.second_downbeat);
    let given_bar = downbeats.map(|(from, to)| GivenBar { from, to, beats: args.beats_per_bar });
    given_bar.map_or(Ok(()), |bar| bar.check(ends)).map_err(misused)?;
    if let Some(at) = args.first_downbeat.filter(|at| !(0.0..=ends).contains(at)) {
        return Err(misused(BarError::Outside { at, ends }));
    }
    let choice = Choice { given_bar, first_downbeat: args.first_downbeat, beats_per_bar: args.beats_per_bar, tempo };
    let found = hearing.find(&choice, &mut || true).map_err(|e| fail(e.to_string()))?;
    let grid = found.grid().map_err(|e| fail(e.to_string()))?;
    let mut text = String::new();
    if args.json {
        let tempo_bpm = thousandths(found.tempo());
        json_line(&mut text, &JsonLine::Recording { bars: found.bars, tempo_bpm });
    } else {
        line!(text, "{}, {:.1} beats a minute (median)", count(found.bars as usize, "bar"), found.tempo());
    }
    marks(&mut text, args.json, &found.plan, &grid, &[]);
    for pin in &found.plan.pins {
        if args.json {
            json_line(&mut text, &JsonLine::Pin { bar: pin.bar, at_us: pin.at.micros() });
        } else {
            line!(text, "bar {:<6}{:>12}  pinned", pin.bar, pin.at.to_string());
        }
    }
    if args.json {
        heard(&mut text, &found, &grid);
    }
    let mut remarks = decoder.notes().to_vec();
    let spot =
        |(from, to): &(i32, i32)| if from == to { format!("bar {from}") } else { format!("bars {from} to {to}") };
    let spots: Vec<String> = found.weak_spots().iter().map(spot).collect();
    if !spots.is_empty() {
        remarks.push(format!("hard to hear: {}; listen to them against a click", spots.join(", ")));
    }
    Ok(CommandOutput { text, remarks, found_stop: false, is_report: false })
}

/// Prints the bars and beats that were found.
fn heard(text: &mut String, found: &Found, grid: &Grid) {
    for (bar, heard) in (1i32..).zip(&found.confidence) {
        let tick = grid.bar_tick(bar);
        let confidence = Some(thousandths(f64::from(heard.confidence)));
        json_line(text, &JsonLine::Bar { bar, tick: tick.get(), at_us: grid.time_at(tick).micros(), confidence });
    }
    for beat in &found.beats {
        json_line(text, &JsonLine::Beat { at_us: round::nearest(beat.at * 1e6), number: beat.number, of: beat.of });
    }
}

/// Prints the metre and tempo marks, and the sections.
fn marks(text: &mut String, json: bool, plan: &GridPlan, grid: &Grid, sections: &[Section]) {
    for mark in &plan.metres {
        if json {
            let line = JsonLine::Metre {
                bar: mark.bar,
                metre: mark.metre.to_string(),
                cut_ticks: mark.cut.map(TickSpan::get),
            };
            json_line(text, &line);
        } else {
            let cut = mark.cut.map_or_else(String::new, |c| format!(" (this bar cut to {:.3} quarters)", c.quarters()));
            line!(text, "bar {:<6}{}{cut}", mark.bar, mark.metre);
        }
    }
    for mark in &plan.tempos {
        let at = grid.time_at(grid.tick_of(mark.at));
        let quarter = mark.tempo.quarter_micros();
        let to = mark.ramp.map(|r| r.to.quarter_micros());
        if json {
            let line = JsonLine::Tempo {
                bar: mark.at.bar,
                beat: mark.at.beat,
                ticks: mark.at.tick,
                at_us: at.micros(),
                quarter_us: quarter,
                to_quarter_us: to,
            };
            json_line(text, &line);
        } else {
            let to = to.map_or_else(String::new, |to| format!(" moving to {:.3}", 60e6 / to));
            line!(
                text,
                "{:<10}{:>12}  {:.3}{to} quarters a minute",
                mark.at.to_string(),
                at.to_string(),
                60e6 / quarter
            );
        }
    }
    for section in sections {
        if json {
            json_line(text, &JsonLine::Section { name: &section.name, bar: section.bar, bars: section.bars });
        } else {
            line!(text, "bar {:<6}section \"{}\", {}", section.bar, section.name, count(section.bars as usize, "bar"));
        }
    }
}
