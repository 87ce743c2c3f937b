//! scene
pub mod covers;
pub mod crossings;
pub mod deck_width;
pub mod decks;
pub mod lane_path;
pub mod overheads;
