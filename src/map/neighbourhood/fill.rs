//! Fills the tables from an extract.
use super::heights::TaggedHeights;
use super::spans::spans;
use super::squares::{CellKey, GroundBlock, SIDE};
use super::table::{BUILT_STEP_M2, CellTable, Neighbourhood};
use crate::base::geodesy::Position;
use crate::base::words::RoadClass;
use crate::map::extract::model::{
    Area, Building, Canopy, CanopyShape, CoverKind, Extract, Road, Sides, SpeedLimit, Zone,
};
use crate::profile::MapTrust;

/// Cells this far from any road are of no interest, rows of cells.
const REACH: i32 = 2;
/// A row of trees counts as this many.
const TREES_IN_ROW: u32 = 5;
/// A wood counts as this many; small ones cover no middle of a block.
const TREES_IN_WOOD: u32 = 5;

impl Neighbourhood {
    /// The tables of an extract.
    pub fn of(extract: &Extract, rule: &MapTrust) -> Self {
        let mut made = Self { rule: rule.clone(), ..Self::default() };
        for road in extract.roads.iter().filter(|r| !r.class.is_boarded()) {
            made.add_road(road);
        }
        made.grow();
        for cover in &extract.covers {
            match cover.kind {
                CoverKind::Treeless => made.cover(&cover.area, |cell| &mut cell.treeless),
                CoverKind::Settled => made.cover(&cover.area, |cell| &mut cell.settled),
            }
        }
        for canopy in &extract.canopy {
            made.add_canopy(canopy);
        }
        for building in &extract.buildings {
            made.add_building(building);
        }
        made.heights = TaggedHeights::of(&extract.buildings);
        made
    }

    /// Makes cells where a road runs and notes what it says of its blocks.
    fn add_road(&mut self, road: &Road) {
        let street = is_street(road);
        let of_town =
            !matches!(road.class, RoadClass::Track | RoadClass::Service | RoadClass::Motorway | RoadClass::Trunk);
        let mut last = None;
        for pair in road.nodes.windows(2) {
            for block in between(pair[0].at, pair[1].at) {
                if last.replace(block) == Some(block) {
                    continue;
                }
                let cell = self.cells.entry(block.cell()).or_default();
                if road.tree_lined != Sides::default() {
                    cell.trees = cell.trees.saturating_add(2 * TREES_IN_ROW);
                }
                cell.road |= 1 << block.nth();
                cell.town_road |= u64::from(of_town) << block.nth();
                cell.street |= u64::from(street) << block.nth();
            }
        }
    }

    /// Makes the cells around those with roads.
    fn grow(&mut self) {
        let with_roads: Vec<CellKey> = self.cells.keys().copied().collect();
        for key in with_roads.into_iter().flat_map(|key| key.around(REACH)) {
            self.cells.entry(key).or_default();
        }
    }

    fn cover(&mut self, area: &Area, layer: impl Fn(&mut CellTable) -> &mut u64) {
        spans(area, |row, from, to| {
            let row_of_cells = row.div_euclid(SIDE);
            for column in from.div_euclid(SIDE)..=to.div_euclid(SIDE) {
                let Some(cell) = self.cells.get_mut(&CellKey::at(row_of_cells, column)) else { continue };
                let (first, last) = (from.max(column * SIDE), to.min(column * SIDE + SIDE - 1));
                for at in first..=last {
                    *layer(cell) |= 1 << (row.rem_euclid(SIDE) * SIDE + at.rem_euclid(SIDE));
                }
            }
        });
    }

    fn add_canopy(&mut self, canopy: &Canopy) {
        let (at, count) = match &canopy.shape {
            CanopyShape::Wood(area) | CanopyShape::Orchard(area) => {
                self.cover(area, |cell| &mut cell.wood);
                (area.outer.first(), TREES_IN_WOOD)
            }
            CanopyShape::Row(line) => (line.first(), TREES_IN_ROW),
            CanopyShape::Tree(at) => (Some(at), 1),
            // Gardens have hedges where nobody has drawn a tree.
            CanopyShape::Hedge(_) => (None, 0),
        };
        if let Some(cell) = at.and_then(|at| self.cells.get_mut(&GroundBlock::of(*at).cell())) {
            cell.trees = cell.trees.saturating_add(count);
        }
    }

    fn add_building(&mut self, building: &Building) {
        let Some(at) = building.middle().filter(|_| building.layer >= 0 && !building.part) else { return };
        let block = GroundBlock::of(at);
        if let Some(cell) = self.cells.get_mut(&block.cell()) {
            let steps = (building.area.ground_m2() / BUILT_STEP_M2).min(f64::from(u16::MAX)) as u16;
            let (houses, built_over) = (&mut cell.houses[block.nth()], &mut cell.built_over[block.nth()]);
            *houses = houses.saturating_add(1);
            *built_over = built_over.saturating_add(steps);
        }
    }
}

/// Whether a road runs between houses, by its class, its lamps and pavements, or its limit.
fn is_street(road: &Road) -> bool {
    let urban = |limit: Option<SpeedLimit>| {
        matches!(limit, Some(SpeedLimit::Zone(Zone::Urban | Zone::LivingStreet) | SpeedLimit::Walk))
    };
    match road.class {
        RoadClass::Residential | RoadClass::LivingStreet => true,
        // Their junctions are lit far from any house.
        RoadClass::Motorway | RoadClass::Trunk => false,
        _ => road.lit || road.pavement || urban(road.maxspeed_forward) || urban(road.maxspeed_backward),
    }
}

/// Blocks along a straight piece, in steps of at most half a block.
fn between(a: Position, b: Position) -> impl Iterator<Item = GroundBlock> {
    const HALF_BLOCK_E7: i64 = 9_765;
    const TURN_E7: i64 = 3_600_000_000;
    let mut east = i64::from(b.lon_e7) - i64::from(a.lon_e7);
    if east.abs() > TURN_E7 / 2 {
        east -= east.signum() * TURN_E7;
    }
    let north = i64::from(b.lat_e7) - i64::from(a.lat_e7);
    let steps = east.abs().max(north.abs()) / HALF_BLOCK_E7 + 1;
    (0..=steps).map(move |step| {
        let lon = i64::from(a.lon_e7) + east * step / steps;
        let turned = (lon + TURN_E7 / 2).rem_euclid(TURN_E7) - TURN_E7 / 2;
        GroundBlock::of(Position { lon_e7: turned as i32, lat_e7: (i64::from(a.lat_e7) + north * step / steps) as i32 })
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_road_leaves_no_block_out_and_crosses_the_line_of_dates() {
        let blocks = |west: f64, east: f64| {
            let (a, b) = (Position::from_deg(west, 10.0), Position::from_deg(east, 10.01));
            let mut blocks: Vec<GroundBlock> = between(a, b).collect();
            blocks.dedup();
            blocks
        };
        let far = blocks(10.0, 10.1);
        assert!(far.windows(2).all(|w| (w[1].column - w[0].column) + (w[1].row - w[0].row) <= 2));
        assert_eq!(far.last().unwrap().column - far[0].column, 51);
        let across = blocks(179.95, -179.95);
        assert!(
            across.len() < 80 && across.contains(&GroundBlock::of(Position::from_deg(180.0, 10.005))),
            "{across:?}"
        );
    }
}
