//! Buildings, walls, cliffs and cuttings around one cell.
//!
//! What a fine surface model shows of buildings is [`measured`]; the rest comes from the map. What stands on the ground is upright edges ([`edge`], with those of cuttings from [`banks`]), what is open below are
//! [`slabs`]; [`index`] finds both from every place whose usable sky they may reach into.
pub mod banks;
pub mod edge;
pub mod index;
pub mod measured;
pub mod slabs;
mod smooth;
