//! Everything between a show and the disk, for the command line and the editor alike: shows read and written so that no file is
//! ever half, guide recordings looked up, fonts found, and the one way in which anything is exported.

pub mod demo_shows;
pub mod disk;
pub mod exports;
mod failure;
#[cfg(feature = "paper")]
pub mod fonts;
pub mod guides;
pub mod new_show;
mod outside;

pub use failure::{Failure, io_words};
pub use outside::{outside_facts, prepared_show};
