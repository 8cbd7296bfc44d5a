//! The `tipcurve` program.
fn main() {}
