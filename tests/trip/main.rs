//! Tracks on real roads.
#[path = "../shared_data/mod.rs"]
mod shared_data;

mod corridor;
mod driven;
mod drives;
