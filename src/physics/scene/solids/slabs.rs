//! What stands above open space near roads: roofs on posts, and parts of buildings that start high above the ground.
//!
//! In: a building of an extract with its footprint in the plane of a cell, and the carriageways near it. Out: [`Slab`]s.
//! Over a lane they are intervals of that lane (see [`crate::physics::scene::overheads::covers`]) and not looked at from it a second time.
use crate::base::geodesy::{Point, Position};
use crate::base::index::SegmentIndex;
use crate::base::words::PerCase;
use crate::map::extract::model::Building;
use crate::physics::scene::building::{BuildingHeight, ROOF_THICKNESS_M, ROOF_UNDERSIDE_M};
use crate::physics::scene::rings::{contains, distance_to_piece_m};
use crate::physics::scene::vicinity::Vicinity;

/// A part that starts higher than this above the ground is open below, metres: lower ones are plinths and offsets of the
/// ground floor; assumed.
const OPEN_BELOW_M: f32 = 2.5;

/// A body with level underside and top over open space.
#[derive(Debug, Clone, PartialEq)]
pub struct Slab {
    /// Footprint, outer ring first, in the plane of the cell.
    pub rings: Vec<Vec<Point>>,
    /// Underside above the ground, metres.
    pub underside_m: f64,
    /// Top above the ground, metres.
    pub tops_m: PerCase<f64>,
    /// Height of the ground below it above the vertical datum, metres; `None` without elevation.
    pub base_z_m: Option<f64>,
    /// A height of it is a default, not a tag.
    pub assumed: bool,
    /// Segments that run under it, and those they lead to, ascending indices into [`crate::map::network::model::Network::segments`].
    pub over: Vec<SegmentIndex>,
}

/// Whether a building is open below.
pub(crate) fn is_slab(building: &Building) -> bool {
    building.roof_only || building.min_height_m.is_some_and(|m| m > OPEN_BELOW_M)
}

impl Slab {
    /// The slab a building is, over a footprint in the plane of the cell.
    pub fn of(
        building: &Building,
        height: BuildingHeight,
        rings: &[Vec<Point>],
        base_z_m: Option<f64>,
        roads: &Carriageways,
    ) -> Self {
        let tagged_m = building.min_height_m.map(f64::from).filter(|h| h.is_finite() && *h > 0.0);
        let BuildingHeight { height_m, low_m, high_m, tagged: height_tagged } = height;
        let (underside_m, top_m, assumed) = match (tagged_m, building.roof_only) {
            (Some(underside_m), false) => (underside_m, height_m, !height_tagged),
            (Some(underside_m), true) if height_tagged => (underside_m, height_m, false),
            (Some(underside_m), true) => (underside_m, underside_m + ROOF_THICKNESS_M, true),
            (None, _) if height_tagged => ((height_m - ROOF_THICKNESS_M).max(0.0), height_m, false),
            (None, _) => (ROOF_UNDERSIDE_M, ROOF_UNDERSIDE_M + ROOF_THICKNESS_M, true),
        };
        let tops_m = match (tagged_m, building.roof_only) {
            (Some(_), false) => PerCase { best: low_m, likely: height_m, worst: high_m },
            _ => PerCase::of(|_| top_m),
        };
        Self { rings: rings.to_vec(), underside_m, tops_m, base_z_m, assumed, over: roads.under(rings) }
    }
}

/// One carriageway: its segment, pieces of its centre line, half its width (metres) and its ends.
struct Carriageway {
    segment: SegmentIndex,
    line: Vec<Point>,
    half_m: f64,
    ends: [Option<Position>; 2],
}

/// Carriageways near a window.
pub struct Carriageways(Vec<Carriageway>);

impl Carriageways {
    /// All carriageways near a window.
    pub fn of(around: &Vicinity) -> Self {
        let carriageway = |i: &SegmentIndex| {
            let segment = around.network.segments.get(i.at())?;
            Some(Carriageway {
                segment: *i,
                line: around.line(&segment.line),
                half_m: f64::from(segment.section.width_m.value) / 2.0,
                ends: [segment.line.first().copied(), segment.line.last().copied()],
            })
        };
        Self(around.near.segments.iter().filter_map(carriageway).collect())
    }
    /// Segments whose carriageway runs through or into a footprint, and those that begin or end where they do.
    fn under(&self, rings: &[Vec<Point>]) -> Vec<SegmentIndex> {
        let touching: Vec<&Carriageway> = self.0.iter().filter(|c| c.touches(rings)).collect();
        let ends: Vec<Position> = touching.iter().flat_map(|c| c.ends).flatten().collect();
        let meets = |c: &&Carriageway| c.ends.iter().flatten().any(|end| ends.contains(end));
        self.0.iter().filter(meets).map(|c| c.segment).collect()
    }
}

impl Carriageway {
    fn touches(&self, rings: &[Vec<Point>]) -> bool {
        let edges = || rings.iter().flat_map(|ring| ring.windows(2));
        self.line.windows(2).any(|piece| {
            contains(rings, piece[0]) || edges().any(|e| pieces_closer(piece[0], piece[1], e[0], e[1], self.half_m))
        })
    }
}

/// Whether two straight pieces cross or come closer than a distance.
fn pieces_closer(a: Point, b: Point, c: Point, d: Point, distance_m: f64) -> bool {
    let side = |p: Point, q: Point, r: Point| (q.x_m - p.x_m) * (r.y_m - p.y_m) - (q.y_m - p.y_m) * (r.x_m - p.x_m);
    let cross = side(a, b, c) * side(a, b, d) < 0.0 && side(c, d, a) * side(c, d, b) < 0.0;
    cross
        || [(a, c, d), (b, c, d), (c, a, b), (d, a, b)]
            .iter()
            .any(|(p, q, r)| distance_to_piece_m(*p, *q, *r) < distance_m)
}
