//! Districts: fixed squares of the globe, the unit of work of a build.
//!
//! In: an [`crate::map::extract::model::Extract`]. Out: for one district, an extract that holds everything its rating depends
//! on ([`bundle::bundle`]). Nothing here depends on the order of the file or on what else is built.
pub mod bundle;
pub mod square;

pub use square::District;
