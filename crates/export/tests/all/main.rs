//! MIDI files against the standard's own examples, and everything we write read back by a strict reader.

#![allow(
    clippy::unwrap_used,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::cast_possible_wrap,
    missing_docs
)] // a test that cannot continue should panic

mod audio;
mod golden;
mod import;
mod strict;
mod written;
