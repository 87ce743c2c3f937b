//! Everything near one cell that can block the sky.
//!
//! In: the extract's features, the network and the elevation around a cell ([`vicinity`]). Out: [`trees`] as a
//! raster of crown base and top; [`solids`], buildings, walls, cliffs and cuttings as edges and slabs in R-trees;
//! [`overheads`], decks, tunnels, galleries and roofs as prisms over the travelled lane, whose shadow is an exact
//! interval; [`stops`], where a vehicle stands and a panel can be set down. Defaults for what the map leaves open are
//! applied here. Does not look at the sky.
pub mod above;
pub mod boxed;
pub mod building;
pub mod cover;
pub mod index;
pub mod lane_path;
pub mod overheads;
pub mod overlap;
pub mod raster;
pub mod rings;
pub mod solids;
pub mod stops;
pub mod trees;
pub mod vicinity;
