//! The rig: tables that edit in place, with the worked figures beside the facts and the caution beside the figure.

mod costs;
mod devices;
mod fabric;
mod message;
mod pictures;
mod rows;
mod screen;
mod show_facts;

pub use screen::Rig;
