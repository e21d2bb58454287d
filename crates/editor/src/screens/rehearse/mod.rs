//! The Rehearse screen: the desk at the left, the board beside it or in a window of its own, the page after the run.

mod after;
mod after_leads;
mod after_sent;
mod arming;
mod board;
mod board_line;
mod desk;
mod others;
mod recorder_panel;
mod reveal;
mod screen;

pub use screen::{RehearseScreen, Rehearsing};
