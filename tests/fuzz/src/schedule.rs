//! Any show that the schema allows: its schedule, stage and calls. A lead is the sum of its parts, and ranges are no less than nothing.
#![no_main]

use letfall_core::schedule::{certainty, describe, place_numbers, place_words};
use letfall_core::time::{SongSpan, SongTime};

mod plans;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    let Some(show) = plans::show(bytes) else { return };
    for plan in plans::services(&show) {
        plan.complete();
        for row in &plan.schedule().rows {
            let cue = plan.cue(row);
            // At the end of the day that a song may lie from its start, times go no farther; the checks tell of such cues.
            if SongTime::MIN < row.send && row.send < SongTime::MAX {
                assert_eq!(row.land - row.send, row.lead.total(), "{}", row.label);
            }
            assert!(row.early >= SongSpan::ZERO && row.late >= SongSpan::ZERO && row.waits >= SongSpan::ZERO);
            let sure = certainty(plan.show(), cue, row);
            assert!((0.0..=1.0).contains(&sure.chance), "{}: {}", row.label, sure.chance);
            drop((sure.chance_words(), describe(plan.show(), cue), place_words(cue, plan.grid())));
            let (place, _) = place_numbers(cue, plan.grid());
            assert!(place.beat >= 1);
            drop(plan.stage().lights_at(plan.show(), row.land));
        }
        assert!(plan.call_groups().iter().all(|group| group.is_said() != group.words.is_empty()));
    }
});
