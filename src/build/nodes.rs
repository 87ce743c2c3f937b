//! The ends of edges and where they lie.
use std::collections::BTreeMap;

use crate::base::geodesy::Position;
use crate::layer::model::NodeRow;
use crate::map::network::local::ends;
use crate::map::network::model::{Edge, Network};

/// One row for each node at which some edges begin or end, by id.
pub fn rows<'n>(network: &'n Network, edges: impl Iterator<Item = &'n Edge>) -> Vec<NodeRow> {
    let mut found: BTreeMap<i64, Position> = BTreeMap::new();
    for edge in edges {
        let [begin, end] = ends(network, edge);
        found.extend(begin.map(|p| (edge.from_node, *p)));
        found.extend(end.map(|p| (edge.to_node, *p)));
    }
    found.into_iter().map(|(node_id, at)| NodeRow { node_id, at }).collect()
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
        let rows = rows(&network, network.edges.iter());
        assert_eq!(rows.iter().map(|r| r.node_id).collect::<Vec<_>>(), ends);
        assert_eq!(ends, [3, 5, 7, 9]);
        let of = |id: i64| roads.iter().flat_map(|r| &r.nodes).find(|n| n.id == id).map(|n| n.at);
        assert!(rows.iter().all(|r| of(r.node_id) == Some(r.at)), "{rows:?} in {:?}", plane());
    }
}
