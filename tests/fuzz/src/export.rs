//! Any show that the schema allows: everything that is made from it but paper.
#![no_main]

use letfall_export::audio::{ClickOptions, TimecodeOptions, click, timecode};
use letfall_export::{midi, table};
use std::io::Cursor;

mod plans;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    let Some(show) = plans::show(bytes) else { return };
    for plan in plans::services(&show) {
        drop(table::write(&plan));
        for resolution in [midi::Resolution::Quarter960, midi::Resolution::Quarter4800, midi::Resolution::Millis] {
            for with_releases in [false, true] {
                if let Ok(written) = midi::write(&plan, midi::MidiOptions { resolution, with_releases }) {
                    drop(midi::import(&written.bytes));
                }
            }
        }
        if plans::is_short(&plan) {
            let sample_rate = 8000;
            drop(click(&plan, ClickOptions { sample_rate, section_pips: true }, Cursor::new(Vec::new())));
            let start = plan.service().timecode.as_ref().and_then(|start| start.parse().ok());
            if let Some(start) = start {
                let options = TimecodeOptions { sample_rate, ..TimecodeOptions::new(start) };
                drop(timecode(&plan, options, Cursor::new(Vec::new())));
            }
        }
    }
});
