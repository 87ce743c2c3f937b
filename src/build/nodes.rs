//! The ends of edges and where they lie.
use std::collections::BTreeMap;

use crate::base::geodesy::Position;
use crate::base::index::SegmentIndex;
use crate::base::words::Direction;
use crate::layer::model::NodeRow;
use crate::map::network::model::Network;

/// One row for each node at which an edge begins or ends, by id.
pub fn rows(network: &Network) -> impl Iterator<Item = NodeRow> {
    let mut at: BTreeMap<i64, Position> = BTreeMap::new();
    for edge in &network.edges {
        let line = |segment: &SegmentIndex| network.segments[segment.at()].line.as_slice();
        let (first, last) = (edge.segments.first().map(line), edge.segments.last().map(line));
        let (begin, end) = match edge.direction {
            Direction::Forward => (first.and_then(<[_]>::first), last.and_then(<[_]>::last)),
            Direction::Backward => (first.and_then(<[_]>::last), last.and_then(<[_]>::first)),
        };
        at.extend(begin.map(|p| (edge.from_node, *p)));
        at.extend(end.map(|p| (edge.to_node, *p)));
    }
    at.into_iter().map(|(node_id, at)| NodeRow { node_id, at })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::words::RoadClass;
    use crate::map::extract::model::Oneway;
    use crate::map::network::test_roads::{build_anywhere, plane, road_along};

    #[test]
    fn every_end_of_an_edge_is_there_once_and_lies_where_the_map_has_it() {
        // A road of several segments with a side road that may be driven against its node order only.
        let main = [(7, 0.0, 0.0), (3, 600.0, 0.0), (9, 600.0, 700.0)];
        let mut side = road_along(2, RoadClass::Residential, &[(5, 900.0, 0.0), (4, 800.0, 20.0), (3, 600.0, 0.0)]);
        side.oneway = Oneway::Backward;
        let roads = [road_along(1, RoadClass::Primary, &main), side];
        let network = build_anywhere(&roads);
        assert!(network.edges.iter().any(|e| e.segments.len() > 1));
        let mut ends: Vec<i64> = network.edges.iter().flat_map(|e| [e.from_node, e.to_node]).collect();
        ends.sort_unstable();
        ends.dedup();
        let rows: Vec<NodeRow> = rows(&network).collect();
        assert_eq!(rows.iter().map(|r| r.node_id).collect::<Vec<_>>(), ends);
        assert_eq!(ends, [3, 5, 7, 9]);
        let of = |id: i64| roads.iter().flat_map(|r| &r.nodes).find(|n| n.id == id).map(|n| n.at);
        assert!(rows.iter().all(|r| of(r.node_id) == Some(r.at)), "{rows:?} in {:?}", plane());
    }
}
