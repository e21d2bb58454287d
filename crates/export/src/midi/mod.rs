//! Standard MIDI Files (RP-001, SMF 1.1): writing a service, reading a tempo map.

mod clock;
mod encode;
mod error;
mod import;
mod write;

pub use error::MidiError;
pub use import::{ImportError, Imported, import};
pub use write::{MidiFile, MidiOptions, Resolution, write};
