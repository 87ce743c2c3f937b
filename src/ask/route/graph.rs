//! Edges that may be used as a graph in which local ones serve only the ends of a drive.
//!
//! A drive uses local edges, then others, then local ones again. So a junction with local edges is three nodes: before
//! the first edge that is not local, among those, and after the last of them; one leads to the next for nothing.
use petgraph::algo::astar;
use petgraph::graph::{DiGraph, NodeIndex};
use petgraph::visit::{Dfs, EdgeRef, VisitMap, Visitable};

use super::cost::{Cost, Totals, Weights};
use super::snap::RouteSpot;
use super::table::{EdgeTable, RouteEdge, RouteRules};
use crate::base::index::{EdgeIndex, JunctionIndex};
use crate::base::words::RoadAccess;
use crate::map::network::local::{JunctionPair, local};

/// Whether directions of travel are kept to. They are not to find out why places are not joined.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Directions {
    /// One-way roads are driven one way.
    Kept,
    /// Every edge is driven both ways.
    Ignored,
}

/// From one node to another.
#[derive(Debug, Clone, Copy)]
struct Arc {
    time_ms: u32,
    outage_ms: u32,
    /// In the table; nothing for a step between nodes of one junction.
    edge: Option<EdgeIndex>,
}

impl Arc {
    fn new(cost: Totals, edge: Option<EdgeIndex>) -> Self {
        let ms = |v: u64| u32::try_from(v).unwrap_or(u32::MAX);
        Self { time_ms: ms(cost.time_ms), outage_ms: ms(cost.outage_ms), edge }
    }
    fn totals(&self) -> Totals {
        Totals { time_ms: self.time_ms.into(), outage_ms: self.outage_ms.into() }
    }
}

/// Where drives begin and end, at one spot.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SpotEnd {
    depart: NodeIndex,
    arrive: NodeIndex,
}

/// Junctions reached from one spot.
pub struct Reached(<DiGraph<(), Arc> as Visitable>::Map);

impl Reached {
    /// Whether a drive can end there.
    pub fn end(&self, end: SpotEnd) -> bool {
        self.0.is_visited(&end.arrive)
    }
}

/// The graph.
pub struct RouteNetwork<'a> {
    table: &'a EdgeTable,
    graph: DiGraph<(), Arc>,
    /// By junction: the first of its two further nodes, where it has local edges.
    further: Vec<Option<NodeIndex>>,
    /// By edge of the table.
    local: Vec<bool>,
    directions: Directions,
}

/// Whether each edge of the table is local. The column answers for the whole network; where edges are left out, streets
/// that hung on them alone may have become local, and whoever starts there must not be locked in.
fn local_edges(table: &EdgeTable, used: &[EdgeIndex]) -> Vec<bool> {
    let edges = table.edges();
    if used.len() == edges.len() {
        return edges.iter().map(|e| e.local).collect();
    }
    let pair = |i: &EdgeIndex| {
        let e = table.edge(*i);
        JunctionPair { from: e.from, to: e.to, open: e.access == RoadAccess::Open }
    };
    let pairs: Vec<JunctionPair> = used.iter().map(pair).collect();
    let mut by_edge = vec![false; edges.len()];
    used.iter().zip(local(table.nodes(), &pairs, None)).for_each(|(i, local)| by_edge[i.at()] = local);
    by_edge
}

/// Part of a drive.
#[derive(Clone, Copy, PartialEq)]
enum DrivePart {
    Before,
    Among,
    After,
}

/// The node of a junction at which drives are neither before nor after their edges that are not local.
fn among(junction: JunctionIndex) -> NodeIndex {
    NodeIndex::new(junction.at())
}

impl<'a> RouteNetwork<'a> {
    /// The edges that may be used under some rules.
    pub fn new(table: &'a EdgeTable, rules: &RouteRules, directions: Directions) -> Self {
        let usable = EdgeIndex::numbered(table.edges()).filter(|(_, e)| e.refusal(rules).is_none());
        let used: Vec<EdgeIndex> = usable.map(|u| u.0).collect();
        let by_edge = local_edges(table, &used);
        let mut graph = DiGraph::with_capacity(table.nodes(), used.len());
        (0..table.nodes()).for_each(|_| {
            graph.add_node(());
        });
        let mut network = Self { table, graph, further: vec![None; table.nodes()], local: by_edge, directions };
        for i in used.iter().filter(|i| network.local[i.at()]).copied().collect::<Vec<_>>() {
            let RouteEdge { from, to, .. } = *table.edge(i);
            network.open_further(from);
            network.open_further(to);
        }
        used.iter().for_each(|i| network.add_edge(*i));
        network
    }
    fn both_ways(&self) -> bool {
        self.directions == Directions::Ignored
    }
    /// Whether each edge of the table serves only the ends of a drive.
    pub fn local(&self) -> &[bool] {
        &self.local
    }
    /// Gives a junction its further nodes.
    fn open_further(&mut self, junction: JunctionIndex) {
        if self.further[junction.at()].is_none() {
            let (before, after) = (self.graph.add_node(()), self.graph.add_node(()));
            self.further[junction.at()] = Some(before);
            self.graph.add_edge(before, among(junction), Arc::new(Totals::default(), None));
            self.graph.add_edge(among(junction), after, Arc::new(Totals::default(), None));
        }
    }
    fn node(&self, junction: JunctionIndex, part: DrivePart) -> NodeIndex {
        match (self.further[junction.at()], part) {
            (Some(before), DrivePart::Before) => before,
            (Some(before), DrivePart::After) => NodeIndex::new(before.index() + 1),
            _ => among(junction),
        }
    }
    fn add_edge(&mut self, index: EdgeIndex) {
        let e = *self.table.edge(index);
        let parts: &[DrivePart] =
            if self.local[index.at()] { &[DrivePart::Before, DrivePart::After] } else { &[DrivePart::Among] };
        for part in parts {
            let (from, to) = (self.node(e.from, *part), self.node(e.to, *part));
            self.graph.add_edge(from, to, Arc::new(e.totals(), Some(index)));
            if self.both_ways() {
                self.graph.add_edge(to, from, Arc::new(e.totals(), Some(index)));
            }
        }
    }
    /// Adds a spot at which drives may begin and end.
    pub fn add(&mut self, spot: &RouteSpot) -> SpotEnd {
        let end = SpotEnd { depart: self.graph.add_node(()), arrive: self.graph.add_node(()) };
        for lane in &spot.lanes {
            let e = *self.table.edge(lane.edge);
            let local = self.local[lane.edge.at()];
            let (first, last) =
                if local { (DrivePart::Before, DrivePart::After) } else { (DrivePart::Among, DrivePart::Among) };
            let mut ends = vec![(e.to, e.from)];
            ends.extend(self.both_ways().then_some((e.from, e.to)));
            for (ahead, behind) in ends {
                self.graph.add_edge(end.depart, self.node(ahead, first), Arc::new(lane.after, Some(lane.edge)));
                self.graph.add_edge(self.node(behind, last), end.arrive, Arc::new(lane.before, Some(lane.edge)));
            }
        }
        end
    }
    /// Lets a drive go from one spot to another that lies ahead on the same edge.
    pub fn join(&mut self, from: (&RouteSpot, SpotEnd), to: (&RouteSpot, SpotEnd)) {
        let both_ways = self.both_ways();
        for a in &from.0.lanes {
            for b in to.0.lanes.iter().filter(|b| b.edge == a.edge && (b.at_m >= a.at_m || both_ways)) {
                let cost = Totals {
                    time_ms: b.before.time_ms.saturating_sub(a.before.time_ms),
                    outage_ms: b.before.outage_ms.saturating_sub(a.before.outage_ms),
                };
                self.graph.add_edge(from.1.depart, to.1.arrive, Arc::new(cost, Some(a.edge)));
            }
        }
    }
    /// Everything a drive from a spot can reach.
    pub fn reached(&self, from: SpotEnd) -> Reached {
        let mut search = Dfs::new(&self.graph, from.depart);
        while search.next(&self.graph).is_some() {}
        Reached(search.discovered)
    }
    /// The best way from one spot to another: what it costs, and its edges by their place in the table. The first and
    /// the last are driven in part; a single one from the first spot to the second.
    pub fn best(&self, from: SpotEnd, to: SpotEnd, weights: Weights) -> Option<(Totals, Vec<EdgeIndex>)> {
        self.search(from.depart, to.arrive, weights)
    }
    /// What the best way from one junction to another costs.
    pub fn between(&self, from: JunctionIndex, to: JunctionIndex, weights: Weights) -> Option<Totals> {
        self.search(self.node(from, DrivePart::Before), self.node(to, DrivePart::After), weights).map(|w| w.0)
    }
    fn search(&self, from: NodeIndex, to: NodeIndex, weights: Weights) -> Option<(Totals, Vec<EdgeIndex>)> {
        let (_, nodes) = astar(
            &self.graph,
            from,
            |n| n == to,
            |arc| weights.cost(arc.weight().totals()),
            // Edges do not know places, so nothing can be said about what is left of the way.
            |_| Cost::default(),
        )?;
        let (mut totals, mut edges) = (Totals::default(), Vec::new());
        for pair in nodes.windows(2) {
            let arcs = self.graph.edges_connecting(pair[0], pair[1]);
            let arc = *arcs.min_by_key(|a| (weights.cost(a.weight().totals()), a.id()))?.weight();
            totals += arc.totals();
            edges.extend(arc.edge);
        }
        Some((totals, edges))
    }
}
