//! `letfall grid`

use super::{count, json_line};
use crate::failure::Failure;
use crate::{Answer, Told, cli, disk};
use letfall_core::time::{SongTime, TickSpan};
use letfall_export::midi::import;
use serde::Serialize;

#[derive(Serialize)]
#[serde(tag = "type", rename_all = "kebab-case")]
enum Line<'a> {
    File { division: u16, bars: u32, ends_us: i64 },
    Metre { bar: i32, metre: String, cut_ticks: Option<i64> },
    Tempo { place: String, at_us: i64, quarter_us: f64 },
    Section { name: &'a str, bar: i32, bars: u32 },
    Bar { bar: i32, tick: i64, at_us: i64 },
}

pub fn run(args: &cli::Grid) -> Answer {
    let bytes = disk::read("the file", &args.file)?;
    let fail = |why| Failure::Import { why, path: args.file.clone() };
    let found = import(&bytes).map_err(fail)?;
    let grid = found.plan.build().map_err(|e| fail(e.into()))?;
    let last = i32::try_from(found.bars).unwrap_or(i32::MAX - 1) + 1;
    let mut text = String::new();
    if args.json {
        json_line(
            &mut text,
            &Line::File { division: found.division, bars: found.bars, ends_us: grid.bar_time(last).micros() },
        );
    } else {
        let length = grid.bar_time(last) - SongTime::ZERO;
        let length = SongTime::ZERO + length;
        line!(text, "{}, {length}, {} ticks a quarter", count(found.bars as usize, "bar"), found.division);
    }
    for mark in &found.plan.metres {
        if args.json {
            json_line(
                &mut text,
                &Line::Metre { bar: mark.bar, metre: mark.metre.to_string(), cut_ticks: mark.cut.map(TickSpan::get) },
            );
        } else {
            let cut = mark.cut.map_or_else(String::new, |c| format!(" (this bar cut to {:.3} quarters)", c.quarters()));
            line!(text, "bar {:<6}{}{cut}", mark.bar, mark.metre);
        }
    }
    for mark in &found.plan.tempos {
        let at = grid.time_at(grid.tick_of(mark.at));
        let quarter = mark.tempo.quarter_micros();
        if args.json {
            json_line(&mut text, &Line::Tempo { place: mark.at.to_string(), at_us: at.micros(), quarter_us: quarter });
        } else {
            line!(text, "{:<10}{:>12}  {:.3} quarters a minute", mark.at.to_string(), at.to_string(), 60e6 / quarter);
        }
    }
    for section in &found.sections {
        if args.json {
            json_line(&mut text, &Line::Section { name: &section.name, bar: section.bar, bars: section.bars });
        } else {
            line!(text, "bar {:<6}section \"{}\", {}", section.bar, section.name, count(section.bars as usize, "bar"));
        }
    }
    if args.json {
        for bar in 1..=last {
            let tick = grid.bar_tick(bar);
            json_line(&mut text, &Line::Bar { bar, tick: tick.get(), at_us: grid.time_at(tick).micros() });
        }
    }
    Ok(Told { text, remarks: found.notes, found_stop: false })
}
