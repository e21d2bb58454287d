//! The only way to turn a service into a file: what to make, how, from which prepared plan, and where to. Progress is reported,
//! and the export can be stopped. The command line and the editor both use it, so they cannot differ.

#[cfg(feature = "paper")]
mod bundle;
mod export;
mod job;
mod watched;

#[cfg(feature = "paper")]
pub use bundle::{BundleOptions, Bundled, bundle};
pub use export::{Export, Exported, Product, folder_of};
pub use job::{ExportStep, Progress, Silent};
