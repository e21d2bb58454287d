//! A live band that leads the time: somebody says where it is, and taps along with a key, a pad or a pedal.

use super::run::Run;
use super::session::Rehearsal;
use crate::document::Document;
use letfall_live::{Band, Command, MachineTime, Moves};
use std::sync::{Arc, Mutex, PoisonError};

/// When pads or pedals were hit, by the machine's clock.
pub(super) type BandHits = Arc<Mutex<Vec<MachineTime>>>;

impl Rehearsal {
    /// A tap on a beat.
    pub(super) fn band_tap(&mut self) {
        if let (Some(band), Some(run)) = (&mut self.band, &self.run) {
            band.tap(run.now());
        }
    }

    /// The band is at a bar, on its downbeat. A run that waits goes on there.
    pub(super) fn band_at(&mut self, bar: i32, document: &mut Document) {
        let Some(run) = self.run.as_ref().filter(|run| run.runs() && self.options.band) else {
            return document.fail("start a run first, and choose to follow the band");
        };
        let song = &run.plan.prepared.service().song;
        let first = run.plan.prepared.show().settings.first_bar();
        let band = self.band.get_or_insert_with(|| Band::new(&run.plan.grid, first, song.end_bar()));
        if !band.here(bar, run.now()) {
            document.fail(format!("the song has no bar {bar}"));
        }
    }

    /// Takes in what pads and pedals did since the last frame.
    pub(super) fn hear_band(&mut self) {
        let hits = std::mem::take(&mut *self.band_hits.lock().unwrap_or_else(PoisonError::into_inner));
        if let Some(band) = &mut self.band {
            for at in hits {
                band.tap(at);
            }
        }
    }
}

/// Tells the run where the band is.
pub(super) fn lead_by_band(run: &mut Run, band: Option<&Band>) {
    let now = run.now();
    let place = band.filter(|_| run.place.moves == Moves::Runs).and_then(|band| Some((band, band.place(now)?)));
    let Some((band, place)) = place else {
        run.band = None;
        return;
    };
    run.command(Command::Band(place));
    let percent = (1.0 / band.tempo() - 1.0) * 100.0;
    let words = if place.sure {
        format!("FOLLOWING THE BAND  {percent:+.0} %")
    } else {
        "NOT SURE WHERE THE BAND IS: releases are locked, tap on".to_owned()
    };
    run.band = Some((place.sure, words));
}
