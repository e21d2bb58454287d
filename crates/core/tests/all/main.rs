//! The core against published values, against its own laws, and against everything that can be wrong in a file.

#![allow(
    clippy::unwrap_used,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::cast_possible_wrap,
    missing_docs
)] // a test that cannot go on should stop loudly

mod checks;
mod edits;
mod files;
mod grids;
mod limits;
mod plans;
mod prepared;
mod schedules;
