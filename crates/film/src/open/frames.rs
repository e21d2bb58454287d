//! A film's pictures as they are measured: all of them, small.

use super::FilmError;
use super::decode::pictures;
use crate::picture::{Frame, HIGH, WIDE};
use std::path::Path;

/// Gives every picture of a film, turned upright and made small, to `take`, in order, until that says to stop. Returns how many there were.
///
/// # Errors
/// [`FilmError`].
pub fn frames(film: &Path, mut take: impl FnMut(Frame<'_>) -> bool) -> Result<u64, FilmError> {
    let mut count = 0;
    let read = pictures(film, &[], &format!("scale={WIDE}:{HIGH}:flags=area"), |picture| {
        count += 1;
        take(Frame { at: picture.at, rgb: &picture.rgb })
    });
    read.map(|()| count)
}
