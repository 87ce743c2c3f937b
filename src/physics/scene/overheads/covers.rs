//! Covers along a lane: tunnels, passages, galleries and covered stretches tagged on the road, and
//! roofs drawn as areas above it.
//!
//! In: one segment and direction as [`LaneOf`]. Out: [`Overhead`]s in the coordinate of that lane,
//! metres. Heights are above the road, clearances above the antenna. Decks that cross are made in
//! [`super::crossings`].
use super::overhead::Overhead;
use crate::base::geodesy::Point;
use crate::base::words::{Direction, OverheadKind, ValueFrom};
use crate::map::extract::model::{Building, Road, TunnelKind};
use crate::map::network::model::{Segment, Station};
use crate::physics::scene::building::{ROOF_THICKNESS_M, ROOF_UNDERSIDE_M, height_or};
use crate::physics::scene::lane_path::LanePath;
use crate::physics::scene::rings::ray_to_rings;

/// The antenna never comes closer to an underside than this, metres: a vehicle that touches does
/// not drive there, so a smaller figure is a slip in the map.
pub(crate) const LEAST_CLEARANCE_M: f64 = 0.2;
/// A posted limit lies below the real underside by about 0.1 to 0.3 m (common practice, no source).
const POSTED_MARGIN_M: f64 = 0.2;
/// Posted limits outside this range say nothing about an underside on a road, metres.
const PLAUSIBLE_LIMIT_M: std::ops::RangeInclusive<f64> = 1.8..=30.0;
/// Headroom maintained in tunnels, metres (PIARC road tunnels manual, vertical clearance: 4.50 m in Europe).
const TUNNEL_UNDERSIDE_M: f64 = 4.5;
/// Headroom of a passage through a building where silent, metres (assumed).
const PASSAGE_UNDERSIDE_M: f64 = 4.0;
/// From carriageway edge to tunnel wall, metres (assumed: a walkway).
const WALL_BESIDE_M: f64 = 1.0;
/// Half width of a covered stretch no roof is drawn for, metres (assumed).
const COVERED_HALF_M: f64 = 6.0;
/// Head wall above a portal, metres (assumed).
const TUNNEL_THICKNESS_M: f64 = 2.0;
/// One storey above a passage, metres (common practice, no source).
const PASSAGE_THICKNESS_M: f64 = 3.0;
/// Slab of a gallery, metres (assumed).
const GALLERY_THICKNESS_M: f64 = 1.0;
/// A lane touching a footprint for less than this is not under the roof, metres.
const SHORTEST_ROOF_M: f64 = 0.5;

/// The lane of one segment in one direction, with what is known of the road.
#[derive(Debug, Clone, Copy)]
pub struct LaneOf<'a> {
    /// The road.
    pub road: &'a Road,
    /// The piece of it.
    pub segment: &'a Segment,
    /// Direction driven.
    pub direction: Direction,
    /// Stations in the order driven, in the plane of the cell.
    pub stations: &'a [Station],
    /// How far the same tunnel, gallery or covered stretch runs on before the segment, metres
    /// (see [`cover_runs`]); 0 where it does not or is not known.
    pub cover_before_m: f64,
    /// The same beyond its end.
    pub cover_after_m: f64,
}

impl LaneOf<'_> {
    /// From the lane to the edges of the carriageway, metres: left and right of travel.
    pub(crate) fn to_edges_m(self) -> (f64, f64) {
        let section = &self.segment.section;
        let right_of_centre_m = match self.direction {
            Direction::Forward => f64::from(section.lane_forward_m),
            Direction::Backward => -f64::from(section.lane_backward_m),
        };
        let half_m = f64::from(section.width_m.value) / 2.0;
        ((half_m + right_of_centre_m).max(0.5), (half_m - right_of_centre_m).max(0.5))
    }
}

/// Whether something of a `layer` stands over the road where they cross without a shared node.
pub(crate) fn stands_over(layer: i8, lane: &LaneOf) -> bool {
    if lane.segment.bridge || lane.road.bridge { layer > lane.road.layer } else { layer >= lane.road.layer }
}

/// A cover tagged on the road, with sides as seen in the direction driven.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CoverTag {
    /// A closed tunnel.
    Tunnel,
    /// A passage through a building.
    Passage,
    /// A gallery.
    Gallery {
        /// Open to the left of travel.
        open_left: bool,
        /// Open to the right of travel.
        open_right: bool,
    },
    /// `covered=yes`.
    Covered,
}

/// The cover tagged on a segment, if any.
pub fn cover_tag(road: &Road, segment: &Segment, direction: Direction) -> Option<CoverTag> {
    Some(match segment.tunnel {
        Some(TunnelKind::Tunnel) => CoverTag::Tunnel,
        Some(TunnelKind::Passage) => CoverTag::Passage,
        Some(TunnelKind::Gallery { open_left, open_right }) => match direction {
            Direction::Forward => CoverTag::Gallery { open_left, open_right },
            Direction::Backward => CoverTag::Gallery { open_left: open_right, open_right: open_left },
        },
        None if road.covered => CoverTag::Covered,
        None => return None,
    })
}

/// For consecutive pieces in the order driven (cover and length, metres): how far the cover of each
/// runs on before and after it, metres, as (before, after).
pub fn cover_runs(pieces: &[(Option<CoverTag>, f64)]) -> Vec<(f64, f64)> {
    let mut out = vec![(0.0, 0.0); pieces.len()];
    for i in 1..pieces.len() {
        if pieces[i].0.is_some() && pieces[i].0 == pieces[i - 1].0 {
            out[i].0 = out[i - 1].0 + pieces[i - 1].1;
        }
    }
    for i in (1..pieces.len()).rev() {
        if pieces[i].0.is_some() && pieces[i].0 == pieces[i - 1].0 {
            out[i - 1].1 = out[i].1 + pieces[i].1;
        }
    }
    out
}

/// An underside above the road and where it came from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Underside {
    /// Metres above the road.
    pub above_road_m: f64,
    /// Where it came from.
    pub from: ValueFrom,
}

impl Underside {
    /// From a tag.
    pub fn tagged(above_road_m: f64) -> Self {
        Self { above_road_m, from: ValueFrom::Tag }
    }
    /// A default.
    pub fn default_m(above_road_m: f64) -> Self {
        Self { above_road_m, from: ValueFrom::Default }
    }
    /// Above the antenna, metres.
    pub fn clearance_m(&self, antenna_m: f64) -> f64 {
        (self.above_road_m - antenna_m).max(LEAST_CLEARANCE_M)
    }
}

/// The underside a road's own tags tell: measured, else posted with the sign's margin.
pub(crate) fn tagged_underside(road: &Road) -> Option<Underside> {
    let plausible = |h: &f64| PLAUSIBLE_LIMIT_M.contains(h);
    let measured = road.maxheight_physical_m.map(f64::from).filter(plausible);
    let posted = road.maxheight_m.map(f64::from).filter(plausible).map(|h| h + POSTED_MARGIN_M);
    measured.or(posted).map(Underside::tagged)
}

/// The prism of the cover tagged on the road, over the whole run it belongs to.
///
/// `antenna_m` is the height of the antenna above the road. Positions before 0 and beyond the
/// segment's length are the run's real portals.
pub(crate) fn tagged_cover(lane: &LaneOf, path: &LanePath, antenna_m: f64) -> Option<Overhead> {
    let tag = cover_tag(lane.road, lane.segment, lane.direction)?;
    let (left_m, right_m) = lane.to_edges_m();
    let default_m = match tag {
        CoverTag::Passage => PASSAGE_UNDERSIDE_M,
        _ => TUNNEL_UNDERSIDE_M,
    };
    let underside = tagged_underside(lane.road).unwrap_or(Underside::default_m(default_m));
    let mut prism = tunnel_prism(lane, path, underside, antenna_m)?;
    prism.left_m = left_m + WALL_BESIDE_M;
    prism.right_m = right_m + WALL_BESIDE_M;
    match tag {
        CoverTag::Tunnel => {}
        CoverTag::Passage => {
            prism.kind = OverheadKind::Passage;
            prism.thickness_m = PASSAGE_THICKNESS_M;
        }
        CoverTag::Gallery { open_left, open_right } => {
            prism.kind = OverheadKind::Gallery;
            prism.thickness_m = GALLERY_THICKNESS_M;
            (prism.left_closed, prism.right_closed) = (!open_left, !open_right);
        }
        CoverTag::Covered => {
            prism.kind = OverheadKind::Roof;
            prism.thickness_m = ROOF_THICKNESS_M;
            (prism.left_m, prism.right_m) = (COVERED_HALF_M, COVERED_HALF_M);
            (prism.left_closed, prism.right_closed) = (false, false);
        }
    }
    Some(prism)
}

/// A closed tunnel from `cover_before_m` before the segment to `cover_after_m` beyond it.
fn tunnel_prism(lane: &LaneOf, path: &LanePath, underside: Underside, antenna_m: f64) -> Option<Overhead> {
    let length_m = lane.segment.length_m;
    let (before_m, after_m) = (lane.cover_before_m, lane.cover_after_m);
    let (start_m, end_m) = (-before_m, length_m + after_m);
    Some(Overhead {
        kind: OverheadKind::Tunnel,
        osm_id: lane.road.id,
        start_m,
        end_m,
        heading_start_deg: path.place(0.0)?.heading_deg,
        heading_end_deg: path.place(length_m)?.heading_deg,
        skew_deg: 0.0,
        left_m: 0.0,
        right_m: 0.0,
        left_closed: true,
        right_closed: true,
        clearance_m: underside.clearance_m(antenna_m),
        thickness_m: TUNNEL_THICKNESS_M,
        underside_above_road_m: underside.above_road_m,
        underside_from: underside.from,
        deck_width_m: end_m - start_m,
    })
}

/// The stretches of a lane under one roof or building that starts above the road; `rings` is its
/// footprint in the plane of the cell, outer ring first.
pub(crate) fn roofs_over(
    lane: &LaneOf,
    path: &LanePath,
    roof: &Building,
    rings: &[Vec<Point>],
    antenna_m: f64,
) -> Vec<Overhead> {
    let underside = roof_underside(lane.road, roof);
    path.inside(rings)
        .into_iter()
        .filter(|(start, end)| end - start >= SHORTEST_ROOF_M)
        .filter_map(|(start_m, end_m)| {
            let middle = path.place((start_m + end_m) / 2.0)?;
            let side = |turn_deg: f64| ray_to_rings(rings, middle.at, middle.heading_deg + turn_deg).map(|hit| hit.0);
            Some(Overhead {
                kind: OverheadKind::Roof,
                osm_id: roof.id,
                start_m,
                end_m,
                heading_start_deg: path.place(start_m)?.heading_deg,
                heading_end_deg: path.place(end_m)?.heading_deg,
                skew_deg: 0.0,
                left_m: side(-90.0)?,
                right_m: side(90.0)?,
                left_closed: false,
                right_closed: false,
                clearance_m: underside.clearance_m(antenna_m),
                thickness_m: thickness_m(roof),
                underside_above_road_m: underside.above_road_m,
                underside_from: underside.from,
                deck_width_m: end_m - start_m,
            })
        })
        .collect()
}

/// From underside to top: by the tags of both, storeys above a passage included; else that of a roof.
fn thickness_m(roof: &Building) -> f64 {
    let own_m = roof.min_height_m.map(f64::from).filter(|h| h.is_finite() && *h > 0.0);
    let top = height_or(roof, 0.0);
    match own_m {
        Some(underside_m) if top.tagged || !roof.roof_only => top.height_m - underside_m,
        _ => ROOF_THICKNESS_M,
    }
}

/// Underside of a roof: its own, else what the road's sign says, else its top less the roof, else
/// the default.
fn roof_underside(road: &Road, roof: &Building) -> Underside {
    if let Some(h) = roof.min_height_m.filter(|h| h.is_finite() && *h > 0.0) {
        return Underside::tagged(f64::from(h));
    }
    let top_m = roof.height_m.map(f64::from).filter(|h| h.is_finite() && *h > 2.0);
    tagged_underside(road)
        .or(top_m.map(|h| Underside::tagged(h - ROOF_THICKNESS_M)))
        .unwrap_or(Underside::default_m(ROOF_UNDERSIDE_M))
}
