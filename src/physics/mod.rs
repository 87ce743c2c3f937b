//! What can be computed from plain data: no files, clocks, threads or printing.
pub mod link;
pub mod orbit;
pub mod scene;
pub mod sky;
