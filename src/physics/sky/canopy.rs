//! Probability that trees block, per cell of the sky, for one station.
//!
//! In: a [`CanopyGrid`] and an [`Eye`]. Out: the `canopy` cells of a mask, in 1/255. Along each of three azimuths in a
//! bin the raster is walked pixel by pixel outwards; a column of crown from base to top is a slab, and the path of a ray in it is exact:
//! the overlap of the column with the stretch in which the ray is between base and top, over the cosine of the elevation.
//! Rays stand in the middle of their row. Probabilities, not paths, are averaged over the azimuths of a bin.
#![doc = include_str!("roadside.md")]
use super::foliage::BlockedTable;
use super::ground::{Eye, directions};
use super::mask::{AZIMUTH_BINS, SkyGrid};
use crate::base::geodesy::Point;
use crate::physics::scene::trees::crown::{Crown, HeightFrom};
use crate::physics::scene::trees::grid::{CanopyGrid, TILE};
use crate::profile::Profile;

/// Azimuths looked at per bin.
const PER_BIN: usize = 3;
/// On land with elevation trees above the road are looked for this far, metres. Farther away the slope they stand on
/// hides all but the last degrees they could.
pub(crate) const SLOPE_REACH_M: f64 = 200.0;
/// The ground's rise is constant over this many pixels of a walk.
const LIFT_PIXELS: usize = 8;
/// It is looked up once per this many blocks: 24 m, well below the pixels of most elevation rasters.
const LIFT_NODE: usize = 3;
/// Steps of the ground's rise, metres, so that neighbouring pixels make one slab.
const LIFT_STEP_M: f64 = 0.25;
/// Rows are never taken lower than this, degrees: a level ray has no end.
const LOWEST_ROW_DEG: f64 = 0.5;

/// Casts rays through canopy for masks of one grid and profile.
#[derive(Debug, Clone)]
pub struct CanopyCaster {
    grid: SkyGrid,
    table: BlockedTable,
    directions: Vec<(f64, f64)>,
    /// Per row: metres along the ground per metre of height.
    cotangents: Vec<f32>,
    /// Per row: metres of path per metre along the ground.
    secants: Vec<f32>,
    /// Tangent of the lowest row.
    lowest_tan: f64,
}

/// Working memory of a cast; keep one per worker.
#[derive(Debug, Clone, Default)]
pub struct CanopyScratch {
    leaf_m: Vec<f32>,
    bare_m: Vec<f32>,
    blocked: Vec<f32>,
    /// Rise of the ground along the middle of a bin, metres, by block of pixels; not a number until looked up.
    lifts_m: Vec<f64>,
    /// Most steps of a walk.
    steps: usize,
}

/// Pixels of one kind in a row along a walk.
#[derive(Clone, Copy)]
struct PixelRun {
    crown: Crown,
    lift_m: f64,
    from: usize,
    to: usize,
}

impl CanopyCaster {
    /// A caster for masks of one grid; season, spread and link margin come from the profile.
    pub fn new(grid: SkyGrid, profile: &Profile) -> Self {
        let rows: Vec<f64> = (0..grid.rows()).map(|r| grid.row_deg(r).max(LOWEST_ROW_DEG).to_radians()).collect();
        Self {
            grid,
            table: BlockedTable::new(&profile.canopy, &profile.link),
            directions: directions(AZIMUTH_BINS * PER_BIN),
            cotangents: rows.iter().map(|e| (1.0 / e.tan()) as f32).collect(),
            secants: rows.iter().map(|e| (1.0 / e.cos()) as f32).collect(),
            lowest_tan: rows.first().map_or(1.0, |e| e.tan()),
        }
    }

    /// Fills the canopy cells of a mask (`grid.cells()` long, see [`super::mask::Mask::canopy`]). Returns the weakest
    /// source of a height that blocks anything; `None` where no tree does.
    pub fn cast(
        &self,
        canopy: &CanopyGrid,
        eye: &Eye,
        scratch: &mut CanopyScratch,
        cells: &mut [u8],
    ) -> Option<HeightFrom> {
        cells.fill(0);
        let mut weakest = None;
        let level_m = ((canopy.top_m() - eye.antenna_height_m) / self.lowest_tan).max(0.0);
        let reach_m = if eye.ground.is_some() { level_m.max(SLOPE_REACH_M) } else { level_m };
        if reach_m <= 0.0 || !canopy.any_near(eye.at, reach_m) {
            return None;
        }
        let rows = self.grid.rows();
        scratch.leaf_m.resize(rows, 0.0);
        scratch.bare_m.resize(rows, 0.0);
        scratch.blocked.resize(rows, 0.0);
        let steps = (reach_m / canopy.raster().pixel_m).ceil() as usize;
        scratch.steps = steps;
        let (block_m, most) = (LIFT_PIXELS as f64 * canopy.raster().pixel_m, steps.div_ceil(LIFT_PIXELS));
        for (bin, column) in cells.chunks_exact_mut(rows).enumerate().take(AZIMUTH_BINS) {
            scratch.blocked.fill(0.0);
            let middle = self.directions[bin * PER_BIN + PER_BIN / 2];
            lifts_m(eye, middle, block_m, most, self.lowest_tan, canopy.top_m(), &mut scratch.lifts_m);
            let mut any = None;
            for direction in &self.directions[bin * PER_BIN..(bin + 1) * PER_BIN] {
                any = weaker(any, self.ray(canopy, eye, *direction, scratch));
            }
            if any.is_some() {
                weakest = weaker(weakest, any);
                for (cell, blocked) in column.iter_mut().zip(&scratch.blocked) {
                    *cell = (blocked * (255.0 / PER_BIN as f32) + 0.5) as u8;
                }
            }
        }
        weakest
    }

    /// Adds the probabilities along one azimuth, the ground's rise taken from the scratch (along the middle of the
    /// bin), and returns the weakest source of a height met; `None` where nothing stands.
    fn ray(
        &self,
        canopy: &CanopyGrid,
        eye: &Eye,
        direction: (f64, f64),
        scratch: &mut CanopyScratch,
    ) -> Option<HeightFrom> {
        scratch.leaf_m.fill(0.0);
        scratch.bare_m.fill(0.0);
        let CanopyScratch { leaf_m, bare_m, blocked, lifts_m, steps } = scratch;
        let pixel_m = canopy.raster().pixel_m;
        let mut any = None;
        self.walk(canopy, eye, direction, &Lift { blocks_m: lifts_m, steps: *steps }, |run| {
            any = weaker(any, Some(run.crown.height_from()));
            let (base_m, top_m) = (run.crown.base_m() + run.lift_m, run.crown.top_m() + run.lift_m);
            let above = |z: f64| (z - eye.antenna_height_m) as f32;
            let along = ((run.from as f64 * pixel_m) as f32, (run.to as f64 * pixel_m) as f32);
            let leaf = self.table.leaf_share(run.crown.foliage());
            if leaf > 0.0 {
                self.slab(along, (above(base_m), above(top_m)), leaf, leaf_m);
            }
            if leaf < 1.0 {
                self.slab(along, (above(base_m), above(top_m)), 1.0 - leaf, bare_m);
            }
        });
        if any.is_some() {
            for ((blocked, leaf), bare) in blocked.iter_mut().zip(&*leaf_m).zip(&*bare_m) {
                *blocked += self.table.blocked(*leaf, *bare);
            }
        }
        any
    }

    /// Adds the path of every row's ray within a slab: `along` from the eye, `heights` above it, metres.
    fn slab(&self, along: (f32, f32), heights: (f32, f32), share: f32, sums_m: &mut [f32]) {
        // Steeper rays leave through the top before they come here.
        let rows = self.cotangents.partition_point(|cot| heights.1 * cot > along.0);
        for ((sum, cot), sec) in sums_m[..rows].iter_mut().zip(&self.cotangents).zip(&self.secants) {
            let (enter, leave) = (heights.0 * cot, heights.1 * cot);
            let from = if enter > along.0 { enter } else { along.0 };
            let to = if leave < along.1 { leave } else { along.1 };
            let inside = if to > from { to - from } else { 0.0 };
            *sum += inside * sec * share;
        }
    }

    /// Walks outwards, one step per pixel side, and hands over runs of equal crowns that rise above the lowest row.
    fn walk(
        &self,
        canopy: &CanopyGrid,
        eye: &Eye,
        direction: (f64, f64),
        lift: &Lift,
        mut visit: impl FnMut(&PixelRun),
    ) {
        let pixel_m = canopy.raster().pixel_m;
        let start = canopy.raster().pixel_of(eye.at);
        let mut run: Option<PixelRun> = None;
        let mut step = 0;
        while step < lift.steps() {
            let (x, y) = (start.0 + direction.0 * (step as f64 + 0.5), start.1 + direction.1 * (step as f64 + 0.5));
            let lift_m = lift.at(step);
            let lowest_m = step as f64 * pixel_m * self.lowest_tan + eye.antenna_height_m - lift_m;
            if canopy.top_m() <= lowest_m {
                run.take().iter().for_each(&mut visit);
                step = Lift::same_until(step);
                continue;
            }
            let Some((tile_x, tile_y)) = canopy.tile_of(x, y) else {
                break;
            };
            let Some((tile, _)) = canopy.tile(tile_x, tile_y).filter(|(_, top_m)| *top_m > lowest_m) else {
                run.take().iter().for_each(&mut visit);
                step = Lift::same_until(step).min(step + steps_in_tile((x, y), direction));
                continue;
            };
            let crown = canopy.crown_in(tile, x as usize % TILE, y as usize % TILE);
            let seen = !crown.is_none() && crown.top_m() > lowest_m && {
                let away_m = (step as f64 + 0.5) * pixel_m;
                let at = Point::new(eye.at.x_m + direction.0 * away_m, eye.at.y_m + direction.1 * away_m);
                eye.counts(at, away_m)
            };
            match &mut run {
                Some(r) if seen && r.crown == crown && r.lift_m == lift_m => r.to = step + 1,
                _ => {
                    run.take().iter().for_each(&mut visit);
                    run = seen.then_some(PixelRun { crown, lift_m, from: step, to: step + 1 });
                }
            }
            step += 1;
        }
        run.take().iter().for_each(&mut visit);
    }
}

/// The weaker of two sources; nothing says nothing.
pub(crate) fn weaker(a: Option<HeightFrom>, b: Option<HeightFrom>) -> Option<HeightFrom> {
    a.into_iter().chain(b).min()
}

/// Steps from a place to beyond the border of its tile, at least one.
fn steps_in_tile((x, y): (f64, f64), (dx, dy): (f64, f64)) -> usize {
    let along = |v: f64, d: f64| {
        // Places inside the raster are not negative.
        let inner = v - (v as usize / TILE * TILE) as f64;
        if d > 0.0 {
            (TILE as f64 - inner) / d
        } else if d < 0.0 {
            inner / -d
        } else {
            f64::INFINITY
        }
    };
    let steps = along(x, dx).min(along(y, dy));
    let whole = steps as usize;
    (whole + usize::from(steps > whole as f64)).max(1)
}

/// Rise of the ground along the middle of a bin, constant over blocks of [`LIFT_PIXELS`] steps.
struct Lift<'a> {
    /// Per block, metres; as long as a walk.
    blocks_m: &'a [f64],
    /// Most steps of a walk.
    steps: usize,
}

impl Lift<'_> {
    /// Steps of a whole walk.
    fn steps(&self) -> usize {
        (self.blocks_m.len() * LIFT_PIXELS).min(self.steps)
    }
    fn at(&self, step: usize) -> f64 {
        self.blocks_m[step / LIFT_PIXELS]
    }
    /// First step after `step` at which the rise may differ.
    fn same_until(step: usize) -> usize {
        (step / LIFT_PIXELS + 1) * LIFT_PIXELS
    }
}

/// Rises along an azimuth, block by block, as far out as trees of `top_m` can show above the lowest row.
///
/// The ground is looked up at every [`LIFT_NODE`]th block and assumed straight in between; over voids the
/// last one known holds. Without elevation the land is level.
fn lifts_m(
    eye: &Eye,
    direction: (f64, f64),
    block_m: f64,
    most: usize,
    lowest_tan: f64,
    top_m: f64,
    out: &mut Vec<f64>,
) {
    out.clear();
    let node_m = block_m * LIFT_NODE as f64;
    let mut held_m = 0.0;
    let mut node = |k: usize| {
        let Some(ground) = &eye.ground else { return 0.0 };
        let distance_m = k as f64 * node_m;
        let p = Point::new(eye.at.x_m + direction.0 * distance_m, eye.at.y_m + direction.1 * distance_m);
        held_m = ground.lift_m(p, distance_m).unwrap_or(held_m);
        held_m
    };
    let (mut from_m, mut to_m, mut useful) = (node(0), 0.0, 0);
    for block in 0..most {
        if block % LIFT_NODE == 0 {
            from_m = if block == 0 { from_m } else { to_m };
            to_m = node(block / LIFT_NODE + 1);
        }
        let share = ((block % LIFT_NODE) as f64 + 0.5) / LIFT_NODE as f64;
        let lift_m = ((from_m + share * (to_m - from_m)) * (1.0 / LIFT_STEP_M) + 0.5).floor() * LIFT_STEP_M;
        out.push(lift_m);
        if top_m + lift_m > block as f64 * block_m * lowest_tan + eye.antenna_height_m {
            useful = block + 1;
        }
    }
    out.truncate(useful);
}
