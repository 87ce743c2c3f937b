//! The walk of a ray's shadow on the ground through pixels of canopy.
//!
//! In: a [`CanopyGrid`], where a walk begins and its direction, and how the ground rises along it. Out: stretches of equal
//! crowns, each with the exact distances at which the ray enters and leaves them, so that an eye or a tree that moves by a
//! centimetre moves every distance by about as much and none by a whole pixel. In a pixel that crowns fill in part, they
//! stand at the sides of fuller neighbours: thin leaves all over the pixel would hide too much, since the first metre of leaves
//! costs most.
use crate::base::geodesy::Point;
use crate::physics::scene::trees::crown::Crown;
use crate::physics::scene::trees::grid::{CanopyGrid, TILE};

/// Shares that differ by less are the same but for rounding.
const EVEN: f64 = 1e-3;

/// A stretch of equal crowns, metres from the eye along the ground.
#[derive(Debug, Clone, Copy)]
pub(super) struct CrownStretch {
    pub crown: Crown,
    pub from_m: f64,
    pub to_m: f64,
}

/// A straight piece of ground along a walk: it lies `at_eye_m + slope * distance` above the road.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Slope {
    pub from_m: f64,
    pub to_m: f64,
    pub at_eye_m: f64,
    pub slope: f64,
    /// Highest rise within the piece, metres.
    pub highest_m: f64,
}

impl Slope {
    /// The piece between two distances with the rise at each, metres.
    pub fn between((from_m, rise_from_m): (f64, f64), (to_m, rise_to_m): (f64, f64)) -> Self {
        let slope = (rise_to_m - rise_from_m) / (to_m - from_m);
        Self { from_m, to_m, at_eye_m: rise_from_m - slope * from_m, slope, highest_m: rise_from_m.max(rise_to_m) }
    }
}

/// A walk over one grid.
#[derive(Debug, Clone, Copy)]
pub(super) struct Walk<'a> {
    canopy: &'a CanopyGrid,
    /// Place of the eye and direction, pixels and pixels per pixel.
    start: [f64; 2],
    direction: [f64; 2],
    pixel_m: f64,
}

/// Where a walk is: its pixel and how far it has come, in pixels.
struct WalkPlace {
    pixel: [i64; 2],
    along: f64,
}

impl<'a> Walk<'a> {
    pub fn new(canopy: &'a CanopyGrid, eye: Point, direction: (f64, f64)) -> Self {
        let (x, y) = canopy.raster().pixel_of(eye);
        Self { canopy, start: [x, y], direction: [direction.0, direction.1], pixel_m: canopy.raster().pixel_m }
    }

    /// Hands over the stretches between two distances that rise above what `lowest_m` says is seen at a distance; returns
    /// whether the grid goes on beyond them.
    pub fn stretches(
        &self,
        (from_m, to_m): (f64, f64),
        lowest_m: impl Fn(f64) -> f64,
        mut visit: impl FnMut(&CrownStretch),
    ) -> bool {
        let end = to_m / self.pixel_m;
        let mut place = self.place(from_m / self.pixel_m);
        let mut open: Option<CrownStretch> = None;
        if from_m > 0.0 {
            // The piece of ground before this one has gone to the end of its last pixel.
            self.leave_pixel(&mut place);
        }
        let mut inside = true;
        while place.along < end {
            let [column, row] = place.pixel;
            let size = self.canopy.raster().size as i64;
            if !(0..size).contains(&column) || !(0..size).contains(&row) {
                inside = false;
                break;
            }
            let (column, row) = (column as usize, row as usize);
            let here = place.along;
            let here_m = here * self.pixel_m;
            let lowest_m = lowest_m(here_m);
            let tile = [column / TILE, row / TILE];
            let Some((number, _)) = self.canopy.tile(tile[0], tile[1]).filter(|(_, top_m)| *top_m > lowest_m) else {
                open.take().iter().for_each(&mut visit);
                self.leave_tile(&mut place, tile);
                continue;
            };
            let crown = self.canopy.crown_in(number, column % TILE, row % TILE);
            self.leave_pixel(&mut place);
            let to_m = place.along * self.pixel_m;
            let seen = !crown.is_none() && crown.top_m() > lowest_m;
            if seen && crown.share() < 1.0 {
                open.take().iter().for_each(&mut visit);
                let within = (here, place.along);
                for (from, to) in self.filled([column, row].map(|i| i as i64), crown, within).into_iter().flatten() {
                    visit(&CrownStretch { crown, from_m: from * self.pixel_m, to_m: to * self.pixel_m });
                }
                continue;
            }
            match &mut open {
                Some(stretch) if seen && stretch.crown == crown => stretch.to_m = to_m,
                _ => {
                    open.take().iter().for_each(&mut visit);
                    open = seen.then_some(CrownStretch { crown, from_m: here_m, to_m });
                }
            }
        }
        open.take().iter().for_each(&mut visit);
        inside
    }

    /// Share of a pixel under crowns; none outside of the grid.
    fn share(&self, [column, row]: [i64; 2]) -> f64 {
        let size = self.canopy.raster().size as i64;
        let inside = (0..size).contains(&column) && (0..size).contains(&row);
        if inside { f64::from(self.canopy.crown_at(column as usize, row as usize).share()) } else { 0.0 }
    }
    /// The parts of a way through a pixel that lead through crowns which fill a share of it.
    ///
    /// They stand at the sides of their neighbours, by the neighbours' shares, along the axis on which those differ most: the
    /// edge of a wood at the side of the wood, the gap over a road between its two sides. A strip without neighbours
    /// stands in the middle.
    fn filled(&self, pixel: [i64; 2], crown: Crown, (from, to): (f64, f64)) -> [Option<(f64, f64)>; 2] {
        let share = f64::from(crown.share());
        let beside = |axis: usize| {
            let mut sides = [pixel; 2];
            sides[0][axis] -= 1;
            sides[1][axis] += 1;
            sides.map(|side| self.share(side))
        };
        let sides = [beside(0), beside(1)];
        let differ = sides.map(|[low, high]| (low - high).abs() + (low + high - 2.0 * share).abs());
        // At a corner both axes are as good: the one along which the ray runs.
        let along = usize::from(self.direction[1].abs() > self.direction[0].abs());
        let tie = (differ[1] - differ[0]).abs() < EVEN;
        let axis = if tie { along } else { usize::from(differ[1] > differ[0]) };
        let [low, high] = sides[axis];
        let parts = match low + high {
            0.0 => [(0.5 - share / 2.0, 0.5 + share / 2.0), (0.0, 0.0)],
            both => [(0.0, share * low / both), (1.0 - share * high / both, 1.0)],
        };
        let (start, step) = (self.start[axis] - pixel[axis] as f64, self.direction[axis]);
        parts.map(|(a, b)| {
            let (enter, leave) = if step == 0.0 {
                if a < start && start < b { (from, to) } else { (to, from) }
            } else {
                let (a, b) = ((a - start) / step, (b - start) / step);
                (a.min(b).max(from), a.max(b).min(to))
            };
            (leave > enter).then_some((enter, leave))
        })
    }
    fn at(&self, along: f64, axis: usize) -> f64 {
        self.start[axis] + self.direction[axis] * along
    }
    fn place(&self, along: f64) -> WalkPlace {
        WalkPlace { pixel: [0, 1].map(|axis| self.at(along, axis).floor() as i64), along }
    }
    /// How far the walk has come where it crosses from the lines `low..high` of an axis to the next ones.
    fn crossing(&self, axis: usize, low: i64, high: i64) -> f64 {
        let step = self.direction[axis];
        if step > 0.0 {
            (high as f64 - self.start[axis]) / step
        } else if step < 0.0 {
            (low as f64 - self.start[axis]) / step
        } else {
            f64::INFINITY
        }
    }
    fn leave_pixel(&self, place: &mut WalkPlace) {
        let [x, y] = [0, 1].map(|axis| self.crossing(axis, place.pixel[axis], place.pixel[axis] + 1));
        let axis = usize::from(y < x);
        place.along = x.min(y).max(place.along);
        place.pixel[axis] += if self.direction[axis] > 0.0 { 1 } else { -1 };
    }
    fn leave_tile(&self, place: &mut WalkPlace, tile: [usize; 2]) {
        let lines = tile.map(|t| ((t * TILE) as i64, ((t + 1) * TILE) as i64));
        let [x, y] = [0, 1].map(|axis| self.crossing(axis, lines[axis].0, lines[axis].1));
        let axis = usize::from(y < x);
        let along = x.min(y).max(place.along);
        let other = 1 - axis;
        place.pixel[axis] = if self.direction[axis] > 0.0 { lines[axis].1 } else { lines[axis].0 - 1 };
        place.pixel[other] = (self.at(along, other).floor() as i64).clamp(lines[other].0, lines[other].1 - 1);
        place.along = along;
    }
}
