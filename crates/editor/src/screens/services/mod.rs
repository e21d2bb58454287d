//! The Services screen: services side by side, their differences, carrying cues across.

mod carry;
mod differences;
mod facts;
mod lane;
mod lane_picture;
mod screen;

pub use screen::Services;
