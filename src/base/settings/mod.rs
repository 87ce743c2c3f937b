//! The one engine for TOML settings: it reads a file, checks every key, words every error and prints the annotated example.
//!
//! What may be set is not known here: a room hands in [`Keys`], tables of [`Key`], and gets back what a text
//! [gives](Given), laid over the room's own plain struct. A table of keys and a struct are all that a new setting needs.
//!
//! An error names the file, the line, the key, what is wrong with it and what is allowed:
//!
//! ```text
//! van.toml, line 5: link.slot_s: 0.2 is out of range
//!   Allowed: 1 to 600 s
//! van.toml, line 7: vehicle.antenna_height_cm: is not a known key
//!   Did you mean `vehicle.antenna_height_m`? `waymask settings profile` prints every key
//! ```
mod given;
mod key;
mod nearest;
mod print;
mod read;
#[cfg(test)]
mod tests;
mod text;

pub use given::{Conflict, Given, as_table, entry, value_at};
pub use key::{End, Holds, Key, Keys, Mark, flag, list, named, number, text, time, whole, word};
