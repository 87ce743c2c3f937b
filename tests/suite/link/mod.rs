//! The link stage and the shadows of decks, against closed forms and independent brute force.
mod closed_forms;
mod gaps;
mod kit;
mod laws;
mod oracle;
mod overhead;
mod roads;
mod trade;
mod walls;
