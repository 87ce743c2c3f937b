//! The layer from outside: written, read back, and judged by other programs.
mod atomic;
mod by_key;
mod conversions;
mod described;
mod edited;
mod format;
mod hostile;
mod names;
mod round_trip;
pub mod rows;
mod side_files;
mod spoiled;
mod styles;
mod viewers;
