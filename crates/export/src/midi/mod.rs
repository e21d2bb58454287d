//! Standard MIDI Files (RP-001, SMF 1.1): writing a service, reading a tempo map.

mod clock;
mod import;
mod write;

pub use import::{ImportError, Imported, import};
pub use write::{MidiError, MidiFile, MidiOptions, Resolution, write};
