//! Writes the invented herd.
fn main() {}
