//! MIDI files against the standard's own examples, and everything we write read back by a strict reader.

#![allow(clippy::unwrap_used, missing_docs)] // a test that cannot go on should stop loudly

mod golden;
mod import;
mod strict;
mod written;
