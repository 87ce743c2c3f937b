//! The `waymask` program: see [`waymask`] for the stages.
fn main() {}
