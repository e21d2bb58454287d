//! What the tests of this folder run on: the demo show's first service, and ports that keep what was sent and when.

#![allow(clippy::unwrap_used, dead_code, missing_docs)] // each test takes what it needs

use letfall_core::prepared::Prepared;
use letfall_core::show::Show;
use letfall_core::time::SongTime;
use letfall_live::{Gone, MachineTime, MidiSink, RunPlan, ShowPort};
use std::sync::Arc;

/// Keeps what was sent and when.
#[derive(Default)]
pub struct Fake {
    pub now: i64,
    pub sent: Vec<(i64, u16, Vec<u8>)>,
    /// Ports that take nothing.
    pub broken: Vec<u16>,
}

impl MidiSink for Fake {
    fn send(&mut self, ShowPort(port): ShowPort, bytes: &[u8]) -> Result<(), Gone> {
        if self.broken.contains(&port) {
            return Err(Gone);
        }
        self.sent.push((self.now, port, bytes.to_vec()));
        Ok(())
    }
}

pub fn show() -> Show {
    letfall_core::file::read(include_bytes!("../../../../demo-shows/lantern-night.letfall")).unwrap()
}

/// The same with a receiver on the port that the release does not hang on, to which every preset sends the release's own message.
pub fn show_with_its_message_elsewhere() -> Show {
    let mut show = show();
    let message = show.releases[0].message.clone();
    let mut apart = show.receiver(&show.releases[0].receiver).unwrap().clone();
    let other = show.ports.iter().find(|p| p.key != apart.port).unwrap().key.clone();
    (apart.key, apart.port) = ("apart".parse().unwrap(), other);
    for preset in &mut show.presets {
        (preset.receiver, preset.message) = (apart.key.clone(), message.clone());
    }
    show.receivers.push(apart);
    show
}

pub fn plan(show: &Show) -> Arc<RunPlan> {
    Arc::new(RunPlan::new(Prepared::hypothetical(Arc::new(show.clone()), 0).unwrap()))
}

/// A time of the machine's clock. The tests count in microseconds.
pub const fn at(micros: i64) -> MachineTime {
    MachineTime::from_micros(micros)
}

/// A song time.
pub const fn song(micros: i64) -> SongTime {
    SongTime::saturating(micros)
}
