//! Drives the editor as a user would, but by accessible labels and without a window.

#![allow(clippy::unwrap_used, missing_docs)]

mod bends;
mod by_hand;
mod colours;
mod desk;
mod drawings;
mod files;
mod film;
#[path = "../../../film/tests/made/films.rs"]
mod films;
mod first_show;
mod help;
mod keyboard;
mod limits;
mod performance;
mod pictures;
mod rehearse;
mod rig;
mod room;
mod run_desk;
mod score;
mod services;
mod sizes;
#[path = "../../../film/tests/made/songs.rs"]
mod songs;
mod tour;
mod two_editors;
mod walk;
