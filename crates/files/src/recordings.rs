//! Recordings as films are compared with them.

use crate::guides;
use letfall_film::sound::at_comparing_rate;
use std::path::Path;

/// Endings of files that are sound alone, and that are read here without another program.
const SOUNDS: [&str; 6] = ["wav", "flac", "mp3", "ogg", "oga", "m4a"];

/// Whether a file's name says that it is sound alone.
pub fn is_sound(path: &Path) -> bool {
    path.extension().is_some_and(|e| SOUNDS.contains(&e.to_string_lossy().to_lowercase().as_str()))
}

/// A recording's sound as films are compared with it. `go_on` says now and then whether to; `None` once it says no.
///
/// # Errors
/// Why it cannot be read, in words; the caller adds the path.
pub fn compared(path: &Path, mut go_on: impl FnMut() -> bool) -> Result<Option<Vec<f32>>, String> {
    let mut decoder = guides::open(path)?;
    let rate = decoder.facts().sample_rate;
    let mut goes_on = true;
    let sound = at_comparing_rate(rate, |take| {
        while goes_on && let Some(block) = decoder.next_block() {
            take(block);
            goes_on = go_on();
        }
    });
    Ok(goes_on.then_some(sound))
}
