//! What people type as a place: coordinates, or a name that the layer knows.
//!
//! [`find`] gives candidates for a name, [`place_typed`] the one place that is meant or an error that asks back, and
//! [`legs`] cuts "A to B" into its places. [`Towns`] tells positions by the town they lie in or near.
mod candidate;
mod find;
mod legs;
mod road;
mod spelling;
mod towns;
mod typed;

pub use candidate::{NameCandidate, NameFit};
pub use find::{NameFound, find};
pub use legs::legs;
pub(in crate::ask) use towns::in_words;
pub use towns::{TownNear, Towns, town_near};
pub use typed::{PlaceTyped, place_typed};
