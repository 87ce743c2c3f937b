//! Attenuation by trees, per cell of the sky, for one station.
//!
//! In: a [`CrownStack`] and an [`Eye`]. Out: the `canopy` cells of a mask for each of its assumptions, in steps of their median attenuation (see `leaves`). Along each of three azimuths in a
//! bin the raster is walked outwards (see `walk`); crowns from base to top over ground that rises steadily are a slab, and the path of a
//! ray in it is exact: the overlap of their stretch with the one in which the ray is between base and top, over the cosine of
//! the elevation.
//! The rays of a bin stand at heights of their own within each row, so that a cell opens ray by ray and not at once.
//! What the azimuths of a bin block is averaged, not their paths: the cell gets the attenuation that blocks as much as they do on average.
#![doc = include_str!("roadside.md")]
use super::ground::{Eye, directions};
use super::mask::{AZIMUTH_BINS, SkyGrid};
use super::paths::BlockedTable;
use super::walk::{CrownStretch, Slope, Walk};
use crate::base::geodesy::Point;
use crate::physics::scene::trees::crown::{HIGHEST_CROWN_M, HeightFrom};
use crate::physics::scene::trees::stack::CrownStack;
use crate::profile::Profile;

/// Azimuths looked at per bin.
const PER_BIN: usize = 3;
/// On land with elevation trees above the road are looked for this far, metres. Farther away the slope they stand on
/// hides all but the last degrees they could.
pub(crate) const SLOPE_REACH_M: f64 = 200.0;

/// How far away trees can rise above a lowest elevation, degrees, whatever the ground; metres.
pub(crate) fn trees_reach_m(floor_deg: f64) -> f64 {
    (HIGHEST_CROWN_M / floor_deg.max(LOWEST_ROW_DEG).to_radians().tan()).max(SLOPE_REACH_M)
}

/// The ground's rise is looked up this far apart along a walk, metres, and straight in between: well below the pixels of most
/// elevation rasters.
const RISE_NODE_M: f64 = 24.0;
/// A ray that climbs just as the ground does, as a difference of tangents.
const PARALLEL: f64 = 1e-4;
/// Rows are never taken lower than this, degrees: a level ray has no end.
const LOWEST_ROW_DEG: f64 = 0.5;

/// Casts rays through canopy for masks of one grid and profile.
#[derive(Debug, Clone)]
pub struct CanopyCaster {
    grid: SkyGrid,
    table: BlockedTable,
    directions: Vec<(f64, f64)>,
    /// Rows of rays, at a third of a row from each other.
    rows: [RayRows; PER_BIN],
    /// Tangent of the lowest ray.
    lowest_tan: f64,
}

/// One ray in every row.
#[derive(Debug, Clone)]
struct RayRows {
    /// Metres along the ground per metre of height.
    cotangents: Vec<f32>,
    /// Metres of path per metre along the ground.
    secants: Vec<f32>,
    /// Metres of height per metre along the ground.
    tangents: Vec<f64>,
}

impl RayRows {
    /// Rays at a share of the height of their rows.
    fn at(grid: SkyGrid, share: f64) -> Self {
        let elevation = |row: usize| {
            let (low, high) = grid.row_edges_deg(row);
            (low + share * (high - low)).max(LOWEST_ROW_DEG).to_radians()
        };
        let rows: Vec<f64> = (0..grid.rows()).map(elevation).collect();
        Self {
            cotangents: rows.iter().map(|e| (1.0 / e.tan()) as f32).collect(),
            secants: rows.iter().map(|e| (1.0 / e.cos()) as f32).collect(),
            tangents: rows.iter().map(|e| e.tan()).collect(),
        }
    }
}

/// Working memory of a cast; keep one per worker.
#[derive(Debug, Clone)]
pub struct CanopyScratch<const N: usize> {
    sums: [RaySums; N],
    /// The ground along the middle of a bin, from the eye outwards.
    slopes: Vec<Slope>,
    /// Per row: metres along the ground per metre that the ray rises above a slope; negative where the slope is steeper.
    per_rise: Vec<f32>,
}

impl<const N: usize> Default for CanopyScratch<N> {
    fn default() -> Self {
        Self { sums: std::array::from_fn(|_| RaySums::default()), slopes: Vec::new(), per_rise: Vec::new() }
    }
}

/// Sums per row under one assumption.
#[derive(Debug, Clone, Default)]
struct RaySums {
    /// Path of the ray in leaf and in bare crowns, metres.
    leaf_m: Vec<f32>,
    bare_m: Vec<f32>,
    /// Over the rays of a bin.
    blocked: Vec<f32>,
    /// Weakest source of a height met along the ray.
    met: Option<HeightFrom>,
}

/// Whether the word of the map counts is asked once per this much of a stretch, metres.
const COUNTED_STEP_M: f64 = 1.0;

impl CanopyCaster {
    /// A caster for masks of one grid; the season comes from the profile.
    pub fn new(grid: SkyGrid, profile: &Profile) -> Self {
        let rows = std::array::from_fn(|i| RayRows::at(grid, (i as f64 + 0.5) / PER_BIN as f64));
        let lowest = |rows: &RayRows| rows.tangents.first().copied().unwrap_or(1.0);
        Self {
            grid,
            table: BlockedTable::new(&profile.canopy),
            directions: directions(AZIMUTH_BINS * PER_BIN),
            lowest_tan: rows.iter().map(lowest).fold(f64::INFINITY, f64::min),
            rows,
        }
    }

    /// Fills the canopy cells of a mask per assumption (each `grid.cells()` long, see [`super::mask::Mask::canopy`]). Returns the
    /// weakest source of a height that blocks anything under each; `None` where no tree does.
    pub fn cast<const N: usize>(
        &self,
        canopy: &CrownStack<N>,
        eye: &Eye,
        scratch: &mut CanopyScratch<N>,
        mut cells: [&mut [u8]; N],
    ) -> [Option<HeightFrom>; N] {
        cells.iter_mut().for_each(|cells| cells.fill(0));
        let mut weakest = [None; N];
        let level_m = ((canopy.top_m() - eye.antenna_height_m) / self.lowest_tan).max(0.0);
        let reach_m = if eye.ground.is_some() { level_m.max(SLOPE_REACH_M) } else { level_m };
        if reach_m <= 0.0 || !canopy.any_near(eye.at, reach_m) {
            return weakest;
        }
        let rows = self.grid.rows();
        for sums in &mut scratch.sums {
            for of_rows in [&mut sums.leaf_m, &mut sums.bare_m, &mut sums.blocked] {
                of_rows.resize(rows, 0.0);
            }
        }
        for bin in 0..AZIMUTH_BINS {
            scratch.sums.iter_mut().for_each(|sums| sums.blocked.fill(0.0));
            let middle = self.directions[bin * PER_BIN + PER_BIN / 2];
            self.slopes(canopy, eye, middle, reach_m, &mut scratch.slopes);
            if scratch.slopes.is_empty() {
                continue;
            }
            let mut any = [None; N];
            for ray in 0..PER_BIN {
                // Bins to the left and to the right of a road take the heights in another order; turned by a right angle it is
                // the same.
                let rows = &self.rows[(bin + ray) % PER_BIN];
                self.ray(canopy, eye, (self.directions[bin * PER_BIN + ray], rows), scratch);
                for (any, sums) in any.iter_mut().zip(&scratch.sums) {
                    *any = weaker(*any, sums.met);
                }
            }
            for nth in (0..N).filter(|nth| any[*nth].is_some()) {
                weakest[nth] = weaker(weakest[nth], any[nth]);
                let column = &mut cells[nth][bin * rows..(bin + 1) * rows];
                for (cell, blocked) in column.iter_mut().zip(&scratch.sums[nth].blocked) {
                    *cell = self.table.level(blocked * (1.0 / PER_BIN as f32));
                }
            }
        }
        weakest
    }

    /// Adds what is blocked along one azimuth, the ground's rise taken from the scratch (along the middle of the
    /// bin), and notes the weakest source of a height met.
    fn ray<const N: usize>(
        &self,
        canopy: &CrownStack<N>,
        eye: &Eye,
        (direction, rows): ((f64, f64), &RayRows),
        scratch: &mut CanopyScratch<N>,
    ) {
        let CanopyScratch { sums, slopes, per_rise } = scratch;
        sums.iter_mut().for_each(RaySums::begin);
        let walk = Walk::new(canopy, eye.at, direction);
        for slope in slopes {
            let lowest_m = |along_m: f64| along_m * self.lowest_tan + eye.antenna_height_m - slope.highest_m;
            if slope.trees_m <= lowest_m(slope.from_m) {
                continue;
            }
            let mut ready = false;
            let mut take = |sums: &mut RaySums, stretch: &CrownStretch| {
                if !ready {
                    rows.rises_over(slope, per_rise);
                    ready = true;
                }
                sums.met = weaker(sums.met, Some(stretch.crown.height_from()));
                let leaf = self.table.leaf_share(stretch.crown.foliage());
                if leaf > 0.0 {
                    rows.slab(stretch, (slope, per_rise), eye.antenna_height_m, leaf, &mut sums.leaf_m);
                }
                if leaf < 1.0 {
                    rows.slab(stretch, (slope, per_rise), eye.antenna_height_m, 1.0 - leaf, &mut sums.bare_m);
                }
            };
            let goes_on = walk.stretches((slope.from_m, slope.to_m), lowest_m, |nth, stretch| {
                counted(eye, direction, stretch, |stretch| take(&mut sums[nth], stretch));
            });
            if !goes_on {
                break;
            }
        }
        sums.iter_mut().filter(|sums| sums.met.is_some()).for_each(|sums| sums.end(&self.table));
    }

    /// The ground along an azimuth, piece by piece, as far out as trees on it can show above the lowest row.
    ///
    /// It is looked up at every [`RISE_NODE_M`] and assumed straight in between; over voids the last one known holds. Without
    /// elevation the land is level.
    fn slopes<const N: usize>(
        &self,
        canopy: &CrownStack<N>,
        eye: &Eye,
        direction: (f64, f64),
        reach_m: f64,
        out: &mut Vec<Slope>,
    ) {
        out.clear();
        let Some(ground) = &eye.ground else {
            out.push(Slope { trees_m: canopy.top_m(), ..Slope::between((0.0, 0.0), (reach_m, 0.0)) });
            return;
        };
        let place = |m: f64| Point::new(eye.at.x_m + direction.0 * m, eye.at.y_m + direction.1 * m);
        let mut held_m = 0.0;
        let mut rise_m = |distance_m: f64| {
            held_m = ground.lift_m(place(distance_m), distance_m).unwrap_or(held_m);
            held_m
        };
        let mut from = (0.0, rise_m(0.0));
        let mut useful = 0;
        while from.0 < reach_m {
            let to_m = from.0 + RISE_NODE_M;
            let to = (to_m, rise_m(to_m));
            // A piece ends well within the side of a tile from its middle, and so do the rays at the sides of the bin.
            let trees_m = canopy.top_around_m(place((from.0 + to_m) / 2.0));
            let slope = Slope { trees_m, ..Slope::between(from, to) };
            if trees_m + slope.highest_m > slope.from_m * self.lowest_tan + eye.antenna_height_m {
                useful = out.len() + 1;
            }
            out.push(slope);
            from = to;
        }
        out.truncate(useful);
    }
}

/// Hands over the parts of a stretch of which the map's word counts: where elevation shows what stands there, it does not.
fn counted(eye: &Eye, direction: (f64, f64), stretch: &CrownStretch, mut take: impl FnMut(&CrownStretch)) {
    if eye.shown.is_none() || stretch.to_m <= eye.within_m {
        take(stretch);
        return;
    }
    let mut from_m = stretch.from_m;
    while from_m < stretch.to_m {
        let to_m = (from_m + COUNTED_STEP_M).min(stretch.to_m);
        let away_m = (from_m + to_m) / 2.0;
        let at = Point::new(eye.at.x_m + direction.0 * away_m, eye.at.y_m + direction.1 * away_m);
        if eye.counts(at, away_m) {
            take(&CrownStretch { from_m, to_m, ..*stretch });
        }
        from_m = to_m;
    }
}

impl RaySums {
    fn begin(&mut self) {
        self.leaf_m.fill(0.0);
        self.bare_m.fill(0.0);
        self.met = None;
    }
    fn end(&mut self, table: &BlockedTable) {
        for ((blocked, leaf), bare) in self.blocked.iter_mut().zip(&self.leaf_m).zip(&self.bare_m) {
            *blocked += table.blocked(*leaf, *bare);
        }
    }
}

impl RayRows {
    fn rises_over(&self, slope: &Slope, per_rise: &mut Vec<f32>) {
        per_rise.clear();
        if slope.slope == 0.0 {
            per_rise.extend(&self.cotangents);
            return;
        }
        per_rise.extend(self.tangents.iter().map(|tangent| {
            let over = tangent - slope.slope;
            (1.0 / if over.abs() < PARALLEL { PARALLEL } else { over }) as f32
        }));
    }

    /// Adds the path of every row's ray within crowns over a piece of ground.
    fn slab(
        &self,
        stretch: &CrownStretch,
        (slope, per_rise): (&Slope, &[f32]),
        antenna_height_m: f64,
        share: f32,
        sums_m: &mut [f32],
    ) {
        let (from, to) = (stretch.from_m as f32, stretch.to_m as f32);
        // Steeper rays leave through the top before they come here.
        let highest = (stretch.crown.top_m() + slope.highest_m - antenna_height_m) as f32;
        let rows = self.cotangents.partition_point(|cot| highest * cot > from);
        let above = |z: f64| (z + slope.at_eye_m - antenna_height_m) as f32;
        let (base, top) = (above(stretch.crown.base_m()), above(stretch.crown.top_m()));
        for ((sum, per_rise), sec) in sums_m[..rows].iter_mut().zip(per_rise).zip(&self.secants) {
            // Under ground steeper than itself a ray passes the top first.
            let (a, b) = (base * per_rise, top * per_rise);
            let (enter, leave) = if a < b { (a, b) } else { (b, a) };
            let enter = if enter > from { enter } else { from };
            let leave = if leave < to { leave } else { to };
            let inside = if leave > enter { leave - enter } else { 0.0 };
            *sum += inside * sec * share;
        }
    }
}

/// The weaker of two sources; nothing says nothing.
pub(crate) fn weaker(a: Option<HeightFrom>, b: Option<HeightFrom>) -> Option<HeightFrom> {
    a.into_iter().chain(b).min()
}
