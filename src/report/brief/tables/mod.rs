//! The tables of a day.
pub(super) mod low;
pub(super) mod spent;
pub(super) mod stops;
pub(super) mod table;
pub(super) mod ways;
pub(super) mod worst;
