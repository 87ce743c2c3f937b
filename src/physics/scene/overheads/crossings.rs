//! One deck against one lane: where it crosses, how wide, how skewed, how far to its ends.
//!
//! In: a deck in the plane of the cell and a lane. Out: [`Overhead`]s in the lane's coordinate, metres.
use std::collections::BTreeMap;

use super::covers::{LaneOf, Underside, stands_over, tagged_underside};
use super::deck_width::{default_underside_m, kind_of, thickness_m};
use super::decks::{DeckIndex, DeckOutline, JoinedDeck};
use super::overhead::Overhead;
use crate::base::geodesy::{LocalPlane, Point, normal_deg, turn_deg};
use crate::base::words::OverheadKind;
use crate::map::extract::model::DeckUse;
use crate::physics::scene::lane_path::{Crossing, Interval, LanePath, LanePlace, merged, skew_deg};
use crate::physics::scene::rings::{contains, ray_to_rings, rings_on_plane};

/// A deck more skewed than this runs along the road: it is handled as a cover over the stretch
/// where the lane lies under it, degrees. At 60 degrees the stretch is twice the deck's width; much
/// beyond, a bend of either line matters more than the angle where they cross. The half degree keeps
/// a skew of 60 on one side of the limit whatever the rounding of positions.
const ALONG_SKEW_DEG: f64 = 60.5;
/// Skews are kept within this, degrees.
const MOST_SKEW_DEG: f64 = 80.0;
/// A deck that ends closer to the lane than this counts as endless on that side, metres: there the
/// abutment and the fill behind it carry the obstruction on.
const ABUTMENT_M: f64 = 25.0;
/// A crossing this close to a node that deck and road share is their junction, metres, in addition to the
/// distance between lane and node.
const JUNCTION_M: f64 = 15.0;
/// Widths measured on an outline are trusted within this, metres from the centre line.
const OUTLINE_HALF_M: std::ops::RangeInclusive<f64> = 0.5..=40.0;
/// Elevation gives the underside only where it stands this much above the default, metres: less
/// is within the noise of an elevation raster.
const ELEVATION_MARGIN_M: f64 = 5.0;
/// Decks along the road are cut into prisms of at most this length, metres, each with its own sides.
const SLICE_M: f64 = 50.0;
/// Stretches under the bends of one deck this close to each other are one, metres.
const BEND_GAP_M: f64 = 2.0;
/// Shorter stretches under a deck that runs along are left out, metres.
const SHORTEST_ALONG_M: f64 = 2.0;
/// An outline without a line on it that covers the lane for this many times its width is taken for
/// the bridge the road itself runs on.
const OWN_OUTLINE_RATIO: f64 = 1.5;

/// A deck in the plane of a cell.
#[derive(Debug)]
pub(crate) struct CellDeck<'a> {
    /// The deck.
    pub deck: &'a JoinedDeck,
    /// Its centre line.
    pub line: Vec<Point>,
    /// Distance of each point from the first, metres.
    along_m: Vec<f64>,
    /// Outline under each piece of the line.
    outlines: BTreeMap<u32, Vec<Vec<Point>>>,
    plane: LocalPlane,
}

/// An overhead and the outline it was measured on.
#[derive(Debug, Clone)]
pub(crate) struct Crossed {
    /// What stands over the lane.
    pub overhead: Overhead,
    /// Index of the outline, where its line runs on one.
    pub outline: Option<u32>,
}

impl<'a> CellDeck<'a> {
    /// A deck of the index on a plane; `outlines` keeps the rings of outlines met so far.
    pub fn new(
        index: &'a DeckIndex,
        number: u32,
        plane: &LocalPlane,
        outlines: &mut BTreeMap<u32, Vec<Vec<Point>>>,
    ) -> Self {
        let deck = &index.decks[number as usize];
        let line: Vec<Point> = deck.line.iter().map(|p| plane.to_plane(*p)).collect();
        let mut along_m = vec![0.0];
        for w in line.windows(2) {
            along_m.push(along_m[along_m.len() - 1] + w[0].distance_m(w[1]));
        }
        let mut own = BTreeMap::new();
        for i in deck.spans.iter().filter_map(|s| s.outline) {
            let rings = || rings_on_plane(plane, &index.outlines[i as usize].area);
            own.insert(i, outlines.entry(i).or_insert_with(rings).clone());
        }
        Self { deck, line, along_m, outlines: own, plane: *plane }
    }

    /// Upper bound of its half width, metres.
    pub(crate) fn widest_m(&self) -> f64 {
        let tagged = self.deck.spans.iter().map(|s| s.width_m / 2.0).fold(0.0, f64::max);
        if self.outlines.is_empty() { tagged } else { tagged.max(*OUTLINE_HALF_M.end()) }
    }

    /// From the centre line to the deck's edges, metres: left and right of the line's direction.
    fn half_widths_m(&self, span: usize, at: Point, azimuth_deg: f64) -> (f64, f64) {
        let span = &self.deck.spans[span];
        let half_m = span.width_m / 2.0;
        let Some(rings) = span.outline.and_then(|i| self.outlines.get(&i)) else {
            return (half_m, half_m);
        };
        let side = |turn_deg: f64| {
            ray_to_rings(rings, at, azimuth_deg + turn_deg).map(|hit| hit.0).filter(|d| OUTLINE_HALF_M.contains(d))
        };
        match (contains(rings, at), side(-90.0), side(90.0)) {
            (true, Some(left), Some(right)) => (left, right),
            _ => (half_m, half_m),
        }
    }

    fn total_m(&self) -> f64 {
        self.along_m.last().copied().unwrap_or(0.0)
    }

    /// Free ends stand in the open; the others run into an abutment.
    fn has_free_ends(&self) -> bool {
        matches!(self.deck.carries, DeckUse::Gantry | DeckUse::Pipe)
    }
}

/// What of one deck stands over a lane.
pub(crate) fn deck_over(
    lane: &LaneOf,
    path: &LanePath,
    deck: &CellDeck,
    antenna_m: f64,
    ground_m: &dyn Fn(Point) -> Option<f32>,
) -> Vec<Crossed> {
    let gantry = deck.deck.carries == DeckUse::Gantry;
    let own_bridge = deck.deck.ids.binary_search(&lane.road.id).is_ok();
    // A gantry stands on the road's own ground or bridge, whatever its layer.
    if own_bridge || !(gantry || stands_over(deck.deck.layer, lane)) {
        return Vec::new();
    }
    let task = Task { lane, path, deck, antenna_m, ground_m };
    let junctions = if gantry { Vec::new() } else { task.shared_nodes() };
    let (left_m, right_m) = lane.to_edges_m();
    let junction_m = JUNCTION_M + (left_m - right_m).abs();
    let mut out = Vec::new();
    let mut crosses = false;
    for (i, w) in deck.line.windows(2).enumerate() {
        for c in path.crossings(w[0], w[1]) {
            if junctions.iter().any(|j| j.distance_m(c.place.at) <= junction_m) {
                continue;
            }
            crosses = true;
            out.extend(task.crossing(i, w[0].azimuth_deg(w[1]), &c));
        }
    }
    let certain = crosses || (deck.deck.layer > lane.road.layer && !task.is_approach());
    if junctions.is_empty() && certain {
        out.extend(task.along());
    }
    out
}

/// One deck against one lane.
struct Task<'a, 'b> {
    lane: &'a LaneOf<'b>,
    path: &'a LanePath,
    deck: &'a CellDeck<'b>,
    antenna_m: f64,
    ground_m: &'a dyn Fn(Point) -> Option<f32>,
}

impl Task<'_, '_> {
    fn shared_nodes(&self) -> Vec<Point> {
        let nodes = self.lane.road.nodes.iter().map(|n| n.at);
        let shared = nodes.filter(|p| self.deck.deck.nodes.binary_search(p).is_ok());
        shared.map(|p| self.deck.plane.to_plane(p)).collect()
    }

    /// Whether the road meets a road that carries on from the deck, near its end: then it runs
    /// beside the deck, not below it.
    fn is_approach(&self) -> bool {
        let mut nodes = self.lane.road.nodes.iter();
        nodes.any(|n| self.deck.deck.approach.binary_search(&n.at).is_ok())
    }

    /// The prism of a deck that crosses; `None` where it runs along the lane instead.
    fn crossing(&self, span: usize, azimuth_deg: f64, c: &Crossing) -> Option<Crossed> {
        let (skew, right_ahead) = skew_deg(c.place.heading_deg, azimuth_deg);
        if skew.abs() > ALONG_SKEW_DEG {
            return None;
        }
        let cos = skew.to_radians().cos();
        let (left_half_m, right_half_m) = self.deck.half_widths_m(span, c.place.at, azimuth_deg);
        let (near_m, far_m) = if right_ahead { (left_half_m, right_half_m) } else { (right_half_m, left_half_m) };
        let piece_m = self.deck.along_m[span + 1] - self.deck.along_m[span];
        let to_first_m = self.deck.along_m[span] + c.share * piece_m;
        let to_last_m = self.deck.total_m() - to_first_m;
        let side = |d: f64| {
            let endless = !self.deck.has_free_ends() && d <= ABUTMENT_M;
            if endless { f64::INFINITY } else { (d * cos).max(0.5) }
        };
        let last_is_right = turn_deg(c.place.heading_deg, azimuth_deg) > 0.0;
        let (left_end_m, right_end_m) = if last_is_right { (to_first_m, to_last_m) } else { (to_last_m, to_first_m) };
        let mut overhead = self.prism(span, &c.place, to_first_m, near_m + far_m);
        overhead.start_m = c.along_m - near_m / cos;
        overhead.end_m = c.along_m + far_m / cos;
        overhead.skew_deg = skew.clamp(-MOST_SKEW_DEG, MOST_SKEW_DEG);
        (overhead.left_m, overhead.right_m) = (side(left_end_m), side(right_end_m));
        Some(Crossed { overhead, outline: self.deck.deck.spans[span].outline })
    }

    /// Prisms over the stretches where the lane lies under a deck that runs along it.
    fn along(&self) -> Vec<Crossed> {
        let mut stretches: Vec<Interval> = Vec::new();
        let mut bands: Vec<(usize, Vec<Point>)> = Vec::new();
        for (i, w) in self.deck.line.windows(2).enumerate() {
            let azimuth_deg = w[0].azimuth_deg(w[1]);
            let band = band(w[0], w[1], azimuth_deg, self.deck.half_widths_m(i, w[0].towards(w[1], 0.5), azimuth_deg));
            let under = self.path.inside(std::slice::from_ref(&band));
            let runs_along = |(a, b): &Interval| {
                self.path
                    .place((a + b) / 2.0)
                    .is_some_and(|p| skew_deg(p.heading_deg, azimuth_deg).0.abs() > ALONG_SKEW_DEG)
            };
            stretches.extend(under.into_iter().filter(runs_along));
            bands.push((i, band));
        }
        let (first_m, last_m) = self.path.span_m();
        let mut out = Vec::new();
        for (start_m, end_m) in merged(stretches, BEND_GAP_M) {
            // A short rest at the end of a segment is the beginning of the next one's stretch.
            let goes_on = start_m <= first_m || end_m >= last_m;
            if goes_on || end_m - start_m >= SHORTEST_ALONG_M {
                let slices = ((end_m - start_m) / SLICE_M).ceil().max(1.0);
                let step_m = (end_m - start_m) / slices;
                let cuts = (0..slices as u32).map(|k| start_m + f64::from(k) * step_m);
                out.extend(cuts.filter_map(|a| self.slice(&bands, a, a + step_m)));
            }
        }
        out
    }

    /// One prism of a deck that runs along the lane, with the sides at its middle.
    fn slice(&self, bands: &[(usize, Vec<Point>)], start_m: f64, end_m: f64) -> Option<Crossed> {
        let middle = self.path.place((start_m + end_m) / 2.0)?;
        let mut sides: Option<(usize, f64, f64)> = None;
        for (i, band) in bands {
            let rings = std::slice::from_ref(band);
            if contains(rings, middle.at) {
                let to = |turn: f64| ray_to_rings(rings, middle.at, middle.heading_deg + turn).map_or(0.0, |h| h.0);
                let (span, left, right) = sides.unwrap_or((*i, 0.0, 0.0));
                sides = Some((span, left.max(to(-90.0)), right.max(to(90.0))));
            }
        }
        let (span, left_m, right_m) = sides?;
        let deck_m = self.deck.along_m[span] + self.deck.line[span].distance_m(middle.at);
        let mut overhead = self.prism(span, &middle, deck_m, left_m + right_m);
        (overhead.start_m, overhead.end_m) = (start_m, end_m);
        overhead.heading_start_deg = self.path.place(start_m)?.heading_deg;
        overhead.heading_end_deg = self.path.place(end_m)?.heading_deg;
        (overhead.left_m, overhead.right_m) = (left_m.max(0.5), right_m.max(0.5));
        Some(Crossed { overhead, outline: self.deck.deck.spans[span].outline })
    }

    /// Everything of a prism that does not depend on where its edges are.
    fn prism(&self, span: usize, place: &LanePlace, deck_m: f64, width_m: f64) -> Overhead {
        let deck = self.deck.deck;
        let kind = kind_of(deck.carries);
        let underside = self.underside(kind, place, deck_m);
        Overhead {
            kind,
            osm_id: deck.spans[span].id,
            start_m: 0.0,
            end_m: 0.0,
            heading_start_deg: place.heading_deg,
            heading_end_deg: place.heading_deg,
            skew_deg: 0.0,
            left_m: f64::INFINITY,
            right_m: f64::INFINITY,
            left_closed: false,
            right_closed: false,
            clearance_m: underside.clearance_m(self.antenna_m),
            thickness_m: thickness_m(deck.carries),
            underside_above_road_m: underside.above_road_m,
            underside_from: underside.from,
            deck_width_m: width_m,
        }
    }

    /// The deck's own tag, else the sign below, else the elevation where it is clear, else the default.
    fn underside(&self, kind: OverheadKind, place: &LanePlace, deck_m: f64) -> Underside {
        let default_m = default_underside_m(self.lane.road.class, kind);
        own_underside(self.deck.deck.min_height_m)
            .or_else(|| tagged_underside(self.lane.road))
            .or_else(|| self.underside_by_elevation(place, deck_m, default_m))
            .unwrap_or(Underside::default_m(default_m))
    }

    /// The deck runs straight between the ground at its ends.
    fn underside_by_elevation(&self, place: &LanePlace, deck_m: f64, default_m: f64) -> Option<Underside> {
        if self.deck.has_free_ends() {
            return None;
        }
        let end = |p: Option<&Point>| (self.ground_m)(*p?).map(f64::from);
        let (first_m, last_m) = (end(self.deck.line.first())?, end(self.deck.line.last())?);
        let share = (deck_m / self.deck.total_m().max(1.0)).clamp(0.0, 1.0);
        let top_m = first_m + share * (last_m - first_m);
        let above_road_m = top_m - place.road_z_m? - thickness_m(self.deck.deck.carries);
        (above_road_m > default_m + ELEVATION_MARGIN_M)
            .then_some(Underside { above_road_m, from: crate::base::words::ValueFrom::Elevation })
    }
}

fn own_underside(min_height_m: Option<f32>) -> Option<Underside> {
    min_height_m.map(f64::from).filter(|h| h.is_finite() && *h > 0.0).map(Underside::tagged)
}

/// The closed ring around one piece of a deck's centre line.
fn band(p: Point, q: Point, azimuth_deg: f64, (left_m, right_m): (f64, f64)) -> Vec<Point> {
    let (l, r) = (azimuth_deg - 90.0, azimuth_deg + 90.0);
    let first = p.moved(l, left_m);
    vec![first, q.moved(l, left_m), q.moved(r, right_m), p.moved(r, right_m), first]
}

/// What of a bridge that is only drawn as an area stands over a lane.
pub(crate) fn outline_over(
    lane: &LaneOf,
    path: &LanePath,
    outline: &DeckOutline,
    rings: &[Vec<Point>],
    antenna_m: f64,
) -> Vec<Overhead> {
    if !stands_over(outline.layer, lane) {
        return Vec::new();
    }
    let kind = kind_of(outline.carries);
    let underside = own_underside(outline.min_height_m)
        .or_else(|| tagged_underside(lane.road))
        .unwrap_or(Underside::default_m(default_underside_m(lane.road.class, kind)));
    let mut out = Vec::new();
    for (start_m, end_m) in path.inside(rings) {
        let Some(shape) = outline_shape(path, rings, (start_m, end_m)) else {
            continue;
        };
        let along_m = end_m - start_m;
        let own_bridge =
            outline.layer == lane.road.layer && along_m > OWN_OUTLINE_RATIO * (shape.left_m + shape.right_m);
        if own_bridge || along_m < SHORTEST_ALONG_M {
            continue;
        }
        let side = |d: f64| if d <= ABUTMENT_M { f64::INFINITY } else { d };
        out.push(Overhead {
            kind,
            osm_id: outline.id,
            start_m,
            end_m,
            heading_start_deg: shape.heading_deg,
            heading_end_deg: shape.heading_deg,
            skew_deg: shape.skew_deg,
            left_m: side(shape.left_m),
            right_m: side(shape.right_m),
            left_closed: false,
            right_closed: false,
            clearance_m: underside.clearance_m(antenna_m),
            thickness_m: thickness_m(outline.carries),
            underside_above_road_m: underside.above_road_m,
            underside_from: underside.from,
            deck_width_m: along_m * shape.skew_deg.to_radians().cos(),
        });
    }
    out
}

/// How an outline lies over the lane.
struct OutlineShape {
    heading_deg: f64,
    skew_deg: f64,
    left_m: f64,
    right_m: f64,
}

/// Edges that differ more in direction than this give no skew, degrees.
const SAME_SKEW_DEG: f64 = 30.0;

/// Skew from the edges where the lane enters and leaves, sides from the middle along those edges.
fn outline_shape(path: &LanePath, rings: &[Vec<Point>], at: Interval) -> Option<OutlineShape> {
    let middle = path.place((at.0 + at.1) / 2.0)?;
    let heading_deg = middle.heading_deg;
    let edge = |turn: f64| {
        let hit = ray_to_rings(rings, middle.at, heading_deg + turn)?;
        Some(skew_deg(heading_deg, hit.1).0)
    };
    let (ahead, behind) = (edge(0.0)?, edge(180.0)?);
    let agree = (ahead - behind).abs() <= SAME_SKEW_DEG && ahead.abs() <= ALONG_SKEW_DEG;
    let skew = if agree { (ahead + behind) / 2.0 } else { 0.0 };
    let to = |turn: f64| {
        let azimuth_deg = normal_deg(heading_deg + skew + turn);
        ray_to_rings(rings, middle.at, azimuth_deg).map(|h| h.0 * skew.to_radians().cos())
    };
    Some(OutlineShape { heading_deg, skew_deg: skew, left_m: to(-90.0)?, right_m: to(90.0)? })
}
