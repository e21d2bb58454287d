//! The Film screen: the picture, the film as a strip, the stretch around the picture that is shown, and beside them what the film shows.

mod about;
mod axis;
mod close_up;
mod cues;
mod empty;
mod falls;
mod picture;
mod regions;
mod screen;
mod strip;
mod take;

pub use screen::FilmScreen;
