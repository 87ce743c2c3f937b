//! Routes: the fastest way between places, the steadiest, and a few between.
//!
//! In: edges of a layer and places snapped to its segments. Out: ways, each as the stretches that a matched track would
//! give, so that [`super::corridor`] answers for both. Searches are petgraph's; what they search in is told in
//! `graph.rs`, what is found of all ways and what is not in `ways.rs`, which roads only serve the ends of a drive in
//! `local.rs`. Turn restrictions, barriers on the road and the time turns take are not known.
mod answer;
mod cost;
mod graph;
mod journey;
mod local;
mod snap;
mod steps;
mod table;
mod ways;
mod why;

pub use answer::{Answers, At, Named, RouteAnswer, answer};
pub use cost::{Cost, Totals, Weights};
pub use graph::{Directions, End, Network, Reached};
pub use journey::{Journey, Way};
pub use snap::{Near, Spot, SpotLane, near};
pub use steps::{Segments, matched};
pub use table::{Edge, Refusal, Rules, Table};
pub use ways::{Limits, ways};
pub use why::{Obstacle, notes, refused};
