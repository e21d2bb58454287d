//! Contains no code. Its `Cargo.toml` fixes the features of third-party crates, so that every stage of a build uses the same
//! ones.
