//! What stands over the lanes of a build or of a stored layer: what shadows a lane, and which of it has a row.
use super::lanes::Links;
use crate::base::index::{LaneIndex, SegmentIndex};
use crate::base::words::Direction;
use crate::physics::scene::overheads::cell::{LaneOverheads, centre_m, with_neighbours};
use crate::physics::scene::overheads::overhead::Overhead;

/// What stands over neighbours is looked for this far along the road, metres.
const REACH_M: f64 = 100.0;

/// What shadows a lane: its own overheads and those of its neighbours within reach.
pub fn shadowing(links: &Links, own: &[Vec<Overhead>], lane: LaneIndex) -> Vec<Overhead> {
    let stretch = |l: &LaneIndex| LaneOverheads { length_m: links.length_m(*l), overheads: own[l.at()].clone() };
    let before: Vec<LaneOverheads> = links.before(lane, REACH_M).iter().map(stretch).collect();
    let after: Vec<LaneOverheads> = links.after(lane, REACH_M).iter().map(stretch).collect();
    with_neighbours(&stretch(&lane), &before, &after)
}

/// Which overheads of a segment have a row, as lane and place in `own`: by the direction that is driven, forward where
/// both are, backward for what stands over that lane alone, as a footbridge that ends between the two.
pub fn listed(
    id: SegmentIndex,
    length_m: f64,
    driven: impl Iterator<Item = Direction>,
    own: &[Vec<Overhead>],
) -> Vec<(LaneIndex, usize)> {
    let mut rows = Vec::new();
    let mut taken: Vec<(f64, f64)> = Vec::new();
    for direction in driven {
        let forward = direction == Direction::Forward;
        let in_node_order =
            |o: &Overhead| if forward { (o.start_m, o.end_m) } else { (length_m - o.end_m, length_m - o.start_m) };
        let lane = id.lane(direction);
        let is_new = |o: &Overhead| !taken.iter().any(|t| is_same_place(*t, in_node_order(o)));
        let inside = |o: &Overhead| (0.0..=length_m).contains(&centre_m(o));
        rows.extend(own[lane.at()].iter().enumerate().filter(|(_, o)| inside(o) && is_new(o)).map(|(i, _)| (lane, i)));
        taken.extend(own[lane.at()].iter().map(in_node_order));
    }
    rows
}

/// Whether what stands over one lane may be the same as what stands over the other, intervals in metres.
fn is_same_place(a: (f64, f64), b: (f64, f64)) -> bool {
    // A skewed deck crosses the other lane further on: by a lane or two times the tangent of its skew.
    const APART_M: f64 = 15.0;
    a.0 < b.1 + APART_M && b.0 < a.1 + APART_M
}
