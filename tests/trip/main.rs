//! Tracks on real roads.
#[path = "../shared_data/mod.rs"]
mod shared_data;

mod buffer;
mod corridor;
mod driven;
mod drives;
mod matcher;
mod network;
