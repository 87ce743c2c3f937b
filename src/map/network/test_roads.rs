//! Roads for tests.
use crate::base::geodesy::{LocalPlane, Point};
use crate::base::words::RoadClass;
use crate::map::extract::model::{Road, RoadNode};

/// Where test roads lie.
pub fn plane() -> LocalPlane {
    LocalPlane::at(-28.0, 47.0)
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
