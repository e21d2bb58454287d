//! Any bytes as a show: read, check, schedule, write, read again.
#![no_main]

use letfall_core::{check, file, schedule::Schedule};
use letfall_export::{midi, table};

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    let Ok(show) = file::read(bytes) else { return };
    let written = file::write(&show);
    assert_eq!(file::read(&written).as_ref(), Ok(&show), "what is written reads back as itself");
    drop(check::show(&show));
    for service in &show.services {
        let Ok(schedule) = Schedule::build(&show, service) else { continue };
        drop(table::write(&show, service, &schedule));
        for resolution in [midi::Resolution::Quarter960, midi::Resolution::Millis] {
            let options = midi::MidiOptions { resolution, with_releases: true };
            if let Ok(written) = midi::write(&show, service, &schedule, options) {
                drop(midi::import(&written.bytes));
            }
        }
    }
});
