//! Any show that the schema allows: everything that is checked. Each problem must say something.
#![no_main]

mod plans;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    let Some(show) = plans::show(bytes) else { return };
    for problem in show.problems() {
        assert!(!problem.what.trim().is_empty() && !problem.remedy.trim().is_empty(), "{problem:?}");
    }
});
