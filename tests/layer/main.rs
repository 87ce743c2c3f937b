//! The layer from outside: written, read back, and judged by other programs.
mod atomic;
mod format;
mod rows;
mod round_trip;
mod speed;
mod viewers;
