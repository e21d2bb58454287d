//! Services that have drifted apart where one was copied from the other, and services too close together.

use super::context::Checks;
use super::problem::{Code, Problem};
use crate::edit::differing;
use crate::show::{Action, Anchor, Cue, Service, Show, between_total};
use crate::time::{BarBeat, Grid, SongSpan, SongTime};

pub(super) fn run(checks: &mut Checks<'_>) {
    let (show, service) = (checks.show, checks.service);
    let grid = checks.schedule.grid.clone();
    let mut source: Option<(&Service, Grid)> = None;
    for cue in &service.cues {
        let Some(origin) = &cue.copied_from else { continue };
        if source.as_ref().is_none_or(|(s, _)| s.name != origin.service) {
            source = show.service(&origin.service).and_then(|s| Some((s, s.song.grid.build().ok()?)));
        }
        let Some((from, from_grid)) = &source else { continue };
        let Some(old) = from.cues.get(origin.label) else {
            let what = format!(
                "{} was copied from {} of \"{}\", which is no longer there",
                cue.label, origin.label, origin.service
            );
            checks.find(Code::ServicesDiffer, &[cue.label], what, "take it out here too, or leave it if that is meant");
            continue;
        };
        let mut fields: Vec<&str> = differing(cue, old, &grid, from_grid).iter().map(|f| f.name).collect();
        if same_place(cue, service, &grid, old, from, from_grid) {
            fields.retain(|f| *f != "at");
        }
        if !fields.is_empty() {
            let what = format!(
                "{} differs from {} of \"{}\" in {}",
                cue.label,
                origin.label,
                origin.service,
                fields.join(", ")
            );
            checks.find(
                Code::ServicesDiffer,
                &[cue.label],
                what,
                "compare the services, and carry it again or leave it if that is meant",
            );
        }
    }
}

/// Whether a copy is in the same place as its original: same bar, same bar of the same section, or same song time.
fn same_place(cue: &Cue, here: &Service, grid: &Grid, old: &Cue, there: &Service, old_grid: &Grid) -> bool {
    if cue.at == old.at || cue.at.time(grid) == old.at.time(old_grid) {
        return true;
    }
    let (Anchor::Grid { place: a, nudge: na }, Anchor::Grid { place: b, nudge: nb }) = (cue.at, old.at) else {
        // A clock-anchored copy is in the same place if it is as far from its bar line, within a tick.
        let inside = |c: &Cue, g: &Grid| {
            let tick = g.tick_at(c.at.time(g));
            (tick - g.bar_tick(g.place_of(tick).bar)).get()
        };
        return (inside(cue, grid) - inside(old, old_grid)).abs() <= 1;
    };
    let in_section = |place: BarBeat, s: &Service| {
        let section = s.song.section_at(place.bar)?;
        Some((section.name.clone(), place.bar - section.bar))
    };
    let same_beat = (a.beat, a.tick, na) == (b.beat, b.tick, nb);
    same_beat && in_section(a, here).is_some_and(|x| Some(x) == in_section(b, there))
}

/// Services of one day that leave too little time between them for the show's own work: the fabric has to be hung again.
pub(super) fn close(show: &Show) -> Vec<Problem> {
    let mut timed: Vec<(&str, i64, i64, &Service)> = Vec::new();
    for service in &show.services {
        let (Some(starts), Ok(grid)) = (service.starts, service.song.grid.build()) else { continue };
        let begins = starts.micros();
        let lasts = (grid.bar_time(service.song.end_bar()) - SongTime::ZERO).micros();
        timed.push((service.date.trim(), begins, begins + lasts, service));
    }
    timed.sort_by_key(|(date, begins, ..)| (*date, *begins));
    let mut found = Vec::new();
    for pair in timed.windows(2).filter(|pair| pair[0].0 == pair[1].0) {
        let ((_, _, ends, one), (_, begins, _, other)) = (pair[0], pair[1]);
        let between = SongSpan::from_micros(begins - ends);
        let drops = one.cues.iter().filter(|cue| !cue.resting).filter_map(|cue| match &cue.does {
            Action::Release { release, .. } => show.release(release).and_then(|r| show.hang(&r.hang)),
            _ => None,
        });
        let hangs_again = drops.clone().next().is_some();
        if let Some(doors) = other.doors.filter(|_| hangs_again) {
            let done_by = doors.micros() - i64::from(show.settings.before_doors_min) * 60_000_000;
            let (there, all) = (SongSpan::from_micros(done_by - ends), between_total(&show.between));
            if there < all {
                let minutes = |span: SongSpan| span.micros().div_euclid(60_000_000);
                let what = format!(
                    "the work between \"{}\" and \"{}\" takes {} minutes, and {} min before the doors open there are {}",
                    one.name,
                    other.name,
                    minutes(all),
                    show.settings.before_doors_min,
                    minutes(there).max(0)
                );
                let remedy = "open the doors later, begin later, or have more people share the work and enter what it takes then";
                found.push(Problem::of_rig(Code::BetweenTooLong, what, remedy));
            }
        }
        let needs = drops.map(|hang| hang.reach.turnaround()).max().unwrap_or(SongSpan::ZERO);
        if between >= needs {
            continue;
        }
        let minutes = |span: SongSpan| span.micros().div_euclid(60_000_000);
        let what = if between < SongSpan::ZERO {
            format!("the song of \"{}\" begins before that of \"{}\" is over", other.name, one.name)
        } else {
            format!(
                "between the songs of \"{}\" and \"{}\" there are {} minutes, and hanging again takes {}, with the hall empty",
                one.name,
                other.name,
                minutes(between),
                minutes(needs)
            )
        };
        found.push(Problem::of_rig(
            Code::ServicesClose,
            what,
            "leave more time; 60 minutes with a bar that is lowered and 90 from a lift or tower are usual",
        ));
    }
    found
}
