//! The Services screen: services side by side, what differs between them, carrying cues across.

mod carry;
mod facts;
mod lane;
mod lane_picture;
mod screen;

pub use screen::Services;
