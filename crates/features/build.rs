//! Does nothing. Cargo looks at the features of what a build script is made of only where there is one.

fn main() {}
