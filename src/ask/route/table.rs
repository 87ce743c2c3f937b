//! The edges of a layer in the least room: what a search needs, and why some of them may not be used.
use std::collections::HashMap;

use super::cost::Totals;
use crate::base::index::{EdgeIndex, JunctionIndex};
use crate::base::words::RoadAccess;
use crate::layer::Layer;
use crate::layer::model::EdgeRow;

/// What a traveller will not or cannot drive on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RouteRules {
    /// Loose surfaces are used.
    pub unpaved: bool,
    /// Ferries and car shuttle trains are used.
    pub boarded: bool,
    /// Private roads are used, at the ends of the drive.
    pub private: bool,
    /// Roads with a lower posted clearance are not used, metres.
    pub height_m: f64,
}

impl RouteRules {
    /// Every road that the vehicle of a layer's profile fits under.
    pub fn all(layer: &Layer) -> Self {
        let height_m = layer.record().profile.vehicle.vehicle_height_m;
        Self { unpaved: true, boarded: true, private: true, height_m }
    }
}

/// One direction of travel between two junctions.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RouteEdge {
    /// Id in the layer.
    pub id: i64,
    /// In node order of its way.
    pub forward: bool,
    /// Junction it begins at.
    pub from: JunctionIndex,
    /// Junction it ends at.
    pub to: JunctionIndex,
    /// Driving time, milliseconds.
    time_ms: u32,
    /// Time without a link, milliseconds.
    outage_ms: u32,
    /// Posted clearance, centimetres; the largest number where none is posted.
    clearance_cm: u16,
    /// Loose surface.
    pub unpaved: bool,
    /// Ferry or car shuttle train.
    pub boarded: bool,
    /// Who may drive there.
    pub access: RoadAccess,
    /// Serves only the ends of a drive, with every edge in use.
    pub local: bool,
}

/// Why an edge is not used.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Refusal {
    /// Loose surface.
    Unpaved,
    /// Ferry or car shuttle train.
    Boarded,
    /// Private.
    Private,
    /// Posted lower than the vehicle.
    Low,
}

impl RouteEdge {
    /// What it costs.
    pub(crate) fn totals(&self) -> Totals {
        Totals { time_ms: self.time_ms.into(), outage_ms: self.outage_ms.into() }
    }
    /// Why it is not used under some rules; nothing if it is.
    pub fn refusal(&self, rules: &RouteRules) -> Option<Refusal> {
        let reasons = [
            (f64::from(self.clearance_cm) < rules.height_m * 100.0 - 0.5, Refusal::Low),
            (self.boarded && !rules.boarded, Refusal::Boarded),
            (self.unpaved && !rules.unpaved, Refusal::Unpaved),
            (self.access == RoadAccess::Private && !rules.private, Refusal::Private),
        ];
        reasons.into_iter().find(|r| r.0).map(|r| r.1)
    }
}

/// All edges, and the junctions they join.
#[derive(Debug, Default)]
pub struct EdgeTable {
    edges: Vec<RouteEdge>,
    nodes: HashMap<i64, JunctionIndex>,
}

impl EdgeTable {
    /// Adds a row, which must have a larger id than the one before.
    pub fn add(&mut self, row: &EdgeRow) {
        let mut number = |node: i64| {
            let next = JunctionIndex::new(self.nodes.len());
            *self.nodes.entry(node).or_insert(next)
        };
        let (from, to) = (number(row.from_node), number(row.to_node));
        let cost = Totals::of_seconds(row.time_s, row.outage_s);
        let ms = |v: u64| u32::try_from(v).unwrap_or(u32::MAX);
        self.edges.push(RouteEdge {
            id: row.edge_id,
            forward: row.forward,
            from,
            to,
            time_ms: ms(cost.time_ms),
            outage_ms: ms(cost.outage_ms),
            clearance_cm: row.maxheight_m.map_or(u16::MAX, |m| (m * 100.0).round() as u16),
            unpaved: row.unpaved,
            boarded: row.highway.is_boarded(),
            access: row.access,
            local: row.local,
        });
    }
    /// All edges, by id.
    pub fn edges(&self) -> &[RouteEdge] {
        &self.edges
    }
    /// Number of junctions.
    pub fn nodes(&self) -> usize {
        self.nodes.len()
    }
    /// An edge by its place.
    pub(crate) fn edge(&self, place: EdgeIndex) -> &RouteEdge {
        &self.edges[place.at()]
    }
    /// A junction by its id in the layer.
    pub fn node(&self, id: i64) -> Option<JunctionIndex> {
        self.nodes.get(&id).copied()
    }
    /// Place of an edge in [`EdgeTable::edges`] by its id in the layer.
    pub fn index(&self, edge_id: i64) -> Option<EdgeIndex> {
        self.edges.binary_search_by_key(&edge_id, |e| e.id).ok().map(EdgeIndex::new)
    }
}
