//! Highest corners of cells and of blocks of cells: what cannot rise above what has been seen is skipped by them.
use crate::base::window::ElevationGrid;

/// Cells per side of a block grow by this power of two from level to level; the lowest level is of single cells.
pub(super) const LEVEL_SHIFT: u32 = 2;

/// Highest corner of every block of cells.
#[derive(Debug, Clone)]
pub(super) struct Level {
    pub columns: usize,
    pub highest_m: Vec<f32>,
}

impl Level {
    /// Highest of two blocks beside each other: their index along the major axis (0 columns, 1 rows) and
    /// those along the other one.
    #[inline]
    pub fn highest_of(&self, major: usize, along: usize, a: usize, b: usize) -> f32 {
        let (across, down) = if major == 0 { (1, self.columns) } else { (self.columns, 1) };
        self.highest_m[along * across + a * down].max(self.highest_m[along * across + b * down])
    }
}

/// Maxima of the cells' corners, then of blocks of cells up to the whole grid: each bounds the interpolated
/// surface above it. Cells without a valid corner are minus infinity and so never worth a look.
pub(super) fn levels_of(grid: &ElevationGrid) -> Vec<Level> {
    let (columns, rows) = (grid.columns.saturating_sub(1), grid.rows.saturating_sub(1));
    let mut levels: Vec<Level> = Vec::new();
    if columns == 0 || rows == 0 {
        return levels;
    }
    levels.push(cell_level(grid, columns, rows));
    while let Some(below) = levels.last().filter(|l| l.highest_m.len() > 1) {
        let next = next_level(below);
        levels.push(next);
    }
    levels
}

fn cell_level(grid: &ElevationGrid, columns: usize, rows: usize) -> Level {
    let mut highest_m = Vec::with_capacity(columns * rows);
    for row in 0..rows {
        let (upper, lower) = grid.values_m[row * grid.columns..(row + 2) * grid.columns].split_at(grid.columns);
        let corners = upper.windows(2).zip(lower.windows(2));
        highest_m.extend(corners.map(|(u, l)| u.iter().chain(l).fold(f32::NEG_INFINITY, |a, b| a.max(*b))));
    }
    Level { columns, highest_m }
}

fn next_level(below: &Level) -> Level {
    let rows = below.highest_m.len() / below.columns;
    let (columns, size) = (below.columns.div_ceil(1 << LEVEL_SHIFT), 1 << LEVEL_SHIFT);
    let mut highest_m = vec![f32::NEG_INFINITY; columns * rows.div_ceil(size)];
    for (row, line) in below.highest_m.chunks_exact(below.columns).enumerate() {
        let out = &mut highest_m[(row >> LEVEL_SHIFT) * columns..][..columns];
        for (high, block) in out.iter_mut().zip(line.chunks(size)) {
            *high = block.iter().fold(*high, |a, b| a.max(*b));
        }
    }
    Level { columns, highest_m }
}
