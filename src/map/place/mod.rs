//! Where on earth a place lies: its country, the side its traffic keeps to, its legal speeds.
//!
//! In: a [`Position`](crate::base::geodesy::Position). Out: a [`country::Country`], and what a [`places::Locale`] says
//! of it; its time [`zone`]. The boundaries are part of the program, so they cannot be missing.
pub mod country;
pub mod places;
pub mod speeds;
pub mod zone;
