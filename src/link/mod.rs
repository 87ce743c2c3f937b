//! From masks to breaks: seeded drives against a sky tape, and the rating.
//!
//! In: chains of stretches (masks, headings, speeds, what stands overhead), a sky tape and the
//! profile. Out: break statistics per stretch and a rating. Times in seconds, lengths in metres.
//! Pure: no files, clocks or threads; the same chain, key and profile give the same numbers
//! whatever else is computed beside it.
pub mod draw;
pub mod drive;
pub mod model;
mod place;
pub mod rating;
pub mod road;
mod rules;
pub mod stats;
