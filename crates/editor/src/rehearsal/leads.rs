//! What leads the time of a run, or follows it: the guide around bends, a live band, the time of day.

use super::run::{GuideBend, Run};
use crate::document::{Document, Waker};
use crate::playback::Playback;
use letfall_live::{Band, Command, Event, MachineTime, Moves};
use std::sync::{Arc, Mutex};

/// A day in microseconds.
const DAY: i64 = 86_400_000_000;

/// When pads or pedals were hit, by the machine's clock.
pub(super) type BandHits = Arc<Mutex<Vec<MachineTime>>>;

/// Lets the band go along where the song stands, goes on or turns.
pub(super) fn lead_band_on(run: &mut Run, mut band: Option<&mut Band>) {
    for event in run.ways.drain(..) {
        if let Event::Turned { turns, .. } = event {
            run.turns = turns;
        }
        let Some(band) = &mut band else { continue };
        match event {
            Event::Waits { .. } => band.waits(),
            Event::GoesOn { song, at } => band.goes_on(song, at),
            Event::Turned { from, to, at, .. } => band.turned(from, to, at),
            _ => {}
        }
    }
}

/// Tells the run where the band is that leads the time.
pub(super) fn lead_by_band(run: &mut Run, band: Option<&Band>) {
    run.band = None;
    if run.place.moves != Moves::Runs {
        return;
    }
    let place = band.and_then(|band| Some((band, band.place(run.now(), run.turns)?)));
    run.command(Command::Band(place.map(|(_, place)| place)));
    let Some((band, place)) = place else {
        let words = "NOBODY HAS SAID WHERE THE BAND IS: releases are locked. Press J on a downbeat";
        run.band = Some((false, words.to_owned()));
        return;
    };
    let percent = (1.0 / band.tempo() - 1.0) * 100.0;
    let words = if place.sure {
        format!("FOLLOWING THE BAND  {percent:+.0} %")
    } else {
        "NOT SURE WHERE THE BAND IS: releases are locked, tap on".to_owned()
    };
    run.band = Some((place.sure, words));
}

/// What the guide does when the run bends: it stands while the run waits, and is where the run is when it goes on.
pub(super) fn bend_guide(
    run: &mut Run,
    with_guide: bool,
    document: &mut Document,
    playback: &mut Playback,
    wake: &Waker,
) {
    match run.guide {
        Some(GuideBend::Stop) => {
            run.guide = None;
            playback.stop();
        }
        Some(GuideBend::From(place)) if run.place.moves == Moves::Runs && run.song() >= place => {
            run.guide = None;
            if with_guide {
                playback.stop();
                document.playhead = run.song();
                playback.toggle(document, wake.clone());
            }
        }
        _ => {}
    }
}

/// The planned time of day of song time 0, in microseconds after midnight.
pub(super) fn planned_start(document: &Document) -> Option<i64> {
    document.current().and_then(|service| service.starts).map(letfall_core::time::WallTime::micros)
}

/// The same moment of another day, nearest to now: a start at five past midnight is late for half past eleven, not early.
pub(super) const fn nearest_in_a_day(micros: i64) -> i64 {
    let within = micros.rem_euclid(DAY);
    if within > DAY / 2 { within - DAY } else { within }
}

#[cfg(test)]
mod tests {
    use super::nearest_in_a_day;

    #[test]
    fn a_start_after_midnight_is_late_and_not_a_day_early() {
        let minutes = |m: i64| m * 60_000_000;
        assert_eq!(nearest_in_a_day(minutes(5) - minutes(23 * 60 + 30)), minutes(35));
        assert_eq!(nearest_in_a_day(minutes(23 * 60 + 30) - minutes(5)), -minutes(35));
        assert_eq!(nearest_in_a_day(minutes(12)), minutes(12));
    }
}
