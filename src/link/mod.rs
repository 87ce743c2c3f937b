//! From masks to breaks: seeded drives against a sky tape, and the rating.
pub mod model;
