//! Any bytes as a MIDI file: import its tempo map, and every bar line has a time, later than the last.
#![no_main]

use letfall_export::midi;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    let Ok(found) = midi::import(bytes) else { return };
    let Ok(grid) = found.plan.build() else { panic!("an imported plan builds") };
    let end = i32::try_from(found.bars.min(2000)).unwrap_or(1) + 1;
    for bar in 1..end {
        assert!(grid.micros_at(grid.bar_tick(bar)) < grid.micros_at(grid.bar_tick(bar + 1)));
    }
});
