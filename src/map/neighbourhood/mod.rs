//! What the map holds around a place, from tables on fixed squares of the globe.
//!
//! In: an [`crate::map::extract::model::Extract`]. Out: [`Neighbourhood`], made once over all of it and asked by place: whether
//! houses and trees are mapped there at all, whether it is built-up, and how high houses of a kind stand nearby. Whoever
//! rates a road reads these tables and looks at nothing else beyond its own surroundings.
#![doc = include_str!("rule.md")]
mod fill;
mod heights;
mod judge;
mod spans;
mod squares;
mod table;

pub use heights::{LocalHeights, TaggedHeights};
pub use table::Neighbourhood;
