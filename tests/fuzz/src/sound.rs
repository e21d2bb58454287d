//! Any bytes as a recording: opened, decoded to the end, drawn.
#![no_main]

use letfall_sound::{Decoder, Peaks};
use std::io::Cursor;
use std::sync::Once;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    // A panic of the decoding library is caught where it is called; one of ours comes through to here and ends the run.
    static QUIET: Once = Once::new();
    QUIET.call_once(|| std::panic::set_hook(Box::new(|_| {})));
    let Ok(mut decoder) = Decoder::open(Box::new(Cursor::new(bytes.to_vec())), None) else { return };
    // Silence can be packed a thousand to one and more; what matters here is that reading ends.
    let mut most = 0;
    if let Some(peaks) = Peaks::of(&mut decoder, |read| {
        most = read;
        read < 20_000_000
    }) {
        assert_eq!(peaks.frames, most);
        let secs = peaks.frames as f64 / f64::from(peaks.sample_rate);
        assert_eq!(peaks.range(0.0, secs).is_some(), peaks.frames > 0);
    }
});
