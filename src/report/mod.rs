//! Results as text that others open: pictures, tables, formats.
//!
//! In: results of the pipeline. Out: text. No files, no terminal.
pub mod polar;
