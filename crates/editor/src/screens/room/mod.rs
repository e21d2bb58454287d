//! The Room screen: plan, section and the view from any seat, drawn from one geometry, dragged or typed; and what comes before the first
//! cue: the survey, offers, the week.

mod before;
mod canvas;
mod gives;
mod instant;
mod on_screen;
mod people;
mod place;
mod screen;
mod things;

pub use screen::RoomScreen;
