//! The sky mask of one station.
use super::leaves::LeafOdds;

/// Azimuth bins of a mask: 5 degrees each; bin `i` is centred on `2.5 + 5 i` degrees.
pub const AZIMUTH_BINS: usize = 72;
/// Width of an azimuth bin, degrees.
pub const AZIMUTH_STEP_DEG: f64 = 5.0;
/// Height of an elevation bin, degrees.
pub const ELEVATION_STEP_DEG: f64 = 2.5;

/// Centre of an azimuth bin, degrees clockwise from true north.
pub fn azimuth_deg(bin: usize) -> f64 {
    (bin as f64 + 0.5) * AZIMUTH_STEP_DEG
}

/// The bin an azimuth lies in.
pub fn azimuth_bin(azimuth_deg: f64) -> usize {
    ((crate::base::geodesy::normal_deg(azimuth_deg) / AZIMUTH_STEP_DEG) as usize).min(AZIMUTH_BINS - 1)
}

/// The azimuth x elevation grid of masks and sky weights: from a lowest elevation to the zenith.
///
/// Rows are counted from the lowest elevation; the last row ends at 90 degrees and may be lower
/// than [`ELEVATION_STEP_DEG`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SkyGrid {
    /// Lower edge of the lowest row, degrees.
    pub floor_deg: f64,
}

impl SkyGrid {
    /// Number of elevation rows.
    pub fn rows(&self) -> usize {
        ((90.0 - self.floor_deg) / ELEVATION_STEP_DEG - 1e-9).ceil().max(1.0) as usize
    }
    /// Number of cells, azimuth bins times rows.
    pub fn cells(&self) -> usize {
        AZIMUTH_BINS * self.rows()
    }
    /// Lower and upper edge of a row, degrees.
    pub fn row_edges_deg(&self, row: usize) -> (f64, f64) {
        let low = self.floor_deg + row as f64 * ELEVATION_STEP_DEG;
        (low, (low + ELEVATION_STEP_DEG).min(90.0))
    }
    /// Middle of a row, degrees.
    pub fn row_deg(&self, row: usize) -> f64 {
        let (low, high) = self.row_edges_deg(row);
        (low + high) / 2.0
    }
    /// The row an elevation lies in; `None` below the floor.
    pub fn row(&self, elevation_deg: f64) -> Option<usize> {
        if elevation_deg < self.floor_deg {
            return None;
        }
        Some((((elevation_deg - self.floor_deg) / ELEVATION_STEP_DEG) as usize).min(self.rows() - 1))
    }
    /// Index of a cell: all rows of azimuth bin 0 first.
    pub fn cell(&self, azimuth_bin: usize, row: usize) -> usize {
        azimuth_bin * self.rows() + row
    }
}

/// Blocking of the sky above one station, causes kept apart. Decks, tunnels and roofs are not in it:
/// they are intervals along the road, see [`crate::physics::scene::overheads`].
#[derive(Debug, Clone, PartialEq)]
pub struct Mask {
    /// Horizon of the terrain per azimuth bin, degrees; `floor_deg` or below where nothing rises above.
    pub terrain_deg: [f32; AZIMUTH_BINS],
    /// Horizon of buildings, walls and cliffs per azimuth bin, degrees.
    pub solid_deg: [f32; AZIMUTH_BINS],
    /// Median attenuation by foliage, per cell of the [`SkyGrid`], in the steps of [`super::leaves`]; 0 where there is none.
    pub canopy: Vec<u8>,
}

impl Mask {
    /// A mask with nothing in the sky.
    pub fn open(grid: SkyGrid) -> Self {
        Self { terrain_deg: [-90.0; AZIMUTH_BINS], solid_deg: [-90.0; AZIMUTH_BINS], canopy: vec![0; grid.cells()] }
    }
    /// A mask of which nothing is open.
    pub(crate) fn closed(grid: SkyGrid) -> Self {
        Self { solid_deg: [90.0; AZIMUTH_BINS], ..Self::open(grid) }
    }
    /// Probability 0..=1 that the line of sight in a direction is blocked; 1 below the floor.
    pub fn blocked(&self, grid: SkyGrid, odds: &LeafOdds, azimuth_deg: f64, elevation_deg: f64) -> f64 {
        let bin = azimuth_bin(azimuth_deg);
        if elevation_deg < f64::from(self.terrain_deg[bin].max(self.solid_deg[bin])) {
            return 1.0;
        }
        match grid.row(elevation_deg) {
            None => 1.0,
            Some(row) => odds.blocked(self.canopy[grid.cell(bin, row)]),
        }
    }
}
