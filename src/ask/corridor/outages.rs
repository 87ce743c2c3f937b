//! Outages of a drive, each once: from the layer's outages, as far as they are driven.
use std::collections::{BTreeMap, HashMap};

use super::model::{DrivenOutage, Piece};
use crate::base::words::{Cause, Rating};
use crate::layer::model::OutageRow;

/// A direction of a segment: its id, and whether it is driven in node order.
pub type LaneId = (i64, bool);

/// A mouth of a tunnel lies where one stroke ends and another begins: tunnels that follow each other are one outage.
const COVERED: Cause = Cause::Cover;

/// The outages of a drive as driven, `of_lane` being the layer's. A piece that none of them holds and that has outages all the same
/// is told with its neighbours of the same cause.
pub fn driven_outages(
    pieces: &[Piece],
    of_lane: &HashMap<LaneId, OutageRow>,
    steady_outage_s: f64,
) -> Vec<DrivenOutage> {
    let row = |p: &Piece| of_lane.get(&(p.segment_id, p.forward));
    let counts = |p: &Piece| row(p).is_some() || p.outage_p95_s > steady_outage_s;
    let cause = |p: &Piece| row(p).map_or(p.cause, |row| row.cause);
    let same = |a: &Piece, b: &Piece| {
        let rows = (row(a).map(|r| r.outage_id), row(b).map(|r| r.outage_id));
        let one = rows.0 == rows.1 || (cause(a), cause(b)) == (COVERED, COVERED);
        a.drive == b.drive && counts(a) && counts(b) && one && (rows.0.is_some() || cause(a) == cause(b))
    };
    let mut first = 0;
    let mut out = Vec::new();
    for group in pieces.chunk_by(|a, b| same(a, b)) {
        if counts(&group[0]) {
            out.push(DrivenOutage { first, end: first + group.len(), ..outage(group, &row, cause(&group[0])) });
        }
        first += group.len();
    }
    out
}

fn outage<'r>(group: &[Piece], row: &dyn Fn(&Piece) -> Option<&'r OutageRow>, cause: Cause) -> DrivenOutage {
    let sum = |f: fn(&Piece) -> f64| group.iter().map(f).sum::<f64>();
    let first = &group[0];
    let worst = group.iter().rev().max_by(|a, b| a.outage_p95_s.total_cmp(&b.outage_p95_s)).unwrap_or(first);
    // Outages that follow one another without a link between them last as long as all of them.
    let mut longest_s: BTreeMap<Option<i64>, f64> = BTreeMap::new();
    for p in group {
        let longest_s = longest_s.entry(row(p).map(|r| r.outage_id)).or_default();
        *longest_s = longest_s.max(p.outage_p95_s);
    }
    DrivenOutage {
        at_km: first.at_km,
        to_km: first.at_km + sum(|p| p.length_m) / 1e3,
        lon_deg: first.lon_deg,
        lat_deg: first.lat_deg,
        road: worst.road.clone(),
        length_m: sum(|p| p.length_m),
        time_s: sum(|p| p.time_s),
        outage_s: sum(|p| p.outage_s),
        outage_p95_s: longest_s.values().sum(),
        rating: group.iter().map(|p| p.rating).max().unwrap_or(Rating::Steady),
        cause,
        ..DrivenOutage::default()
    }
}

/// Places of the worst outages in their list, worst first.
pub fn worst_outages(outages: &[DrivenOutage]) -> Vec<usize> {
    let mut order: Vec<usize> = (0..outages.len()).collect();
    order.sort_by(|a, b| {
        let (a, b) = (&outages[*a], &outages[*b]);
        let by_length = b.outage_p95_s.total_cmp(&a.outage_p95_s);
        b.rating.cmp(&a.rating).then(by_length).then(b.outage_s.total_cmp(&a.outage_s)).then(a.first.cmp(&b.first))
    });
    order
}
