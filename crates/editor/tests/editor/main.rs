//! The editor driven as a person drives it: by accessible label without a window.

#![allow(clippy::unwrap_used, missing_docs)]

mod desk;
mod files;
mod keyboard;
mod limits;
mod pictures;
mod rehearse;
mod rig;
mod score;
mod walk;
