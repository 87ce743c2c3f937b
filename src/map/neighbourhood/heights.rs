//! How high the buildings of a kind stand in a neighbourhood, by those with a height or storeys in the map.
use std::collections::BTreeMap;

use super::squares::{CellKey, GroundBlock};
use crate::base::geodesy::Position;
use crate::map::extract::model::{Building, BuildingKind};

/// Heights are kept in steps of this much, metres.
const STEP_M: f64 = 0.5;
/// Cells on every side of its own whose buildings say something about one.
const REACH: i32 = 1;

/// Heights of tagged buildings by cell and kind.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct TaggedHeights {
    /// In steps, ascending.
    steps: BTreeMap<(CellKey, BuildingKind), Vec<u8>>,
}

/// Heights of some tagged buildings.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct LocalHeights {
    /// How many there are.
    pub count: u32,
    /// The height that a quarter of them stay below, metres.
    pub low_m: f64,
    /// The median, metres.
    pub median_m: f64,
    /// The height that a quarter of them exceed, metres.
    pub high_m: f64,
}

impl TaggedHeights {
    /// Of all buildings of an extract whose tags give a height.
    pub(super) fn of(buildings: &[Building]) -> Self {
        let mut steps: BTreeMap<(CellKey, BuildingKind), Vec<u8>> = BTreeMap::new();
        for building in buildings.iter().filter(|b| !b.roof_only && b.layer >= 0) {
            if let (Some(height_m), Some(at)) = (building.tagged_height_m(), building.middle()) {
                let step = (height_m / STEP_M).round().clamp(1.0, 255.0) as u8;
                steps.entry((GroundBlock::of(at).cell(), building.kind)).or_default().push(step);
            }
        }
        steps.values_mut().for_each(|s| s.sort_unstable());
        Self { steps }
    }

    /// Of one kind around a place.
    pub fn around(&self, at: Position, kind: BuildingKind) -> LocalHeights {
        let cells = GroundBlock::of(at).cell().around(REACH);
        let mut near: Vec<u8> = cells.filter_map(|key| self.steps.get(&(key, kind))).flatten().copied().collect();
        near.sort_unstable();
        let quantile_m = |share: f64| {
            let at = share * near.len().saturating_sub(1) as f64;
            let (below, above) = (near.get(at.floor() as usize), near.get(at.ceil() as usize));
            let (below, above) = (f64::from(below.copied().unwrap_or(0)), f64::from(above.copied().unwrap_or(0)));
            STEP_M * (below + (above - below) * at.fract())
        };
        LocalHeights {
            count: near.len() as u32,
            low_m: quantile_m(0.25),
            median_m: quantile_m(0.5),
            high_m: quantile_m(0.75),
        }
    }

    /// How many buildings have a height in the map.
    pub fn count(&self) -> u64 {
        self.steps.values().map(|s| s.len() as u64).sum()
    }
}
