//! Letfall's core: one show, one clock, one schedule, and no I/O.
//!
//! Nothing here reads a file or the clock, starts a thread or draws a screen. [`show`] is the show as people edit it, [`time`]
//! the musical grid, [`edit`] the changes to a show, [`schedule`] the list of what is sent and when, [`check`] what is wrong
//! with it, [`reveal`] the physics of the moment, [`performed`] what is known after it, [`stage`] what the audience sees, and
//! [`mod@file`] the file format.

pub mod check;
pub mod edit;
pub mod file;
pub mod filmed;
pub mod fingerprint;
pub mod fnv;
pub mod limits;
pub mod midi;
pub mod outline;
pub mod performed;
pub mod prepared;
pub mod reveal;
pub mod room;
pub mod schedule;
pub mod show;
pub mod stage;
pub mod stress;
mod text_form;
pub mod time;
