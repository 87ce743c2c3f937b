//! What everything else stands on: values, places, trouble and text. Uses no other room.
pub mod count;
pub mod defect;
pub mod error;
pub(crate) mod files;
pub mod foreign;
pub mod geodesy;
pub mod index;
pub mod input;
pub mod markup;
pub mod plain;
pub mod progress;
pub mod ramp;
pub mod settings;
pub(crate) mod shell;
pub mod units;
pub mod window;
pub mod words;
