//! One sky mask per station and direction of travel, and blocked intervals of what stands overhead.
pub mod canopy;
pub mod foliage;
pub mod half_shadow;
pub mod horizon;
pub mod ground;
pub mod mask;
pub mod pack;
pub mod shares;
pub mod solid;
