//! What a film of a rehearsal shows: where it lies against the song, and when each light, picture and fabric really changed.
//!
//! A film's clock is in seconds from its beginning, by the stamps of its frames and samples and never by counting them: what a
//! player shows.

// Samples and frames are counted, and sound is numbers of 32 bits: all far below what the types hold, because a film is at most three hours.
#![allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, clippy::cast_possible_wrap)]

pub mod align;
pub mod measure;
pub mod open;
pub mod page;
mod peak;
pub mod picture;
pub mod sound;
pub mod study;
