//! What of a map one district needs, and which districts are wanted.
//!
//! In: an [`crate::map::extract::model::Extract`]. Out: for one [`District`](crate::base::district::District), an extract that
//! holds everything its rating depends on ([`bundle`]). Nothing here depends on the order of the file or on what else is built.
pub mod bundle;
pub mod region;
