//! From masks to outages: seeded drives against a satellite timeline, and the rating.
//!
//! In: strokes of stretches (masks, headings, speeds, what stands overhead), a satellite timeline and the
//! profile. Out: outage statistics per stretch and a rating. Times in seconds, lengths in metres.
//! Pure: no files, clocks or threads; the same stroke, key and profile give the same numbers
//! whatever else is computed beside it.
mod choice;
mod crowns;
pub mod draw;
mod drive;
pub mod each;
mod hiding;
pub mod hold;
pub mod model;
pub mod name;
mod place;
pub mod rating;
pub mod road;
mod rules;
pub mod simulate;
pub mod sky;
pub mod stats;
mod usable;
mod views;
mod way;

#[cfg(test)]
mod tests_borders;
