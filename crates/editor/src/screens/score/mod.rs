//! The Score screen: the song from left to right, the panel beside it, the stage above it.

mod bends;
mod bodies;
mod canvas;
mod courses;
mod cue_actions;
mod cue_field;
mod cue_lead;
mod ear_panel;
mod film_strip;
mod geometry;
mod gesture;
mod guide_strip;
mod handover;
mod heading;
mod inspector;
mod known_bar_panel;
mod layout;
mod menu;
mod overlay;
mod pointer;
mod ruler;
mod shown;
mod snap;
mod song;
mod stage_strip;

pub use canvas::{Score, cue_has_focus};
pub use ear_panel::Ear;
pub use film_strip::FilmStrip;
pub use geometry::View;
pub use guide_strip::GuideStrip;
pub use inspector::Inspector;
pub use snap::Snap;
pub use stage_strip::{StageStripState, show as stage_strip};
