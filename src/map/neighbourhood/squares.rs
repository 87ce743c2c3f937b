//! Fixed squares of the globe: blocks of 1/512 degree, 64 of them in a cell of 1/64 degree.
use crate::base::geodesy::Position;

/// Blocks in a degree.
const PER_DEG: i64 = 512;
/// Blocks around the globe.
const AROUND: i32 = 360 * PER_DEG as i32;
/// Blocks on a side of a cell.
pub(super) const SIDE: i32 = 8;
/// Cells around the globe.
const CELLS_AROUND: i32 = AROUND / SIDE;
const E7: i64 = 10_000_000;

/// A block: about 217 m from south to north, and as many degrees from west to east.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct GroundBlock {
    /// From the equator northwards.
    pub row: i32,
    /// From the meridian of Greenwich eastwards, once around the globe.
    pub column: i32,
}

/// A cell of 8 by 8 blocks.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct CellKey {
    /// From the equator northwards.
    pub row: i32,
    /// From the meridian of Greenwich eastwards, once around the globe.
    pub column: i32,
}

/// Row or column of an angle of 1e-7 degrees.
pub(super) fn line_of(angle_e7: i64) -> i32 {
    (angle_e7 * PER_DEG).div_euclid(E7) as i32
}

/// The middle of a row or column, 1e-7 degrees.
pub(super) fn middle_e7(line: i32) -> i64 {
    (2 * i64::from(line) + 1) * E7 / (2 * PER_DEG)
}

impl GroundBlock {
    /// The block a place lies in.
    pub fn of(p: Position) -> Self {
        Self { row: line_of(p.lat_e7.into()), column: line_of(p.lon_e7.into()).rem_euclid(AROUND) }
    }
    /// The block some rows north and columns east.
    pub fn moved(self, rows: i32, columns: i32) -> Self {
        Self { row: self.row + rows, column: (self.column + columns).rem_euclid(AROUND) }
    }
    /// Its cell.
    pub fn cell(self) -> CellKey {
        CellKey { row: self.row.div_euclid(SIDE), column: self.column.div_euclid(SIDE) }
    }
    /// Its number within the cell.
    pub fn nth(self) -> usize {
        (self.row.rem_euclid(SIDE) * SIDE + self.column.rem_euclid(SIDE)) as usize
    }
    /// Blocks within some rows of it, and within as many metres to the west and east.
    pub fn around(self, rows: i32) -> impl Iterator<Item = Self> {
        let columns = columns_for(rows, self.row, 1);
        (-rows..=rows).flat_map(move |r| (-columns..=columns).map(move |c| self.moved(r, c)))
    }
}

impl CellKey {
    /// Cells within some rows of it, and within as many metres to the west and east.
    pub fn around(self, rows: i32) -> impl Iterator<Item = Self> {
        let columns = columns_for(rows, self.row, SIDE);
        let at = move |r: i32, c: i32| Self { row: self.row + r, column: (self.column + c).rem_euclid(CELLS_AROUND) };
        (-rows..=rows).flat_map(move |r| (-columns..=columns).map(move |c| at(r, c)))
    }
    /// The block in its south-western corner.
    pub fn corner(self) -> GroundBlock {
        GroundBlock { row: self.row * SIDE, column: self.column * SIDE }
    }
    /// The cell of a number of cells around the globe.
    pub fn at(row: i32, column: i32) -> Self {
        Self { row, column: column.rem_euclid(CELLS_AROUND) }
    }
}

/// Columns as wide as some rows are high; `side` is that of the squares in blocks. Near the poles there is an end to it.
fn columns_for(rows: i32, row: i32, side: i32) -> i32 {
    let latitude_deg = f64::from(row * side) / PER_DEG as f64;
    let columns = f64::from(rows) / latitude_deg.to_radians().cos().max(0.1);
    columns.round() as i32
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn blocks_count_from_greenwich_and_meet_behind_the_globe() {
        let at = |lon, lat| GroundBlock::of(Position::from_deg(lon, lat));
        assert_eq!(at(0.0005, 0.0005), GroundBlock { row: 0, column: 0 });
        assert_eq!(at(-0.0005, -0.0005), GroundBlock { row: -1, column: 184_319 });
        assert_eq!(at(179.9999, 10.0).moved(0, 1), at(-179.9999, 10.0));
        assert_eq!(at(180.0, 10.0), at(-180.0, 10.0));
        assert_eq!(at(1.0, -1.0).cell(), CellKey { row: -64, column: 64 });
        assert_eq!(at(1.0, -1.0).nth(), 0);
        assert_eq!(middle_e7(0), 9_765);
    }

    #[test]
    fn surroundings_are_as_wide_as_high() {
        let count = |lat| GroundBlock::of(Position::from_deg(10.0, lat)).around(3).count();
        // 7 rows; columns are half as wide in metres at 60 degrees.
        assert_eq!((count(0.0), count(60.0)), (7 * 7, 7 * 13));
        assert!(count(89.99) < 7 * 100, "an end to it at the poles");
    }
}
