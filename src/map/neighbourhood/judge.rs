//! What the tables say about a place. The rule and its reasons stand on the page of the folder.
use super::squares::{CellKey, GroundBlock};
use super::table::{BUILT_STEP_M2, CellTable, Neighbourhood};
use crate::base::geodesy::Position;

/// Rows of blocks on every side of a place that are its own surroundings: 3 by 3 blocks, some 650 m.
const NEAR: i32 = 1;
/// Rows of blocks on every side in which ground without a wood is looked for: 7 by 7 blocks, some 1.5 km.
const GROUND: i32 = 3;
/// Rows of cells on every side that are the neighbourhood: 3 by 3 cells, some 5 km.
const WIDE: i32 = 1;
/// Rows of cells on every side in which any building at all is looked for: 5 by 5 cells, some 9 km.
const WIDEST: i32 = 2;
/// Blocks of a place's own surroundings that must say so before it is among houses.
const AMONG_HOUSES: usize = 5;
/// The same for settlements drawn as an area.
const SETTLED: usize = 3;
/// Blocks that must call for houses before their lack is suspicious.
const SUSPICIOUS: usize = 3;
/// Ninths of the blocks of a place's own surroundings with roads from which it is a town.
const DENSE: usize = 8;
/// Rows of blocks on every side in which woods are looked for: 19 by 19 blocks, some 4 km.
const WOODS: i32 = 9;
/// Share of a block under buildings from which no wood has room in it.
const BUILT_OVER: f64 = 0.25;
/// Ground of a block at the equator, square metres; it shrinks towards the poles.
const BLOCK_M2: f64 = 217.0 * 217.0;

impl Neighbourhood {
    /// Whether the map shows the buildings around a place.
    pub fn buildings_mapped(&self, at: Position) -> bool {
        let own = GroundBlock::of(at);
        let all: u32 = self.cells_around(own.cell(), WIDEST).map(|(_, cell)| cell.buildings()).sum();
        if f64::from(all) < self.rule.mapped_buildings {
            return false;
        }
        let expected = own.around(NEAR).filter(|b| self.expects_houses(*b)).count();
        let found: u32 = own.around(NEAR).map(|b| self.houses(b)).sum();
        if found == 0 && (expected >= SUSPICIOUS || self.is_dense(own)) {
            return false;
        }
        let (expected, found) = self.expected_and_found(own.cell());
        let houses: u32 = self.cells_around(own.cell(), WIDE).map(|(_, cell)| cell.buildings()).sum();
        expected == 0
            || found as f64 >= self.rule.mapped_share * expected as f64
                && f64::from(houses) >= self.rule.mapped_per_block * expected as f64
    }

    /// Whether the map shows the trees around a place.
    pub fn trees_mapped(&self, at: Position) -> bool {
        let own = GroundBlock::of(at);
        let (mut wood, mut blocks) = (0_u32, 0_u32);
        for block in own.around(WOODS) {
            blocks += 1;
            wood += u32::from(self.has(block, |c| c.wood));
        }
        let trees: u32 = self.cells_around(own.cell(), WIDE).map(|(_, cell)| cell.trees).fold(0, u32::saturating_add);
        f64::from(wood) >= self.rule.wood_share * f64::from(blocks.max(1))
            || f64::from(trees) >= self.rule.mapped_trees
            || self.treeless_share(own) >= self.rule.treeless_share
    }

    /// Whether a place is built-up; `None` where the map is silent about houses and settlements.
    pub fn built_up(&self, at: Position) -> Option<bool> {
        let own = GroundBlock::of(at);
        let count = |layer: fn(&CellTable) -> u64| own.around(NEAR).filter(|b| self.has(*b, layer)).count();
        let houses: u32 = own.around(NEAR).map(|b| self.houses(b)).sum();
        let settled = self.has(own, |c| c.settled) || count(|c| c.settled) >= SETTLED;
        if settled
            || f64::from(houses) >= self.rule.built_up_buildings
            || (self.has(own, |c| c.street) && count(|c| c.street) >= AMONG_HOUSES)
            || self.is_dense(own)
        {
            return Some(true);
        }
        let speaks = |(_, cell): (CellKey, &CellTable)| cell.settled != 0 || cell.street != 0 || cell.buildings() > 0;
        self.cells_around(own.cell(), WIDEST).any(speaks).then_some(false)
    }

    /// Whether roads run through nearly every block around one, as they do in towns and hardly anywhere else.
    fn is_dense(&self, own: GroundBlock) -> bool {
        let (all, with_roads) =
            (own.around(NEAR).count(), own.around(NEAR).filter(|b| self.has(*b, |c| c.town_road)).count());
        with_roads * 9 >= all * DENSE
    }

    /// Whether houses are to be expected in a block.
    fn expects_houses(&self, block: GroundBlock) -> bool {
        self.has(block, |c| c.road & (c.settled | c.street))
    }

    /// Blocks of the neighbourhood in which houses are to be expected, and those of them that have one within a block.
    fn expected_and_found(&self, of: CellKey) -> (usize, usize) {
        let (mut expected, mut found) = (0, 0);
        for (key, cell) in self.cells_around(of, WIDE) {
            let mut rest = cell.road & (cell.settled | cell.street);
            while rest != 0 {
                let nth = rest.trailing_zeros() as i32;
                rest &= rest - 1;
                let corner = key.corner();
                let block = corner.moved(nth / super::squares::SIDE, nth % super::squares::SIDE);
                expected += 1;
                found += usize::from(block.around(NEAR).any(|b| self.houses(b) > 0));
            }
        }
        (expected, found)
    }

    /// Share of the blocks with roads around a place whose ground is known to carry no wood.
    fn treeless_share(&self, own: GroundBlock) -> f64 {
        let (mut roads, mut known) = (0_u32, 0_u32);
        for block in own.around(GROUND) {
            let Some((cell, bit)) = self.bit(block).filter(|(cell, bit)| cell.road & bit != 0) else { continue };
            let built_m2 = f64::from(cell.built_over[block.nth()]) * BUILT_STEP_M2;
            let latitude = f64::from(block.row) / 512.0;
            let built_over = built_m2 >= BUILT_OVER * BLOCK_M2 * latitude.to_radians().cos();
            roads += 1;
            known += u32::from(cell.treeless & bit != 0 || built_over);
        }
        if roads == 0 { 0.0 } else { f64::from(known) / f64::from(roads) }
    }
}

impl CellTable {
    fn buildings(&self) -> u32 {
        self.houses.iter().map(|n| u32::from(*n)).sum()
    }
}
