//! Does nothing, but must exist: Cargo unifies the features of build dependencies only if there is a build script.

fn main() {}
