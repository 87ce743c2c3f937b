//! One sky mask per station and direction of travel.
//!
//! In: the scene of a cell, the elevation around it and stations on the travelled lane. Out: masks
//! with their causes kept apart (terrain [`horizon`], [`solid`] edges, [`canopy`]), the shares of the
//! usable sky they and the overheads block ([`shares`]), and packed masks ([`pack`]). Does not move
//! along the road: that is the link stage.
pub mod canopy;
pub mod coarse;
pub mod foliage;
pub mod ground;
pub mod half_shadow;
pub mod horizon;
pub mod leaves;
pub mod mask;
pub mod measured;
pub mod pack;
mod paths;
pub mod plates;
pub mod shares;
pub mod solid;
mod walk;
