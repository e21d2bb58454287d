//! A film of a rehearsal that is looked at: where it lies against the song, what is seen where, what was found and what a person marked.
//! Nothing of it is kept after the editor is closed: a film of people is private.

mod close_up;
mod looking;
mod proposals;
mod reading;
mod request;
mod results;
mod study;

pub use reading::{Opened, Placed};
pub use request::{ByHand, FilmRequest};
pub use results::Row;
pub use study::FilmStudy;
