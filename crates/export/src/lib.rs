//! Turns a finished schedule into the bytes of a file, and a MIDI file's tempo map into a grid. Pure functions: no disk, no
//! clock, no randomness; the same input gives the same bytes.

pub mod audio;
pub mod calendar;
pub mod cue_table;
pub mod desk_list;
pub mod drawing;
pub mod fingerprints;
pub mod midi;
pub mod offers;
mod rows;
pub mod table;
