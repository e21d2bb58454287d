//! The song takes over bars that were found or tapped. Also tells which cues that would move.

use crate::document::Document;
use letfall_core::prepared::{PrepareError, Prepared};
use letfall_core::show::{Kind, Label, Show, Song};
use letfall_core::time::{GridPlan, Pin, SongTime};
use letfall_sound::bars::Found;
use std::fmt::Write as _;
use std::sync::Arc;

/// A cue may move by this many microseconds without being mentioned.
const UNSEEN: i64 = 10_000;

/// Pins the bar lines that were tapped, starting at the song's bar line nearest to the first one. The rest of the song stays.
pub fn pin_tapped(document: &mut Document, plan: &GridPlan, bars: u32) -> bool {
    let (Ok(now), Some(service)) = (document.plan(), document.current()) else { return false };
    let Ok(tapped) = tried(&now, plan, bars) else { return false };
    let tapped = tapped.grid();
    let grid = now.grid();
    let begin = tapped.bar_time(1);
    let off = |bar: &i32| (grid.bar_time(*bar) - begin).micros().abs();
    let Some(first) = (1..=service.song.end_bar()).min_by_key(off) else { return false };
    let count = i32::try_from(bars).unwrap_or(1);
    let (last, one) = (first + count - 1, grid.bar_time(1));
    document.change_song(&format!("Pin bars {first} to {last} as tapped"), |song| {
        let pins = &mut song.grid.pins;
        pins.retain(|p| p.bar < first || p.bar > last);
        if pins.is_empty() && first > 1 {
            pins.push(Pin { bar: 1, at: one });
        }
        pins.extend((0..count).map(|n| Pin { bar: first + n, at: tapped.bar_time(1 + n) }));
        pins.sort_by_key(|p| p.bar);
    })
}

/// Replaces the song's grid; cues keep their bars.
pub fn take(document: &mut Document, name: &str, plan: GridPlan, bars: u32) -> bool {
    document.change_song(name, |song| take_over(song, plan, bars))
}

fn take_over(song: &mut Song, plan: GridPlan, bars: u32) {
    song.grid = plan;
    let sections = song.sections.iter().map(|s| i64::from(s.bar) + i64::from(s.bars) - 1).max().unwrap_or(1);
    song.bars = bars.max(u32::try_from(sections).unwrap_or(1));
}

/// The plan as it would be with other bars.
fn tried(now: &Prepared, plan: &GridPlan, bars: u32) -> Result<Arc<Prepared>, PrepareError> {
    let mut show = Show::clone(now.show());
    take_over(&mut show.services[now.service_at()].song, plan.clone(), bars);
    Prepared::hypothetical(Arc::new(show), now.service_at())
}

/// Tells how many cues would land at another time with the bars on offer, and how each release would move.
pub fn moves(document: &Document, found: &Found) -> Option<String> {
    let now = document.plan().ok()?;
    let then = tried(&now, &found.plan, found.bars).ok()?;
    let moved: Vec<(Label, SongTime, SongTime)> = (then.schedule().rows.iter())
        .filter_map(|row| Some((row.label, now.row(row.label)?.land, row.land)))
        .filter(|(_, was, is)| (*is - *was).micros().abs() >= UNSEEN)
        .collect();
    let most = moved.iter().map(|(_, was, is)| (*is - *was).secs_f64().abs()).fold(0.0, f64::max);
    let mut words = match moved.len() {
        0 => return None,
        1 => format!("Cues keep their bars: 1 moves in time, by {most:.2} s."),
        n => format!("Cues keep their bars: {n} move in time, by up to {most:.2} s."),
    };
    for (label, was, is) in moved.iter().filter(|(label, ..)| label.kind == Kind::Release) {
        write!(words, " {label} from {was} to {is}.").ok()?;
    }
    Some(words)
}
