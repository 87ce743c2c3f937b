//! Ids that the rows of a district have: its own segments, edges and nodes count from 1.
use crate::base::district::District;
use crate::base::index::{EdgeIndex, LaneIndex, SegmentIndex};
use crate::layer::part::{FarSegment, LaneRef, SegmentRef};
use crate::map::extract::model::Road;
use crate::map::network::model::{Edge, Network};
use crate::map::network::stroke::district_of;

/// Ids by index of the network; nothing for what has no row here.
pub(crate) struct RowIds {
    district: District,
    segments: Vec<Option<i64>>,
    edges: Vec<Option<i64>>,
    /// Edges that begin here, then the others of which segments lie here, in the order of their ids.
    used: Vec<EdgeIndex>,
    own_edges: usize,
}

impl RowIds {
    /// Of a network of which one district is rated.
    pub fn of(network: &Network, district: District) -> Self {
        let mut next = 0;
        let segments: Vec<Option<i64>> = SegmentIndex::numbered(&network.segments)
            .map(|(id, _)| {
                (district_of(network, id) == district).then(|| {
                    next += 1;
                    next
                })
            })
            .collect();
        let has_own = |edge: &Edge| edge.segments.iter().any(|s| segments[s.at()].is_some());
        let all = || EdgeIndex::numbered(&network.edges).filter(|(_, edge)| has_own(edge));
        let begins_here = |edge: &Edge| lowest(edge).is_some_and(|s| segments[s.at()].is_some());
        let mut used: Vec<EdgeIndex> = all().filter(|(_, edge)| begins_here(edge)).map(|(id, _)| id).collect();
        let own_edges = used.len();
        used.extend(all().filter(|(_, edge)| !begins_here(edge)).map(|(id, _)| id));
        let mut edges = vec![None; network.edges.len()];
        for (id, row_id) in used.iter().zip(1..) {
            edges[id.at()] = Some(row_id);
        }
        Self { district, segments, edges, used, own_edges }
    }
    /// The district.
    pub fn district(&self) -> District {
        self.district
    }
    /// Whether a segment is rated here.
    pub fn is_own(&self, id: SegmentIndex) -> bool {
        self.segments[id.at()].is_some()
    }
    /// Segments that are rated here, in order.
    pub fn own(&self) -> impl Iterator<Item = SegmentIndex> + '_ {
        (0..self.segments.len()).map(SegmentIndex::new).filter(|id| self.is_own(*id))
    }
    /// Id of the row of a segment; 0 for one that has none.
    pub fn segment(&self, id: SegmentIndex) -> i64 {
        self.segments[id.at()].unwrap_or(0)
    }
    /// Id of the row of a lane; 0 for one that has none.
    pub fn lane(&self, lane: LaneIndex) -> i64 {
        match self.segments[lane.segment().at()] {
            Some(id) => 2 * id - i64::from(lane.direction().is_forward()),
            None => 0,
        }
    }
    /// Id of the row of an edge; 0 for one that has none.
    pub fn edge(&self, id: EdgeIndex) -> i64 {
        self.edges[id.at()].unwrap_or(0)
    }
    /// Edges with rows, in the order of their ids.
    pub fn edges(&self) -> &[EdgeIndex] {
        &self.used
    }
    /// How many of them begin here.
    pub fn own_edges(&self) -> usize {
        self.own_edges
    }
    /// Segments of an edge that are rated here.
    pub fn own_of(&self, edge: &Edge) -> Vec<SegmentIndex> {
        edge.segments.iter().copied().filter(|s| self.is_own(*s)).collect()
    }
    /// Whether some segments of an edge lie in another district.
    pub fn crosses(&self, edge: &Edge) -> bool {
        !edge.segments.iter().all(|s| self.is_own(*s))
    }
    /// A segment as other parts know it.
    pub fn far(&self, network: &Network, roads: &[Road], id: SegmentIndex) -> FarSegment {
        let segment = &network.segments[id.at()];
        FarSegment { district: district_of(network, id), way_id: roads[segment.road.at()].id, part: segment.part }
    }
    /// A lane by its row here, or as other parts know it.
    pub fn lane_ref(&self, network: &Network, roads: &[Road], lane: LaneIndex) -> LaneRef {
        let id = lane.segment();
        let segment = match self.segments[id.at()] {
            Some(own) => SegmentRef::Own(own),
            None => SegmentRef::Far(self.far(network, roads, id)),
        };
        LaneRef { segment, forward: lane.direction().is_forward() }
    }
}

/// The segment of an edge that comes first in its way: the district of that one has the edge.
pub(crate) fn lowest(edge: &Edge) -> Option<SegmentIndex> {
    edge.segments.iter().copied().min()
}
