//! Overheads on constructed roads, against closed forms of plane geometry, and over the roads of real extracts.
//!
//! Every constructed road is laid out in metres around one place, so that the answer can be written down.
mod covers;
mod decks;
mod extracts;
mod kit;
