//! The walk of a ray's shadow on the ground through pixels of canopy.
//!
//! In: a [`CrownStack`], where a walk begins and its direction, and how the ground rises along it. Out: stretches of equal
//! crowns, each with the exact distances at which the ray enters and leaves them, so that an eye or a tree that moves by a
//! centimetre moves every distance by about as much and none by a whole pixel. In a pixel that crowns fill in part, they
//! stand at the sides of fuller neighbours: thin leaves all over the pixel would hide too much, since the first metre of leaves
//! costs most.
use crate::base::geodesy::Point;
use crate::physics::scene::trees::crown::Crown;
use crate::physics::scene::trees::grid::TILE;
use crate::physics::scene::trees::stack::{BLOCK, CrownStack};

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
    /// Highest trees on it and right beside it, metres above the ground.
    pub trees_m: f64,
}

impl Slope {
    /// The piece between two distances with the rise at each, metres.
    pub fn between((from_m, rise_from_m): (f64, f64), (to_m, rise_to_m): (f64, f64)) -> Self {
        let slope = (rise_to_m - rise_from_m) / (to_m - from_m);
        let (at_eye_m, highest_m) = (rise_from_m - slope * from_m, rise_from_m.max(rise_to_m));
        Self { from_m, to_m, at_eye_m, slope, highest_m, trees_m: f64::INFINITY }
    }
}

/// The stretch of each assumption that a walk is in.
struct OpenStretches<const N: usize>([Option<CrownStretch>; N]);

impl<const N: usize> OpenStretches<N> {
    /// The next pixel: a stretch of the same crown goes on, any other is handed over.
    fn go_on(&mut self, nth: usize, next: Option<CrownStretch>, visit: &mut impl FnMut(usize, &CrownStretch)) {
        match (&mut self.0[nth], next) {
            (Some(open), Some(next)) if open.crown == next.crown => open.to_m = next.to_m,
            (None, None) => {}
            (_, next) => {
                self.close_one(nth, visit);
                self.0[nth] = next;
            }
        }
    }
    fn close_one(&mut self, nth: usize, visit: &mut impl FnMut(usize, &CrownStretch)) {
        if let Some(stretch) = self.0[nth].take() {
            visit(nth, &stretch);
        }
    }
    fn close(&mut self, visit: &mut impl FnMut(usize, &CrownStretch)) {
        (0..N).for_each(|nth| self.close_one(nth, visit));
    }
}

/// A walk over the crowns of `N` assumptions.
#[derive(Debug, Clone, Copy)]
pub(super) struct Walk<'a, const N: usize> {
    canopy: &'a CrownStack<N>,
    /// Place of the eye and direction, pixels and pixels per pixel.
    start: [f64; 2],
    direction: [f64; 2],
    /// Pixels along the walk per pixel along an axis.
    per_pixel: [f64; 2],
    /// How the pixel changes where the walk crosses a line of an axis.
    step: [i32; 2],
    /// The line that is crossed next, counted from that of the pixel: the one behind it where the walk leads to lower ones.
    ahead: [i32; 2],
    pixel_m: f64,
    /// Pixels on a side of the grid.
    size: i32,
}

/// Where a walk is: its pixel, how far it has come, and how far it will have come where it leaves the pixel along either axis, in
/// pixels.
#[derive(Debug, Clone, Copy)]
struct WalkPlace {
    pixel: [i32; 2],
    along: f64,
    leaves: [f64; 2],
}

impl<'a, const N: usize> Walk<'a, N> {
    pub fn new(canopy: &'a CrownStack<N>, eye: Point, direction: (f64, f64)) -> Self {
        let (raster, direction) = (canopy.raster(), [direction.0, direction.1]);
        let (x, y) = raster.pixel_of(eye);
        Self {
            canopy,
            start: [x, y],
            direction,
            per_pixel: direction.map(|d| 1.0 / d),
            step: direction.map(|d| if d > 0.0 { 1 } else { -1 }),
            ahead: direction.map(|d| i32::from(d > 0.0)),
            pixel_m: raster.pixel_m,
            size: raster.size as i32,
        }
    }

    /// Hands over the stretches between two distances that rise above what `lowest_m` says is seen at a distance, each with the
    /// number of its assumption; returns whether the grid goes on beyond them.
    pub fn stretches(
        &self,
        (from_m, to_m): (f64, f64),
        lowest_m: impl Fn(f64) -> f64,
        mut visit: impl FnMut(usize, &CrownStretch),
    ) -> bool {
        let end = to_m / self.pixel_m;
        let mut place = self.place(from_m / self.pixel_m);
        let mut open = OpenStretches([None; N]);
        if from_m > 0.0 {
            // The piece of ground before this one has gone to the end of its last pixel.
            self.leave_pixel(&mut place);
        }
        let mut inside = true;
        while place.along < end {
            inside = place.pixel.iter().all(|p| (0..self.size).contains(p));
            if !inside {
                break;
            }
            let pixel = place.pixel;
            let [column, row] = pixel.map(|p| p as usize);
            let here = place.along;
            let lowest_m = lowest_m(here * self.pixel_m);
            let tile = self.canopy.tile(column / TILE, row / TILE).filter(|(_, top_m)| *top_m > lowest_m);
            let Some((number, _)) = tile else {
                open.close(&mut visit);
                self.leave_square::<TILE>(&mut place);
                continue;
            };
            let block = self.canopy.block(number, column % TILE, row % TILE);
            if block.top_m() <= lowest_m {
                open.close(&mut visit);
                self.leave_square::<BLOCK>(&mut place);
                continue;
            }
            let crowns = self.canopy.crowns_in(number, column % TILE, row % TILE);
            if !(block.even && self.leave_block(&mut place, end)) {
                self.leave_pixel(&mut place);
            }
            let within = (here, place.along);
            for (nth, crown) in crowns.iter().enumerate() {
                let seen = !crown.is_none() && crown.top_m() > lowest_m;
                if seen && crown.share() < 1.0 {
                    open.close_one(nth, &mut visit);
                    for (from, to) in self.filled(nth, pixel, *crown, within).into_iter().flatten() {
                        let (from_m, to_m) = (from * self.pixel_m, to * self.pixel_m);
                        visit(nth, &CrownStretch { crown: *crown, from_m, to_m });
                    }
                } else {
                    let (from_m, to_m) = (here * self.pixel_m, place.along * self.pixel_m);
                    let stretch = seen.then_some(CrownStretch { crown: *crown, from_m, to_m });
                    open.go_on(nth, stretch, &mut visit);
                }
            }
        }
        open.close(&mut visit);
        inside
    }

    /// Share of a pixel under crowns; none outside of the grid.
    fn share(&self, nth: usize, pixel: [i32; 2]) -> f64 {
        let inside = pixel.iter().all(|p| (0..self.size).contains(p));
        let [column, row] = pixel.map(|p| p as usize);
        if inside { f64::from(self.canopy.crown_at(nth, column, row).share()) } else { 0.0 }
    }
    /// The parts of a way through a pixel that lead through crowns which fill a share of it.
    ///
    /// They stand at the sides of their neighbours, by the neighbours' shares, along the axis on which those differ most: the
    /// edge of a wood at the side of the wood, the gap over a road between its two sides. A strip without neighbours
    /// stands in the middle.
    fn filled(&self, nth: usize, pixel: [i32; 2], crown: Crown, (from, to): (f64, f64)) -> [Option<(f64, f64)>; 2] {
        let share = f64::from(crown.share());
        let beside = |axis: usize| {
            let mut sides = [pixel; 2];
            sides[0][axis] -= 1;
            sides[1][axis] += 1;
            sides.map(|side| self.share(nth, side))
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
        let (start, step) = (self.start[axis] - f64::from(pixel[axis]), self.direction[axis]);
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
    /// The pixel of an axis where the walk has come so far.
    fn pixel_at(&self, along: f64, axis: usize) -> i32 {
        let at = self.start[axis] + self.direction[axis] * along;
        // Rounded down, without a call into the mathematical library for every pixel.
        let towards_zero = at as i32;
        towards_zero - i32::from(at < f64::from(towards_zero))
    }
    fn place(&self, along: f64) -> WalkPlace {
        self.placed([0, 1].map(|axis| self.pixel_at(along, axis)), along)
    }
    fn placed(&self, pixel: [i32; 2], along: f64) -> WalkPlace {
        let leaves = [0, 1].map(|axis| self.crossing(axis, pixel[axis] + self.ahead[axis]));
        WalkPlace { pixel, along, leaves }
    }
    /// How far the walk has come where it crosses a line of an axis.
    fn crossing(&self, axis: usize, line: i32) -> f64 {
        if self.direction[axis] == 0.0 {
            return f64::INFINITY;
        }
        (f64::from(line) - self.start[axis]) * self.per_pixel[axis]
    }
    fn leave_pixel(&self, place: &mut WalkPlace) {
        let axis = usize::from(place.leaves[1] < place.leaves[0]);
        place.along = place.leaves[axis].max(place.along);
        place.pixel[axis] += self.step[axis];
        place.leaves[axis] = self.crossing(axis, place.pixel[axis] + self.ahead[axis]);
    }
    /// Goes to the end of the block unless a walk ends within it: then pixels count, as at the start of the next piece of
    /// ground.
    fn leave_block(&self, place: &mut WalkPlace, end: f64) -> bool {
        let mut beyond = *place;
        self.leave_square::<BLOCK>(&mut beyond);
        let before_end = beyond.along <= end;
        if before_end {
            *place = beyond;
        }
        before_end
    }
    /// Goes to the end of the square that a place lies in; squares have `SIDE` pixels a side.
    fn leave_square<const SIDE: usize>(&self, place: &mut WalkPlace) {
        let side = SIDE as i32;
        let low = place.pixel.map(|p| p.div_euclid(side) * side);
        let [x, y] = [0, 1].map(|axis| self.crossing(axis, low[axis] + self.ahead[axis] * side));
        let axis = usize::from(y < x);
        let along = x.min(y).max(place.along);
        let other = 1 - axis;
        let mut pixel = [0; 2];
        pixel[axis] = if self.ahead[axis] > 0 { low[axis] + side } else { low[axis] - 1 };
        pixel[other] = self.pixel_at(along, other).clamp(low[other], low[other] + side - 1);
        *place = self.placed(pixel, along);
    }
}
