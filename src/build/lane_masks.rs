//! Masks of the stations of one lane, as stated and at either end of what is assumed about the roadside.
use crate::base::words::PerCase;
use crate::physics::scene::trees::crown::HeightFrom;
use crate::physics::sky::canopy::CanopyScratch;
use crate::physics::sky::mask::{AZIMUTH_BINS, Mask};

/// Masks of the stations of one lane, in the order driven.
#[derive(Default)]
pub(super) struct LaneMasks {
    pub masks: PerCase<Vec<Mask>>,
    /// Weakest source of a tree's height that blocks anything.
    pub canopy_from: Option<HeightFrom>,
    /// The same at worst.
    pub canopy_may_from: Option<HeightFrom>,
    /// Buildings the lane runs through.
    pub through_buildings: Vec<u32>,
    /// A default height of a building or wall hides sky from a station.
    pub solids_assumed: bool,
    /// What assumed heights of buildings and walls may hide as well, added up over the stations.
    pub solids_may_hide: f64,
    /// Stations beside which pixels may hide a rock face.
    pub coarse: u32,
    /// Horizons if ground rose in voids, where they would be higher.
    pub raised_deg: Vec<Option<Box<[f32; AZIMUTH_BINS]>>>,
    /// A measured building hides sky from a station.
    pub solids_measured: bool,
}

impl LaneMasks {
    /// The same lane driven the other way.
    pub fn turned_round(self) -> Self {
        let turned = |masks: Vec<Mask>| masks.into_iter().rev().collect();
        let raised_deg = self.raised_deg.into_iter().rev().collect();
        Self { masks: self.masks.map(turned), raised_deg, ..self }
    }
    /// Whether what is assumed about the roadside moves nothing here.
    pub fn alike(&self) -> bool {
        self.masks.best == self.masks.likely && self.masks.worst == self.masks.likely
    }
}

/// Working memory; keep one per worker.
#[derive(Default)]
pub(super) struct CastScratch {
    pub one: CanopyScratch<1>,
    pub three: CanopyScratch<3>,
}
