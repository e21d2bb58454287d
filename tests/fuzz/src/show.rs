//! Any bytes as a show: read, check, schedule, write, read again.
#![no_main]

use letfall_core::file;
use letfall_core::prepared::{OutsideFacts, PreparedShow};
use letfall_export::{midi, table};
use std::sync::Arc;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    let Ok(show) = file::read(bytes) else { return };
    let written = file::write(&show);
    assert_eq!(file::read(&written).as_ref(), Ok(&show), "what is written reads back as itself");
    let show = PreparedShow::new(Arc::new(show), OutsideFacts::none());
    drop(show.problems());
    for service in 0..show.show().services.len() {
        let Ok(plan) = show.prepare(service) else { continue };
        drop(table::write(&plan));
        for resolution in [midi::Resolution::Quarter960, midi::Resolution::Millis] {
            let options = midi::MidiOptions { resolution, with_releases: true };
            if let Ok(written) = midi::write(&plan, options) {
                drop(midi::import(&written.bytes));
            }
        }
    }
});
