//! What stands over a travelled lane: decks, tunnels, galleries, passages and roofs.
//!
//! In: the [`DeckIndex`] of the run, the plane of a cell and the lane of one segment and direction.
//! Out: [`Overhead`]s in the coordinate of that lane, metres from the start of the segment in the
//! direction driven, sorted by their near edge. The shadow they throw is computed in
//! [`super::overhead`].
//!
//! Which deck stands above which road: `layer` orders things only where they cross, and bridges are
//! often tagged without it. So a deck of a lower layer never stands above; one of the same layer does
//! unless the road is on a bridge itself or they meet in a node there; one of a higher layer does.
use std::collections::BTreeMap;

use rstar::primitives::Rectangle;
use rstar::{AABB, RTree};

use super::covers::{LaneOf, roofs_over, stands_over, tagged_cover};
use super::crossings::{CellDeck, Crossed, deck_over, outline_over};
use super::decks::{DeckIndex, DeckOutline, MayCover};
use super::overhead::Overhead;
use crate::base::geodesy::{LocalPlane, Point, Position};
use crate::base::words::OverheadKind;
use crate::map::extract::model::Building;
use crate::physics::scene::boxed::InBox;
use crate::physics::scene::lane_path::{LanePath, merged};
use crate::physics::scene::rings::rings_on_plane;

/// What stands beyond the ends of a segment is looked for at least this far away, metres.
const NEIGHBOUR_REACH_M: f64 = 60.0;
/// One over the tangent of 20 degrees: how far the shadow of something reaches per metre of its height above the
/// antenna, in the lowest cone a profile sensibly asks for.
const REACH_PER_HEIGHT: f64 = 2.75;
/// The same deck found by two neighbouring segments differs by less than this in place, metres.
const SAME_PLACE_M: f64 = 3.0;
/// Covers of one kind this close to each other are one, metres.
const TOUCHING_M: f64 = 1.0;
/// A tagged cover is left out where roofs or decks above cover this share of it: they are the cover
/// that was meant.
const ALREADY_COVERED_SHARE: f64 = 0.5;

/// Footprint rings in the plane, outer first.
type Rings = Vec<Vec<Point>>;

/// Everything near one cell that may stand over a lane, in the plane of the cell.
#[derive(Debug)]
pub struct CellOverheads<'a> {
    plane: LocalPlane,
    antenna_m: f64,
    decks: Vec<CellDeck<'a>>,
    outlines: Vec<(&'a DeckOutline, Rings)>,
    roofs: Vec<(&'a Building, Rings)>,
    tree: RTree<InBox<InCell>>,
}

/// What a place in the plane is near to: indices into the lists of [`CellOverheads`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum InCell {
    Deck(usize),
    Outline(usize),
    Roof(usize),
}

impl<'a> CellOverheads<'a> {
    /// Takes what lies in a box of longitudes and latitudes (the cell and its halo, degrees) onto the
    /// plane of the cell. `antenna_m` is the height of the antenna above the road.
    pub fn new(index: &'a DeckIndex, plane: LocalPlane, low_deg: [f64; 2], high_deg: [f64; 2], antenna_m: f64) -> Self {
        let mut cell =
            Self { plane, antenna_m, decks: Vec::new(), outlines: Vec::new(), roofs: Vec::new(), tree: RTree::new() };
        let mut boxes = Vec::new();
        let mut grounds: BTreeMap<u32, Rings> = BTreeMap::new();
        for found in index.in_box(low_deg, high_deg) {
            match found {
                MayCover::Deck(i) => {
                    let deck = CellDeck::new(index, i, &plane, &mut grounds);
                    boxes.push(boxed(&deck.line, deck.widest_m(), InCell::Deck(cell.decks.len())));
                    cell.decks.push(deck);
                }
                MayCover::Outline(i) => {
                    let outline = &index.outlines[i as usize];
                    let rings = rings_on_plane(&plane, &outline.area);
                    boxes.push(boxed(&rings[0], 0.0, InCell::Outline(cell.outlines.len())));
                    cell.outlines.push((outline, rings));
                }
                MayCover::Roof(i) => {
                    let roof = &index.roofs[i as usize];
                    let rings = rings_on_plane(&plane, &roof.area);
                    boxes.push(boxed(&rings[0], 0.0, InCell::Roof(cell.roofs.len())));
                    cell.roofs.push((roof, rings));
                }
            }
        }
        cell.tree = RTree::bulk_load(boxes);
        cell
    }

    /// What stands over the segment itself, sorted by the near edge. `ground_m` gives the height of
    /// the ground at a place of the plane, metres.
    pub fn own(&self, lane: &LaneOf, ground_m: &dyn Fn(Point) -> Option<f32>) -> Vec<Overhead> {
        let Some(path) = LanePath::new(lane.stations) else {
            return Vec::new();
        };
        if lane.segment.tunnel.is_some() {
            return tagged_cover(lane, &path, self.antenna_m).into_iter().collect();
        }
        let mut crossed: Vec<Crossed> = Vec::new();
        let mut out: Vec<Overhead> = Vec::new();
        for near in self.near(&path) {
            match near {
                InCell::Deck(i) => {
                    crossed.extend(deck_over(lane, &path, &self.decks[i], self.antenna_m, ground_m));
                }
                InCell::Outline(i) => {
                    let (outline, rings) = &self.outlines[i];
                    out.extend(outline_over(lane, &path, outline, rings, self.antenna_m));
                }
                InCell::Roof(i) => {
                    let (roof, rings) = &self.roofs[i];
                    if stands_over(roof.layer, lane) {
                        out.extend(roofs_over(lane, &path, roof, rings, self.antenna_m));
                    }
                }
            }
        }
        out.extend(one_per_outline(crossed));
        let cover = tagged_cover(lane, &path, self.antenna_m);
        out.extend(cover.filter(|_| !mostly_covered(&out, lane.segment.length_m)));
        sort(&mut out);
        out
    }

    /// What stands over the segment and near enough before and beyond it to shadow it. `before` and
    /// `after` are the lanes driven just before and after, the nearest first.
    pub fn along(
        &self,
        lane: &LaneOf,
        before: &[LaneOf],
        after: &[LaneOf],
        ground_m: &dyn Fn(Point) -> Option<f32>,
    ) -> Vec<Overhead> {
        let stretch = |l: &LaneOf| LaneOverheads { length_m: l.segment.length_m, overheads: self.own(l, ground_m) };
        let before: Vec<LaneOverheads> = before.iter().map(stretch).collect();
        let after: Vec<LaneOverheads> = after.iter().map(stretch).collect();
        with_neighbours(&stretch(lane), &before, &after)
    }

    /// Where the middle of an overhead stands over the lane.
    pub fn centre(&self, lane: &LaneOf, overhead: &Overhead) -> Option<Position> {
        let path = LanePath::new(lane.stations)?;
        let place = path.place(centre_m(overhead))?;
        Some(self.plane.to_position(place.at))
    }

    fn near(&self, path: &LanePath) -> Vec<InCell> {
        let (low, high) = path.bounds(1.0);
        let envelope = AABB::from_corners(low, high);
        let mut near: Vec<InCell> = self.tree.locate_in_envelope_intersecting(envelope).map(|e| e.data).collect();
        near.sort_unstable();
        near
    }
}

/// A segment in one direction and what stands over it, in its own coordinate.
#[derive(Debug, Clone, PartialEq)]
pub struct LaneOverheads {
    /// Length, metres.
    pub length_m: f64,
    /// As given by [`CellOverheads::own`].
    pub overheads: Vec<Overhead>,
}

/// Adds to what stands over a segment what stands over the stretches driven before and after it
/// (nearest first), as far as its shadow may reach, in the coordinate of the segment. What both
/// found is kept once; touching pieces of one tunnel, gallery or roof become one.
pub fn with_neighbours(own: &LaneOverheads, before: &[LaneOverheads], after: &[LaneOverheads]) -> Vec<Overhead> {
    let mut out = own.overheads.clone();
    let mut start_m = own.length_m;
    for s in after {
        out = take_in(out, s, start_m, own.length_m);
        start_m += s.length_m;
    }
    let mut start_m = 0.0;
    for s in before {
        start_m -= s.length_m;
        out = take_in(out, s, start_m, own.length_m);
    }
    sort(&mut out);
    out
}

/// Takes in the overheads of a stretch that begins at `at_m`, where they matter to `0..length_m`.
fn take_in(mut out: Vec<Overhead>, from: &LaneOverheads, at_m: f64, length_m: f64) -> Vec<Overhead> {
    for theirs in &from.overheads {
        let mut theirs = theirs.clone();
        theirs.start_m += at_m;
        theirs.end_m += at_m;
        let height_m = theirs.clearance_m + theirs.thickness_m;
        let reach_m = NEIGHBOUR_REACH_M.max(REACH_PER_HEIGHT * height_m);
        if theirs.end_m < -reach_m || theirs.start_m > length_m + reach_m {
            continue;
        }
        match out.iter_mut().find(|ours| is_same(ours, &theirs)) {
            Some(ours) if ours.kind.is_cover() => unite(ours, &theirs),
            Some(_) => {}
            None => out.push(theirs),
        }
    }
    out
}

/// Whether two overheads are one thing found from two segments.
fn is_same(a: &Overhead, b: &Overhead) -> bool {
    if a.kind != b.kind {
        return false;
    }
    let touch = a.start_m <= b.end_m + TOUCHING_M && b.start_m <= a.end_m + TOUCHING_M;
    match a.kind {
        // Pieces of one tunnel are often different ways.
        OverheadKind::Tunnel | OverheadKind::Passage => touch,
        OverheadKind::Gallery => touch && (a.left_closed, a.right_closed) == (b.left_closed, b.right_closed),
        OverheadKind::Roof => touch && a.osm_id == b.osm_id,
        _ => a.osm_id == b.osm_id && (centre_m(a) - centre_m(b)).abs() < SAME_PLACE_M,
    }
}

/// Extends a cover by another that touches it.
fn unite(ours: &mut Overhead, theirs: &Overhead) {
    if theirs.start_m < ours.start_m {
        ours.start_m = theirs.start_m;
        ours.heading_start_deg = theirs.heading_start_deg;
    }
    if theirs.end_m > ours.end_m {
        ours.end_m = theirs.end_m;
        ours.heading_end_deg = theirs.heading_end_deg;
    }
    ours.deck_width_m = ours.end_m - ours.start_m;
}

/// Middle of an overhead on the lane, metres. The segment with `0 <= centre < length` owns the
/// overhead where each is to be counted once.
pub fn centre_m(overhead: &Overhead) -> f64 {
    (overhead.start_m + overhead.end_m) / 2.0
}

/// An outline with several lines on it (a road and its footways, two carriageways drawn as one
/// deck) is one deck: the line that carries most stands for it.
fn one_per_outline(crossed: Vec<Crossed>) -> Vec<Overhead> {
    let mut kept: Vec<Crossed> = Vec::with_capacity(crossed.len());
    for new in crossed {
        let rival = kept.iter_mut().find(|old| {
            let overlap = old.overhead.start_m < new.overhead.end_m && new.overhead.start_m < old.overhead.end_m;
            new.outline.is_some() && old.outline == new.outline && overlap
        });
        match rival {
            Some(old) if rank(&new.overhead) < rank(&old.overhead) => *old = new,
            Some(_) => {}
            None => kept.push(new),
        }
    }
    kept.into_iter().map(|c| c.overhead).collect()
}

/// Order in which lines on one outline stand for it.
fn rank(overhead: &Overhead) -> (u8, i64) {
    let by_kind = match overhead.kind {
        OverheadKind::RailDeck => 0,
        OverheadKind::RoadDeck => 1,
        OverheadKind::FootDeck => 3,
        _ => 2,
    };
    (by_kind, overhead.osm_id)
}

/// Whether roofs and decks cover most of a segment.
fn mostly_covered(overheads: &[Overhead], length_m: f64) -> bool {
    let clipped = overheads.iter().map(|o| (o.start_m.max(0.0), o.end_m.min(length_m)));
    let covered: Vec<_> = clipped.filter(|(a, b)| b > a).collect();
    let covered_m: f64 = merged(covered, 0.0).iter().map(|(a, b)| b - a).sum();
    covered_m >= ALREADY_COVERED_SHARE * length_m
}

fn sort(overheads: &mut [Overhead]) {
    overheads.sort_by(|a, b| {
        a.start_m
            .total_cmp(&b.start_m)
            .then(a.end_m.total_cmp(&b.end_m))
            .then(a.kind.cmp(&b.kind))
            .then(a.osm_id.cmp(&b.osm_id))
    });
}

fn boxed(line: &[Point], by_m: f64, near: InCell) -> InBox<InCell> {
    let (mut low, mut high) = ([f64::MAX; 2], [f64::MIN; 2]);
    for p in line {
        low = [low[0].min(p.x_m - by_m), low[1].min(p.y_m - by_m)];
        high = [high[0].max(p.x_m + by_m), high[1].max(p.y_m + by_m)];
    }
    InBox::new(Rectangle::from_corners(low, high), near)
}
