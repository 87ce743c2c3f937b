//! Routes: the fastest way between places, the steadiest, and a few between.
//!
//! In: edges of a layer and places snapped to its segments. Out: ways, each as the stretches that a matched track would
//! give, so that [`super::corridor()`] answers for both. Searches are petgraph's; what they search in is explained in
//! `graph.rs`, what is found of all ways and what is not in `ways.rs`, which roads only serve the ends of a drive in
//! [`crate::map::network::local`]. Turn restrictions, barriers on the road and the time turns take are not known.
mod answer;
mod chance;
mod cost;
mod find;
mod graph;
mod journey;
mod places;
mod question;
mod snap;
mod steps;
mod table;
mod ways;
mod why;

pub use answer::{NamedRoad, PlaceTaken, RouteAnswer, RouteWay};
pub use cost::{Cost, Totals, Weights};
pub(in crate::ask) use find::one_way;
pub use find::route;
pub use graph::{Directions, Reached, RouteNetwork, SpotEnd};
pub use question::{MOST_PLACES, RouteQuestion};
pub use snap::{RouteSpot, SpotLane};
pub use table::{EdgeTable, Refusal, RouteEdge, RouteRules};
pub use ways::{Limits, ways};
