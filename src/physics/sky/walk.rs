//! The walk of a ray's shadow on the ground through pixels of canopy.
//!
//! In: a [`CrownStack`], where a walk begins and its direction, and how the ground rises along it. Out: stretches of equal
//! crowns, each with the exact distances at which the ray enters and leaves them, so that an eye or a tree that moves by a
//! centimetre moves every distance by about as much and none by a whole pixel. In a pixel that crowns fill in part, they
//! stand where they were planted: thin leaves all over the pixel would hide too much, since the first metre of leaves costs
//! most. What stands in other pixels changes nothing in this one, so that another tree never opens a ray.
use crate::base::geodesy::Point;
use crate::physics::scene::trees::crown::Crown;
use crate::physics::scene::trees::grid::TILE;
use crate::physics::scene::trees::stack::{BLOCK, BLOCKS, CrownStack, StackTile};

/// A way that is not gone, and one that is gone whole.
const NOWHERE: (f64, f64) = (f64::INFINITY, f64::NEG_INFINITY);
const EVERYWHERE: (f64, f64) = (f64::NEG_INFINITY, f64::INFINITY);

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
    /// The next piece: a stretch of the same crown that it touches goes on, any other is handed over.
    fn go_on(&mut self, nth: usize, next: Option<CrownStretch>, visit: &mut impl FnMut(usize, &CrownStretch)) {
        match (&mut self.0[nth], next) {
            (Some(open), Some(next)) if open.crown == next.crown && open.to_m == next.from_m => open.to_m = next.to_m,
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
    /// Pixels along the walk per pixel along an axis; endless across it.
    per_pixel: [f64; 2],
    /// How the square changes where the walk crosses a line of an axis.
    step: [i32; 2],
    /// The line of an axis that is crossed next, counted from that of the square: the one behind it where the walk leads to
    /// lower ones.
    ahead: [i32; 2],
    pixel_m: f64,
    /// Pixels on a side of the grid.
    size: i32,
}

/// Where a walk is among squares of `SIDE` pixels: how far it has come, and how far it will have come where it leaves the square
/// along either axis, in pixels.
#[derive(Debug, Clone, Copy)]
struct SquarePlace<const SIDE: usize> {
    square: [i32; 2],
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
            per_pixel: direction.map(|d| if d == 0.0 { f64::INFINITY } else { 1.0 / d }),
            step: direction.map(|d| if d < 0.0 { -1 } else { 1 }),
            ahead: direction.map(|d| i32::from(d >= 0.0)),
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
        let last = (self.size - 1) / BLOCK as i32;
        let mut place = self.place::<BLOCK>(from_m / self.pixel_m);
        let mut open = OpenStretches([None; N]);
        while place.along < end {
            if place.square.iter().any(|p| !(0..=last).contains(p)) {
                open.close(&mut visit);
                return false;
            }
            let ([column, row], here) = (place.square, place.along);
            let lowest_m = lowest_m(here * self.pixel_m);
            let at = [column as usize / BLOCKS, row as usize / BLOCKS];
            let Some(tile) = self.canopy.tile(at[0], at[1]).filter(|tile| tile.top_m() > lowest_m) else {
                open.close(&mut visit);
                place = self.behind_tile(at, here);
                continue;
            };
            let corner = [column, row].map(|i| i * BLOCK as i32);
            if let Some(crowns) = tile.even() {
                place = self.behind_tile(at, here);
                self.take(crowns, (corner, (here, place.along.min(end)), lowest_m), &mut open, &mut visit);
                continue;
            }
            let in_tile = [column as usize % BLOCKS, row as usize % BLOCKS];
            let block = self.canopy.block(tile, in_tile[0], in_tile[1]);
            self.leave(&mut place);
            let within = (here, place.along.min(end));
            if block.top_m() <= lowest_m {
                open.close(&mut visit);
            } else if block.even {
                let crowns = self.canopy.crowns_in(tile, in_tile[0] * BLOCK, in_tile[1] * BLOCK);
                self.take(crowns, (corner, within, lowest_m), &mut open, &mut visit);
            } else {
                self.through_block((tile, corner), (within, lowest_m), &mut open, &mut visit);
            }
        }
        open.close(&mut visit);
        true
    }

    /// Walks through a block pixel by pixel.
    fn through_block(
        &self,
        (tile, corner): (&StackTile<N>, [i32; 2]),
        ((from, to), lowest_m): ((f64, f64), f64),
        open: &mut OpenStretches<N>,
        visit: &mut impl FnMut(usize, &CrownStretch),
    ) {
        // At the line between two blocks rounding may take either side.
        let within = |axis: usize, pixel: i32| pixel.clamp(corner[axis], corner[axis] + BLOCK as i32 - 1);
        let first = [0, 1].map(|axis| within(axis, self.square_at(from, axis, 1)));
        let mut place = self.placed::<1>(first, from);
        while place.along < to {
            let (pixel, here) = (place.square, place.along);
            if [0, 1].iter().any(|axis| within(*axis, pixel[*axis]) != pixel[*axis]) {
                break;
            }
            let crowns = self.canopy.crowns_in(tile, pixel[0] as usize % TILE, pixel[1] as usize % TILE);
            self.leave(&mut place);
            self.take(crowns, (pixel, (here, place.along.min(to)), lowest_m), open, visit);
        }
    }

    /// Takes the crowns on a piece of the walk.
    fn take(
        &self,
        crowns: &[Crown; N],
        (pixel, within, lowest_m): ([i32; 2], (f64, f64), f64),
        open: &mut OpenStretches<N>,
        visit: &mut impl FnMut(usize, &CrownStretch),
    ) {
        let (from_m, to_m) = (within.0 * self.pixel_m, within.1 * self.pixel_m);
        for (nth, crown) in crowns.iter().enumerate() {
            let seen = !crown.is_none() && crown.top_m() > lowest_m;
            // What a stretch is filled by counts, not of which share of a pixel it was made.
            let crown_all_over = crown.all_over();
            if seen && !crown.is_whole() {
                for (from, to) in self.filled(pixel, *crown, within) {
                    let (from_m, to_m) = (from * self.pixel_m, to * self.pixel_m);
                    open.go_on(nth, Some(CrownStretch { crown: crown_all_over, from_m, to_m }), visit);
                }
            } else {
                open.go_on(nth, seen.then_some(CrownStretch { crown: crown_all_over, from_m, to_m }), visit);
            }
        }
    }

    /// The parts of a way through a pixel that lead through crowns which fill a part of it, in the order of the walk.
    fn filled(&self, pixel: [i32; 2], crown: Crown, within: (f64, f64)) -> impl Iterator<Item = (f64, f64)> {
        let along = [0, 1].map(|axis| self.along(axis, pixel[axis], crown.part().stretches(axis)));
        // Those of one axis are in order and apart, and so are those of the other within each.
        let pairs = along[0].into_iter().flat_map(move |first| along[1].map(|second| [first, second]));
        let parts = pairs.map(move |[a, b]| (a.0.max(b.0).max(within.0), a.1.min(b.1).min(within.1)));
        parts.filter(|(from, to)| to > from)
    }
    /// Where a walk is within stretches of an axis of a pixel, in its order.
    fn along(&self, axis: usize, pixel: i32, stretches: [(f64, f64); 2]) -> [(f64, f64); 2] {
        let (start, step) = (self.start[axis] - f64::from(pixel), self.direction[axis]);
        let mut out = stretches.map(|(low, high)| {
            if high <= low {
                NOWHERE
            } else if step == 0.0 {
                if low <= start && start < high { EVERYWHERE } else { NOWHERE }
            } else if (low, high) == (0.0, 1.0) {
                EVERYWHERE
            } else {
                let (a, b) = ((low - start) / step, (high - start) / step);
                (a.min(b), a.max(b))
            }
        });
        if step < 0.0 {
            out.reverse();
        }
        out
    }
    /// The square of an axis where the walk has come so far.
    fn square_at(&self, along: f64, axis: usize, side: i32) -> i32 {
        let at = self.start[axis] + self.direction[axis] * along;
        // Rounded down, without a call into the mathematical library for every pixel.
        let towards_zero = at as i32;
        (towards_zero - i32::from(at < f64::from(towards_zero))).div_euclid(side)
    }
    fn place<const SIDE: usize>(&self, along: f64) -> SquarePlace<SIDE> {
        self.placed([0, 1].map(|axis| self.square_at(along, axis, SIDE as i32)), along)
    }
    fn placed<const SIDE: usize>(&self, square: [i32; 2], along: f64) -> SquarePlace<SIDE> {
        let leaves = [0, 1].map(|axis| self.crossing(axis, (square[axis] + self.ahead[axis]) * SIDE as i32));
        SquarePlace { square, along, leaves }
    }
    /// How far the walk has come where it crosses a line of an axis.
    fn crossing(&self, axis: usize, line: i32) -> f64 {
        (f64::from(line) - self.start[axis]) * self.per_pixel[axis]
    }
    /// Goes to the next square.
    fn leave<const SIDE: usize>(&self, place: &mut SquarePlace<SIDE>) {
        let axis = usize::from(place.leaves[1] < place.leaves[0]);
        place.along = place.leaves[axis].max(place.along);
        place.square[axis] += self.step[axis];
        place.leaves[axis] = self.crossing(axis, (place.square[axis] + self.ahead[axis]) * SIDE as i32);
    }
    /// The first block behind a tile.
    fn behind_tile(&self, tile: [usize; 2], along: f64) -> SquarePlace<BLOCK> {
        let mut tile = self.placed::<TILE>(tile.map(|t| t as i32), along);
        let before = tile.square;
        self.leave(&mut tile);
        let axis = usize::from(tile.square[1] != before[1]);
        let (first, blocks) = (before.map(|t| t * BLOCKS as i32), BLOCKS as i32);
        let mut square = [0; 2];
        square[axis] = if self.ahead[axis] > 0 { first[axis] + blocks } else { first[axis] - 1 };
        let other = 1 - axis;
        square[other] = self.square_at(tile.along, other, BLOCK as i32).clamp(first[other], first[other] + blocks - 1);
        self.placed(square, tile.along)
    }
}
