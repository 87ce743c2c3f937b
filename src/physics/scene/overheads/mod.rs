//! What stands over the travelled lane, as prisms.
//!
//! [`overhead`] is one prism and its shadow. [`decks`] joins the bridges of an extract and [`crossings`] lays them over
//! a lane; [`covers`] are tunnels, galleries and roofs. [`cell`] puts all of it together for one cell, [`prisms`] packs
//! it into bytes.
pub mod cell;
pub mod covers;
pub mod crossings;
pub mod deck_width;
pub mod decks;
pub mod overhead;
pub mod prisms;
mod toll_roofs;
