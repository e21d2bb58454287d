//! Holds no code: its `Cargo.toml` says which features crates of other people are built with in every stage of a build.
