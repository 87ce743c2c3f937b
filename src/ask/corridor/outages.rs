//! Outages of a drive, each once: from the layer's outages, as far as they are driven.
use std::collections::{BTreeMap, HashMap};

use super::model::{Corridor, DrivenOutage, Piece};
use crate::base::words::{Cause, Rating};
use crate::layer::model::OutageRow;

/// A direction of a segment: its id, and whether it is driven in node order.
pub type LaneId = (i64, bool);

/// Tunnels, ferries and shuttle trains may be cut where one stroke ends and another begins: those that follow each other are one
/// outage.
const WHOLE: [Cause; 2] = [Cause::Cover, Cause::Boarded];
/// Metres of an outage's road that may be missing where all of it is driven.
const WHOLE_M: f64 = 5.0;

/// The outages of a drive as driven, `of_lane` being the layer's. A piece that none of them holds and that has outages all the same
/// is reported with its neighbours of the same cause.
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
        let one = rows.0 == rows.1 || cause(a) == cause(b) && WHOLE.contains(&cause(a));
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
    // One that is driven through in part lasts no longer than that part takes: its road is left, or was not driven before.
    for (outage, longest_s) in &mut longest_s {
        let own = || group.iter().filter(|p| row(p).map(|r| r.outage_id) == *outage);
        let (driven_m, driven_s) = own().fold((0.0, 0.0), |sum, p| (sum.0 + p.length_m, sum.1 + p.time_s));
        if own().find_map(row).is_some_and(|r| driven_m < r.length_m - WHOLE_M) {
            *longest_s = longest_s.min(driven_s);
        }
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

/// Places in their list of the worst outages that matter to a meeting, at most `most`, in the order driven: the n-th gets the number n + 1 wherever
/// outages of a drive have numbers.
pub fn numbered_outages(drive: &Corridor, most: usize) -> Vec<usize> {
    let mut order = worst_outages(&drive.outages);
    order.retain(|nth| drive.matters(&drive.outages[*nth]));
    order.truncate(most);
    order.sort_unstable();
    order
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_outage_is_told_once_and_tunnels_that_follow_each_other_are_one() {
        // Segment, p95, cause, outage of the layer. The tunnel is cut where one stroke ends and the next begins.
        let of = [
            (1, 0.0, Cause::None, None),
            (2, 30.0, Cause::Cover, Some(7)),
            (3, 30.0, Cause::Cover, Some(7)),
            (4, 12.0, Cause::Cover, Some(8)),
            (5, 6.0, Cause::Canopy, Some(9)),
            (6, 4.0, Cause::Canopy, Some(10)),
            // Not in the layer's table: told by the segments themselves.
            (7, 3.0, Cause::Building, None),
            (8, 2.5, Cause::Building, None),
            (9, 0.2, Cause::Deck, None),
            // A hundred metres of half a kilometre that is dark for a minute.
            (10, 60.0, Cause::Canopy, Some(11)),
        ];
        let piece = |nth: usize| Piece {
            segment_id: of[nth].0,
            forward: true,
            at_km: 0.1 * nth as f64,
            length_m: 100.0,
            time_s: 5.0,
            outage_s: of[nth].1 / 10.0,
            outage_p95_s: of[nth].1,
            cause: of[nth].2,
            ..Piece::default()
        };
        let pieces: Vec<Piece> = (0..of.len()).map(piece).collect();
        let row = |outage_id: i64, cause: Cause| OutageRow {
            outage_id,
            cause,
            length_m: if outage_id == 11 { 500.0 } else { 0.0 },
            ..OutageRow::default()
        };
        let of_lane = of.iter().filter_map(|(id, _, cause, outage)| outage.map(|o| ((*id, true), row(o, *cause))));
        let told = driven_outages(&pieces, &of_lane.collect(), 0.3);
        let rows: Vec<_> = told.iter().map(|o| (o.first, o.end, o.cause, o.outage_p95_s)).collect();
        let expected = [
            (1, 4, Cause::Cover, 42.0),
            (4, 5, Cause::Canopy, 6.0),
            (5, 6, Cause::Canopy, 4.0),
            (6, 8, Cause::Building, 3.0),
            (9, 10, Cause::Canopy, 5.0),
        ];
        assert_eq!(rows, expected);
        assert!((told[0].at_km - 0.1).abs() < 1e-9 && (told[0].to_km - 0.4).abs() < 1e-9);
        assert_eq!((told[0].length_m, told[0].time_s), (300.0, 15.0));
        assert_eq!(worst_outages(&told)[0], 0);
    }
}
