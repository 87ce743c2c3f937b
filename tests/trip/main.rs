//! Tracks and routes on real roads and on roads drawn for one test.
#[path = "../extract_builder/mod.rs"]
#[allow(dead_code)]
mod extract_builder;
#[path = "../build/kit.rs"]
#[allow(dead_code, unused_imports)]
mod kit;
#[path = "../shared_data/mod.rs"]
mod shared_data;

mod brute;
mod buffer;
mod corridor;
mod driven;
mod drives;
mod edges;
mod matcher;
mod network;
mod plan;
mod reference;
mod route;
mod route_rules;
mod town;
