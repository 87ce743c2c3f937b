//! From masks and skies to the figures of a row: shared by a build and by rating a layer again.
pub mod drives;
pub mod lanes;
pub(crate) mod outages;
pub mod overheads;
pub mod pieces;
pub mod spool;
pub mod summary;
pub mod verdict;
