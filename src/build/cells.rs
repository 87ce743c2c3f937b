//! The region cut into square cells, each with the segments whose middle lies in it.
use std::collections::BTreeMap;

use crate::base::geodesy::{LocalPlane, Position};
use crate::base::index::SegmentIndex;
use crate::map::extract::model::StopPlace;
use crate::map::network::model::Network;
use crate::physics::scene::rings::line_on_plane;
use crate::physics::scene::trees::canopy::TreeView;

/// The farthest of them.
pub(crate) const FARTHEST_M: f64 = 60.0;

/// Height of a cell in latitude, degrees (about 2.2 km).
const CELL_DEG: f64 = 0.02;

/// One square of the region.
#[derive(Debug, Clone)]
pub struct Cell {
    /// Plane with its origin in the middle of the cell.
    pub plane: LocalPlane,
    /// Half its side, metres, with room for every station of its segments and all that is looked at around its places to stop.
    pub half_size_m: f64,
    /// Segments whose middle lies in it, in order.
    pub segments: Vec<SegmentIndex>,
    /// Places to stop that lie in it, in order.
    pub stops: Vec<u32>,
}

/// Lanes lie this far from the middle of their road at most, metres; with room to spare.
const LANE_ROOM_M: f64 = 30.0;
/// A vehicle stands, and is moved, this far from where a place is drawn at most, metres.
const MOVED_M: f64 = 100.0;

impl Cell {
    /// From where trees are looked at: roads, and places to stop with all that is looked at around them. They are seen
    /// from `reach_m` away.
    pub fn tree_views(&self, network: &Network, stops: &[StopPlace], reach_m: f64) -> Vec<TreeView> {
        let roads = self.segments.iter().filter_map(|id| network.segments.get(id.at()));
        let roads = roads.map(|s| (line_on_plane(&self.plane, &s.line), LANE_ROOM_M));
        let places = self.stops.iter().filter_map(|id| stops.get(*id as usize));
        let places = places.map(|s| (vec![self.plane.to_plane(s.at)], MOVED_M + FARTHEST_M));
        roads.chain(places).map(|(line, aside_m)| TreeView { line, reach_m: aside_m + reach_m }).collect()
    }
}

/// Row and column of the cell a position lies in. Columns widen towards the poles so that cells stay square.
fn key(p: Position) -> (i32, i32) {
    let row = (p.lat_deg() / CELL_DEG).floor() as i32;
    (row, (p.lon_deg() / width_deg(row)).floor() as i32)
}

fn width_deg(row: i32) -> f64 {
    let middle_deg = (f64::from(row) + 0.5) * CELL_DEG;
    CELL_DEG / middle_deg.to_radians().cos().max(0.01)
}

/// All cells with some of a network's segments or places to stop, south to north, west to east. How large a cell is depends on
/// nothing but where it lies and on `longest_m`, the longest segment.
pub fn cells(
    network: &Network,
    segments: impl Iterator<Item = SegmentIndex>,
    stops: &[StopPlace],
    longest_m: f64,
) -> Vec<Cell> {
    let mut by_key: BTreeMap<(i32, i32), (Vec<SegmentIndex>, Vec<u32>)> = BTreeMap::new();
    for id in segments {
        by_key.entry(key(network.segments[id.at()].middle())).or_default().0.push(id);
    }
    for (i, stop) in stops.iter().enumerate() {
        by_key.entry(key(stop.at)).or_default().1.push(i as u32);
    }
    by_key
        .into_iter()
        .map(|((row, column), (segments, in_cell))| {
            let lat = (f64::from(row) + 0.5) * CELL_DEG;
            let lon = (f64::from(column) + 0.5) * width_deg(row);
            let plane = LocalPlane::at(lon, lat);
            let corner = |south_north: f64| {
                let at = Position::from_deg(lon + width_deg(row) / 2.0, lat + south_north * CELL_DEG / 2.0);
                let p = plane.to_plane(at);
                p.x_m.abs().max(p.y_m.abs())
            };
            // A segment reaches no farther from its middle than half its length; lanes, and where a vehicle is moved to and the
            // panel set down, need room.
            let room_m = (longest_m / 2.0 + LANE_ROOM_M).max(MOVED_M + FARTHEST_M);
            let half_size_m = corner(-1.0).max(corner(1.0)) + room_m;
            Cell { plane, half_size_m, segments, stops: in_cell }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::words::RoadClass;
    use crate::map::network::test_roads::{build_anywhere, road_along};

    #[test]
    fn every_segment_is_in_one_cell_that_holds_it() {
        let road = road_along(1, RoadClass::Primary, &[(1, 0.0, 0.0), (2, 9000.0, 3000.0), (3, -4000.0, 8000.0)]);
        let network = build_anywhere(&[road]);
        let all = (0..network.segments.len()).map(SegmentIndex::new);
        let cells = cells(&network, all, &[], 250.0);
        assert!(cells.len() > 5);
        let mut seen: Vec<SegmentIndex> = cells.iter().flat_map(|c| c.segments.clone()).collect();
        seen.sort();
        assert_eq!(seen, (0..network.segments.len()).map(SegmentIndex::new).collect::<Vec<_>>());
        for cell in &cells {
            let far = |p: &Position| {
                let p = cell.plane.to_plane(*p);
                p.x_m.abs().max(p.y_m.abs())
            };
            let lines = cell.segments.iter().flat_map(|s| &network.segments[s.at()].line);
            assert!(lines.map(far).fold(0.0, f64::max) + LANE_ROOM_M <= cell.half_size_m);
            assert!(cell.half_size_m < 1_120.0 + 165.0, "{}", cell.half_size_m);
        }
    }
}
