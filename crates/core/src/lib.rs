//! The pure half of Letfall: one show, one clock, one schedule.
//!
//! Nothing here reads a file, asks the time, starts a thread or knows a screen. [`show`] is the plan as people make it,
//! [`time`] the grid under it, [`edit`] the changes to it, [`schedule`] the finished list of what is sent when, [`check`]
//! what is wrong with it, [`reveal`] the physics of the moment, [`stage`] what the audience sees, and [`mod@file`] its bytes.

pub mod check;
pub mod edit;
pub mod file;
pub mod fnv;
pub mod limits;
pub mod midi;
pub mod prepared;
pub mod reveal;
pub mod schedule;
pub mod show;
pub mod stage;
pub mod stress;
mod text_form;
pub mod time;
