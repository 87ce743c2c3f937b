//! One sky mask per station and direction of travel, and blocked intervals of what stands overhead.
pub mod horizon;
pub mod mask;
pub mod overhead;
