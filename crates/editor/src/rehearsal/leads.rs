//! What leads the time of a run, or follows it: the guide around bends, a live band, the time of day.

use super::run::{GuideBend, Run};
use crate::document::{Document, Waker};
use crate::playback::Playback;
use letfall_core::prepared::Prepared;
use letfall_core::schedule::clock_cues;
use letfall_core::show::Label;
use letfall_core::time::{SongTime, nearest_in_a_day};
use letfall_live::{Band, Command, Event, MachineSpan, MachineTime, Moves};
use std::sync::{Arc, Mutex};

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
fn planned_start(document: &Document) -> Option<i64> {
    document.current().and_then(|service| service.starts).map(letfall_core::time::WallTime::micros)
}

/// How much later than planned song time 0 comes, by the time of day, in microseconds, if the run is at a place after a while. `None` if the
/// service has no start time.
pub(super) fn late_by(document: &Document, wait: MachineSpan) -> Option<i64> {
    let begins = letfall_platform::time_of_day() + wait.micros() - document.playhead.micros();
    planned_start(document).map(|planned| nearest_in_a_day(begins - planned))
}

/// What becomes of cues that keep their time of day, in a sentence.
pub(super) fn kept_words(plan: &Prepared, from: SongTime) -> String {
    let labels = clock_cues(plan.show(), plan.service());
    let passed = |label: &Label| plan.row(*label).is_some_and(|row| row.send < from);
    let (passed, ahead): (Vec<Label>, Vec<Label>) = labels.into_iter().partition(passed);
    let list = |labels: &[Label]| labels.iter().map(ToString::to_string).collect::<Vec<_>>().join(", ");
    let mut words = Vec::new();
    if !ahead.is_empty() {
        words.push(format!("keep their time of day: {}", list(&ahead)));
    }
    if !passed.is_empty() {
        words.push(format!("already past: {}", list(&passed)));
    }
    words.join("; ")
}
