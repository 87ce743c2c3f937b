//! Roads for tests.
use crate::base::geodesy::{LocalPlane, Point};
use crate::base::words::RoadClass;
use crate::map::extract::model::{Road, RoadNode};
use crate::map::network::build;
use crate::map::network::cut::cut;
use crate::map::network::model::Network;
use crate::map::network::surroundings::Surroundings;
use crate::map::place::places::Places;
use crate::profile::{Cases, Profile};

/// Where test roads lie: at the southern edge of a district, in the middle of it.
pub fn plane() -> LocalPlane {
    LocalPlane::at(-28.125, 47.0)
}

/// A road without tags along the x axis from (0, 0) to (100, 0).
pub fn road(id: i64, class: RoadClass) -> Road {
    road_along(id, class, &[(1, 0.0, 0.0), (2, 100.0, 0.0)])
}

/// A road through nodes given as (id, east, north) in metres.
pub fn road_along(id: i64, class: RoadClass, nodes: &[(i64, f64, f64)]) -> Road {
    let nodes = nodes.iter().map(|&(id, x, y)| RoadNode { id, at: plane().to_position(Point::new(x, y)) }).collect();
    Road::untagged(id, class, nodes)
}

/// A roundabout of one way through the corners of a regular polygon, driven in node order.
pub fn ring(id: i64, radius_m: f64, corners: usize, clockwise: bool) -> Road {
    let turn = if clockwise { 1.0 } else { -1.0 };
    let corner = |k: usize| {
        let at = Point::default().moved(turn * 360.0 * (k % corners) as f64 / corners as f64, radius_m);
        RoadNode { id: 10_000 * id + (k % corners) as i64, at: plane().to_position(at) }
    };
    let mut road = Road::untagged(id, RoadClass::Primary, (0..=corners).map(corner).collect());
    (road.roundabout, road.oneway) = (true, crate::map::extract::model::Oneway::Forward);
    road
}

fn stated() -> Cases {
    Cases::of(&Profile::default()).expect("the keys fit the profile")
}

/// The segments and edges of roads, countries looked up, nothing known of built-up places.
pub fn cut_anywhere(roads: &[Road]) -> Network {
    let places = Places::embedded().expect("the boundaries are part of the program");
    cut(roads, &stated(), &Surroundings::of(&places))
}

/// The same with strokes.
pub fn build_anywhere(roads: &[Road]) -> Network {
    let places = Places::embedded().expect("the boundaries are part of the program");
    build(roads, &stated(), &Surroundings::of(&places))
}
