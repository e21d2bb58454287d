//! The Rig screen: tables that are edited in place, with calculated figures beside the data and cautions beside the figures.

mod circuit;
pub mod costs;
mod courses;
mod day;
mod desk_list;
mod devices;
mod drawings;
mod drops;
mod fabric;
mod message;
mod pictures;
pub mod rows;
mod screen;
mod show_facts;
mod stuck;

pub use screen::Rig;
