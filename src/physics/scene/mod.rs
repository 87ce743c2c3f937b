//! Everything near one cell that can block the sky.
//!
//! In: the extract's features, the network and the elevation around a cell. Out: the canopy as a
//! raster of crown base and top ([`canopy`]), buildings, walls, cliffs and cuttings as edges and slabs
//! in R-trees ([`solids`], [`slabs`], [`banks`]), and decks, tunnels, galleries and roofs as prisms over the travelled lane
//! ([`overheads`], whose shadow is an exact interval, see [`overhead`]). Defaults for what the map
//! leaves open are applied here. Does not look at the sky.
pub mod above;
pub mod banks;
pub mod canopy;
mod canopy_raster;
pub mod covers;
pub mod crossings;
pub mod crown;
pub mod deck_width;
pub mod decks;
pub mod footing;
pub mod index;
pub mod lane_path;
pub mod overhead;
pub mod overheads;
pub mod plates;
pub mod prisms;
pub mod raster;
pub mod site;
pub mod slabs;
pub mod solids;
pub mod toll_roofs;
