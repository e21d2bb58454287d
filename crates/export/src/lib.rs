//! From a finished schedule to bytes, and from a MIDI file's tempo map to a grid. Pure functions: no disk, no clock, no
//! randomness; the same input gives the same bytes.

pub mod audio;
pub mod midi;
pub mod table;
