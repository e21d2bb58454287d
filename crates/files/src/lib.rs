//! Everything between a show and the disk, for both the command line and the editor: reading shows and writing them without
//! ever leaving a partial file, finding guide recordings and fonts, and exporting.

pub mod demo_shows;
pub mod disk;
pub mod exports;
mod failure;
#[cfg(feature = "paper")]
pub mod fonts;
pub mod guides;
pub mod new_show;
mod outside;
pub mod recordings;

pub use failure::{Failure, io_words};
pub use outside::{outside_facts, prepared_show};
