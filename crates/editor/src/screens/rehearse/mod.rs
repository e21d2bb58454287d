//! The Rehearse screen: the desk at the left, the board beside it or in a window of its own, the page after the run.

mod after;
mod after_bends;
mod after_sent;
mod arm_key;
mod arming;
mod band_panel;
mod board;
mod board_bends;
mod board_line;
mod board_state;
mod choices_panel;
mod desk;
mod form;
mod headings;
mod others;
mod recorder_panel;
mod rehearsing;
mod reveal;
mod screen;
mod sign;
mod start_time;

pub use rehearsing::Rehearsing;
pub use screen::RehearseScreen;
