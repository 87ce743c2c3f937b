//! Tracks and routes on real roads and on roads drawn for one test.

mod brute;
mod buffer;
mod corridor;
mod diff;
mod diff_layers;
mod diff_refused;
mod driven;
mod drives;
mod edges;
mod elsewhere;
mod gaps;
mod junctions;
mod matcher;
mod meetings;
mod mounts;
mod mounts_demo;
mod mounts_refused;
mod network;
mod plan;
mod plan_calendar;
mod plan_people;
mod reference;
mod route;
mod route_rules;
mod town;
