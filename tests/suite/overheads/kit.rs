//! A road, decks and stations laid out in metres around one place.
use waymask::base::geodesy::{LocalPlane, Point, Position};
use waymask::base::index::RoadIndex;
use waymask::base::words::{Direction, DrivingSide, PerCase, RoadClass, ValueFrom};
use waymask::map::extract::model::*;
use waymask::map::network::model::*;
use waymask::physics::scene::overheads::cell::CellOverheads;
use waymask::physics::scene::overheads::covers::LaneOf;
use waymask::physics::scene::overheads::decks::DeckIndex;
use waymask::physics::scene::overheads::overhead::Overhead;

/// Positions are rounded to 1e-7 degrees, about 1 cm; skewed edges and angles of short pieces
/// carry a few times that.
pub const TOLERANCE_M: f64 = 0.05;
pub const TOLERANCE_DEG: f64 = 0.05;
pub const ANTENNA_M: f64 = 2.0;
/// Lane right of the centre line, metres.
pub const LANE_M: f64 = 1.75;

pub fn plane() -> LocalPlane {
    LocalPlane::at(8.6, 50.0)
}

pub fn line(points: &[(f64, f64)]) -> Vec<Position> {
    points.iter().map(|(x, y)| plane().to_position(Point::new(*x, *y))).collect()
}

pub fn ring(points: &[(f64, f64)]) -> Area {
    let mut outer = line(points);
    outer.push(outer[0]);
    Area { outer, inners: Vec::new() }
}

pub fn road(id: i64, class: RoadClass, points: &[(f64, f64)]) -> Road {
    let nodes = line(points).into_iter().zip(1..).map(|(at, k)| RoadNode { id: id * 100 + k, at }).collect();
    Road::untagged(id, class, nodes)
}

pub fn deck(id: i64, carries: DeckUse, points: &[(f64, f64)]) -> Deck {
    Deck {
        id,
        carries,
        shape: DeckShape::Line(line(points)),
        end_nodes: [id * 10 + 1, id * 10 + 2],
        width_m: Some(11.0),
        lanes: None,
        layer: 1,
        min_height_m: None,
        name: None,
    }
}

pub fn roof(id: i64, points: &[(f64, f64)]) -> Building {
    Building {
        id,
        kind: BuildingKind::Other,
        area: ring(points),
        part: false,
        roof_only: true,
        height_m: None,
        min_height_m: None,
        levels: None,
        roof_levels: None,
        roof_height_m: None,
        layer: 1,
    }
}

/// A deck 12 m wide (11 m and two parapets) crossing the x axis at `x` with a skew of `skew_deg`
/// for traffic towards east.
pub fn skewed_deck(id: i64, x: f64, skew_deg: f64) -> Deck {
    // The right normal of a line towards azimuth a points to a + 90; heading 90 plus skew.
    let (sin, cos) = skew_deg.to_radians().sin_cos();
    let h = 60.0;
    deck(id, DeckUse::Road(RoadClass::Primary), &[(x - h * sin, -h * cos), (x + h * sin, h * cos)])
}

pub fn segment(road: &Road) -> Segment {
    let line: Vec<Position> = road.nodes.iter().map(|n| n.at).collect();
    let sourced = |value| Sourced { value, from: ValueFrom::Default };
    Segment {
        road: RoadIndex::new(0),
        part: 0,
        length_m: waymask::base::geodesy::length_m(&line),
        line,
        forward: true,
        backward: true,
        section: CrossSection {
            lanes: Sourced { value: 2, from: ValueFrom::Default },
            lanes_forward: 1,
            lanes_backward: 1,
            width_m: sourced(7.0),
            free: PerCase::of(|_| FreeWidth { clear_m: 3.0, crown_gap_m: 100.0 }),
            lane_forward_m: LANE_M as f32,
            lane_backward_m: -LANE_M as f32,
            side: DrivingSide::Right,
        },
        keeps_from: waymask::base::words::SideFrom::Default,
        country: None,
        speed_forward_kmh: sourced(80.0),
        speed_backward_kmh: sourced(80.0),
        bridge: road.bridge,
        tunnel: road.tunnel,
        nodes: Vec::new(),
        edge_forward: None,
        edge_backward: None,
        stations: 2,
    }
}

/// Stations from one place to another, at most 10 m apart.
pub fn stations(from: (f64, f64), to: (f64, f64), road_z_m: Option<f32>) -> Vec<Station> {
    let (a, b) = (Point::new(from.0, from.1), Point::new(to.0, to.1));
    let length_m = a.distance_m(b);
    let steps = (length_m / 10.0).ceil() as u32;
    (0..=steps)
        .map(|k| f64::from(k) / f64::from(steps))
        .map(|t| Station { at: a.towards(b, t), along_m: t * length_m, heading_deg: a.azimuth_deg(b), road_z_m })
        .collect()
}

pub fn flat(_: Point) -> Option<f32> {
    Some(100.0)
}

/// A road towards east, 200 m long, in a world of decks and buildings.
pub struct World {
    pub road: Road,
    pub extract: Extract,
}

impl World {
    pub fn new(decks: Vec<Deck>) -> Self {
        let road = road(1, RoadClass::Motorway, &[(-100.0, 0.0), (100.0, 0.0)]);
        Self { road, extract: Extract { decks, ..Extract::default() } }
    }
    pub fn overheads(&self) -> Vec<Overhead> {
        self.on(Direction::Forward, (-100.0, 0.0), (100.0, 0.0), flat)
    }
    pub fn on(
        &self,
        direction: Direction,
        from: (f64, f64),
        to: (f64, f64),
        ground_m: fn(Point) -> Option<f32>,
    ) -> Vec<Overhead> {
        let index = DeckIndex::new(&self.extract);
        let cell = CellOverheads::new(&index, plane(), [8.5, 49.9], [8.7, 50.1], ANTENNA_M);
        let mut segment = segment(&self.road);
        let stations = stations(from, to, Some(100.0));
        segment.length_m = stations[stations.len() - 1].along_m;
        let lane = LaneOf {
            road: &self.road,
            segment: &segment,
            direction,
            stations: &stations,
            cover_before_m: 0.0,
            cover_after_m: 0.0,
        };
        cell.own(&lane, &ground_m)
    }
}

pub fn close(got: f64, want: f64, tolerance: f64) {
    assert!((got - want).abs() <= tolerance, "got {got}, expected {want}");
}
