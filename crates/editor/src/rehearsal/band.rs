//! A live band that leads the time: somebody says where it is, and taps along with a key, a pad or a pedal.

use super::session::Rehearsal;
use crate::document::Document;
use crate::playback::Playback;
use letfall_core::show::{BendMark, SongBend};
use letfall_live::{Band, Bend, Moves};
use std::sync::PoisonError;

impl Rehearsal {
    /// A tap on a beat.
    pub(super) fn band_tap(&mut self) {
        if let (Some(band), Some(run)) = (&mut self.band, &self.run) {
            band.tap(run.now());
        }
    }

    /// The band is at a bar, on its downbeat. A run that waits goes on there.
    pub(super) fn band_at(&mut self, bar: i32, document: &mut Document, playback: &mut Playback) {
        let Some(run) = self.run.as_ref().filter(|run| run.runs() && self.options.band) else {
            return document.fail("start a run first, and choose to follow the band");
        };
        let song = &run.plan.prepared.service().song;
        let first = run.plan.prepared.show().settings.first_bar();
        let free = |mark: &BendMark| matches!(mark.does, SongBend::Free { .. }).then(|| mark.bar..mark.end_bar());
        let free: Vec<_> = song.bends.iter().filter_map(free).collect();
        let band = self.band.get_or_insert_with(|| Band::new(&run.plan.grid, first, song.end_bar(), &free));
        if !band.here(bar, run.now()) {
            return document.fail(format!("the song has no bar {bar}"));
        }
        if run.place.moves == Moves::Waits {
            // The band has begun again, so the song goes on.
            self.bend(Bend::GoOn, playback);
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
