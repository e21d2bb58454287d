//! The editor driven as a person drives it: by accessible label without a window, and in a real window.

#![allow(clippy::unwrap_used, missing_docs)]

mod desk;
mod display;
mod files;
mod keyboard;
mod pictures;
mod rehearse;
mod rig;
mod score;
mod walk;
mod window;
