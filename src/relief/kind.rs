//! What a source of heights shows.
use serde::{Deserialize, Serialize};

/// What the heights of a source are heights of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
pub enum ElevationKind {
    /// The ground without trees and buildings.
    #[default]
    BareEarth,
    /// The top of whatever stands there; canopy and buildings are in it already.
    Surface,
    /// Heights of trees above the ground.
    CanopyHeight,
}

impl ElevationKind {
    /// As records and options name it.
    pub const fn name(self) -> &'static str {
        match self {
            Self::BareEarth => "bare-earth",
            Self::Surface => "surface",
            Self::CanopyHeight => "canopy",
        }
    }
    /// Values outside these, metres, are voids that were not declared.
    pub(crate) fn plausible_m(self) -> std::ops::RangeInclusive<f32> {
        match self {
            // Land, with the highest structures on it.
            Self::BareEarth | Self::Surface => -500.0..=9000.0,
            // The highest known tree is 116 m (see `natural.rs`); noise below the ground is neither a tree nor a void.
            Self::CanopyHeight => -20.0..=130.0,
        }
    }
    /// Pixels of one window read at native resolution; larger windows are averaged down. What stands beside a
    /// road needs finer pixels than the hills around it.
    pub(super) fn window_pixels(self) -> f64 {
        match self {
            Self::BareEarth => 4e6,
            Self::Surface | Self::CanopyHeight => 8e6,
        }
    }
}
