//! The one way in which a service becomes a file: what to make, how, from which prepared plan, where to; with progress told and
//! a wish to stop heard. The command line and the editor both use it, so that they cannot differ.

mod export;
mod job;
mod watched;

pub use export::{Export, Exported, Product, folder_of};
pub use job::{ExportStep, Progress, Silent};
