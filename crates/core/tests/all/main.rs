//! Tests the core against published values, against its own invariants, and with broken files.

#![allow(
    clippy::unwrap_used,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::cast_possible_wrap,
    missing_docs
)] // a test that cannot continue should panic

mod assumed;
mod bends;
mod checks;
mod checks_closely;
mod checks_desk;
mod checks_edges;
mod checks_found;
mod checks_kept;
mod checks_room;
mod cue_tables;
mod decisions;
mod desk_lists;
mod edits;
mod files;
mod follows;
mod grids;
mod lights;
mod limits;
mod outlines;
mod plans;
mod prepared;
mod rooms;
mod schedules;
