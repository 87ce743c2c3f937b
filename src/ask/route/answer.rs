//! What a way comes to.
use std::collections::{BTreeMap, HashMap};

use serde::Serialize;

use super::journey::EdgePath;
use super::steps::Segments;
use super::table::{EdgeTable, RouteEdge};
use crate::ask::corridor::Corridor;
use crate::ask::matching::Matched;
use crate::ask::search::TownNear;
use crate::base::error::{Error, Result};
use crate::base::nearest::meant;
use crate::base::words::RoadAccess;
use crate::base::words::WayName;

/// Most roads named for a way.
const NAMED: usize = 5;

/// A place asked for and where on the road it was placed.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PlaceTaken {
    /// `from`, `via 1`, `to`.
    pub label: String,
    /// Place asked for, degrees.
    pub asked_lat_deg: f64,
    /// See `asked_lat_deg`.
    pub asked_lon_deg: f64,
    /// Name and reference of the road taken, or its class.
    pub road: String,
    /// Place on it, degrees.
    pub lat_deg: f64,
    /// See `lat_deg`.
    pub lon_deg: f64,
    /// Between the two, metres.
    pub distance_m: f64,
}

/// A road of a way.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct NamedRoad {
    /// Name and reference, or class.
    pub road: String,
    /// Length driven, metres.
    pub length_m: f64,
}

/// A way and what the layer says about it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RouteWay {
    /// From 1, the fastest.
    pub number: usize,
    /// Which it is.
    pub name: WayName,
    /// Driving time, seconds.
    pub time_s: f64,
    /// Expected seconds without a link.
    pub outage_s: f64,
    /// Driving time more than that of the fastest, seconds.
    pub longer_s: f64,
    /// Expected seconds without a link less than on the fastest.
    pub gained_s: f64,
    /// Length, metres.
    pub length_m: f64,
    /// Longest outage: the largest 95th percentile on the way, seconds.
    pub outage_p95_s: f64,
    /// Length on loose surfaces, metres.
    pub unpaved_m: f64,
    /// Length on ferries and car shuttle trains, metres.
    pub boarded_m: f64,
    /// Length on roads for those with business there, metres.
    pub destination_m: f64,
    /// Length on private roads, metres.
    pub private_m: f64,
    /// The longest of its roads.
    pub roads: Vec<NamedRoad>,
    /// Places it goes through, as driven; see [`Towns::through`](crate::ask::search::Towns::through).
    pub towns: Vec<TownNear>,
    /// Outages, worst pieces, what stands overhead.
    pub corridor: Corridor,
    /// Stretches driven; legs between places are drives 0, 1, ...
    #[serde(skip)]
    pub matched: Matched,
}

/// Everything found.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RouteAnswer {
    /// Places in the order visited.
    pub places: Vec<PlaceTaken>,
    /// Ways, fastest first.
    pub ways: Vec<RouteWay>,
    /// What the traveller should know about how places were taken.
    pub notes: Vec<String>,
}

impl RouteAnswer {
    /// Place in the list of the way that a traveller names with --way.
    ///
    /// # Errors
    /// There is no such way.
    pub fn nth(&self, name: &str) -> Result<usize> {
        // The fastest is the steadiest, too, where no other is told.
        if name == WayName::Steadiest.name() && !self.ways.is_empty() {
            return Ok(self.ways.len() - 1);
        }
        let wanted = |w: &RouteWay| w.name.name() == name || name.parse() == Ok(w.number);
        self.ways.iter().position(wanted).ok_or_else(|| {
            let fact = format!("there is no way `{name}`");
            let next = format!("take fastest, steadiest or a number from 1 to {}", self.ways.len());
            let named = [WayName::Fastest.name(), WayName::Steadiest.name()];
            Error::usage("--way", fact, meant(name, named, &next))
        })
    }
}

/// Name of the `nth` of some ways, the fastest first.
fn name(nth: usize, ways: usize) -> WayName {
    match nth {
        0 => WayName::Fastest,
        n if n + 1 == ways => WayName::Steadiest,
        _ => WayName::Between,
    }
}

/// The figures of the `nth` of some ways, the fastest first; `corridor` is that of `matched`.
pub(super) fn way_told(
    table: &EdgeTable,
    (nth, ways): (usize, &[EdgePath]),
    segments: &Segments,
    matched: Matched,
    corridor: Corridor,
) -> RouteWay {
    let (way, fastest) = (&ways[nth], &ways[0]);
    let mut edge_of: HashMap<(i64, bool), &RouteEdge> = HashMap::new();
    for index in way.legs.iter().flatten() {
        let edge = table.edge(*index);
        for row in segments.get(&edge.id).into_iter().flatten() {
            edge_of.insert((row.segment_id, edge.forward), edge);
        }
    }
    let length_m = |which: fn(&RouteEdge) -> bool| -> f64 {
        let on = matched.steps.iter().filter(|s| edge_of.get(&(s.segment_id, s.forward)).is_some_and(|e| which(e)));
        on.map(|s| s.length_m()).sum::<f64>() + 0.0
    };
    RouteWay {
        number: nth + 1,
        name: name(nth, ways.len()),
        longer_s: (way.totals.time_ms - fastest.totals.time_ms) as f64 / 1e3,
        gained_s: (fastest.totals.outage_ms - way.totals.outage_ms) as f64 / 1e3,
        time_s: way.totals.time_s(),
        outage_s: way.totals.outage_s(),
        length_m: length_m(|_| true),
        outage_p95_s: corridor.pieces.iter().map(|p| p.outage_p95_s).fold(0.0, f64::max),
        unpaved_m: length_m(|e| e.unpaved),
        boarded_m: length_m(|e| e.boarded),
        destination_m: length_m(|e| e.access == RoadAccess::Destination),
        private_m: length_m(|e| e.access == RoadAccess::Private),
        roads: named(&corridor),
        towns: Vec::new(),
        matched,
        corridor,
    }
}

fn named(corridor: &Corridor) -> Vec<NamedRoad> {
    let mut by_road: BTreeMap<&str, f64> = BTreeMap::new();
    for piece in &corridor.pieces {
        *by_road.entry(&piece.road).or_default() += piece.length_m;
    }
    let mut all: Vec<NamedRoad> =
        by_road.into_iter().map(|(road, length_m)| NamedRoad { road: road.to_owned(), length_m }).collect();
    all.sort_by(|a, b| b.length_m.total_cmp(&a.length_m));
    all.truncate(NAMED);
    all
}
