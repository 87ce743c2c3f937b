//! The worst outages of a part of a layer get numbers.
use std::collections::{HashMap, HashSet};

use super::model::NumberedOutage;
use crate::ask::road_name::road_name;
use crate::base::words::{Cause, Rating};
use crate::layer::RoadGroup;
use crate::layer::model::{OutageRow, SegmentRow};

/// How many are numbered on main and through roads, and on smaller ones.
const MOST: [usize; 2] = [15, 10];

/// Those that begin on some segments, the worst first: on main and through roads, then on smaller ones. Ferries and shuttle trains
/// are none: they are told apart on the map, and nobody can avoid an outage there.
pub(super) fn numbered(rows: &[OutageRow], segments: &[SegmentRow]) -> Vec<NumberedOutage> {
    let by_id: HashMap<i64, &SegmentRow> = segments.iter().map(|s| (s.segment_id, s)).collect();
    let mut kept: Vec<(&OutageRow, &SegmentRow)> = rows
        .iter()
        .filter(|row| row.cause != Cause::Boarded)
        .filter_map(|row| by_id.get(&row.segment_from).map(|segment| (row, *segment)))
        .filter(|(_, segment)| RoadGroup::of(segment.highway) != RoadGroup::Boarded)
        .collect();
    kept.sort_by(|(a, _), (b, _)| {
        b.outage_p95_s
            .total_cmp(&a.outage_p95_s)
            .then(b.outage_s.total_cmp(&a.outage_s))
            .then(a.outage_id.cmp(&b.outage_id))
    });
    // The same road out in both directions is one place of trouble, not two.
    let rows: HashSet<(i64, i64, bool)> = kept.iter().map(|(o, _)| (o.segment_from, o.segment_to, o.forward)).collect();
    let (mut great, mut small) = (Vec::new(), Vec::new());
    let mut told: HashSet<[i64; 2]> = HashSet::new();
    for (row, segment) in kept {
        let (from, to) = (row.segment_from, row.segment_to);
        let way_back = |forward: &bool| (from != to || *forward != row.forward) && rows.contains(&(to, from, *forward));
        let both_ways = [true, false].iter().any(way_back);
        if both_ways && !told.insert([from.min(to), from.max(to)]) {
            continue;
        }
        let group = RoadGroup::of(segment.highway);
        let list = if matches!(group, RoadGroup::Main | RoadGroup::Through) { &mut great } else { &mut small };
        list.push(one(row, segment, group, both_ways));
    }
    great.truncate(MOST[0]);
    small.truncate(MOST[1]);
    great.append(&mut small);
    great
}

fn one(row: &OutageRow, segment: &SegmentRow, group: RoadGroup, both_ways: bool) -> NumberedOutage {
    let driven = if row.forward { segment.driven.forward } else { segment.driven.backward };
    NumberedOutage {
        road: road_name(segment),
        group,
        cause: row.cause,
        rating: driven.map_or(Rating::Dark, |d| d.rating),
        length_m: row.length_m,
        outage_p95_s: row.outage_p95_s,
        outage_s: row.outage_s,
        both_ways,
        line: row.line.clone(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::words::Highway;

    fn segment(segment_id: i64, highway: Highway) -> SegmentRow {
        SegmentRow { segment_id, highway, name: Some(format!("Road {segment_id}")), ..SegmentRow::default() }
    }
    fn outage(outage_id: i64, from: i64, to: i64, forward: bool, p95_s: f64) -> OutageRow {
        OutageRow {
            outage_id,
            segment_from: from,
            segment_to: to,
            forward,
            cause: Cause::Canopy,
            outage_p95_s: p95_s,
            ..OutageRow::default()
        }
    }

    #[test]
    fn main_roads_come_first_and_both_directions_are_one() {
        let segments = [
            segment(1, Highway::Track),
            segment(2, Highway::Trunk),
            segment(3, Highway::Trunk),
            segment(4, Highway::Secondary),
            segment(5, Highway::Ferry),
        ];
        let rows = [
            outage(1, 1, 1, true, 90.0),
            outage(2, 1, 1, false, 80.0),
            outage(3, 2, 3, true, 20.0),
            outage(4, 3, 2, false, 30.0),
            outage(5, 4, 4, true, 25.0),
            outage(6, 5, 5, true, 900.0),
        ];
        let told: Vec<_> =
            numbered(&rows, &segments).into_iter().map(|o| (o.road, o.outage_p95_s, o.both_ways)).collect();
        let of = |road: &str, p95_s, both| (road.to_owned(), p95_s, both);
        assert_eq!(told, [of("Road 3", 30.0, true), of("Road 4", 25.0, false), of("Road 1", 90.0, true)]);
    }

    #[test]
    fn what_begins_elsewhere_is_not_told() {
        assert!(numbered(&[outage(1, 9, 9, true, 90.0)], &[segment(1, Highway::Track)]).is_empty());
    }

    #[test]
    fn no_more_than_the_lists_take() {
        let segments: Vec<_> =
            (1..=60).map(|id| segment(id, if id % 2 == 0 { Highway::Trunk } else { Highway::Service })).collect();
        let rows: Vec<_> = (1..=60).map(|id| outage(id, id, id, true, id as f64)).collect();
        let told = numbered(&rows, &segments);
        assert_eq!(told.len(), MOST[0] + MOST[1]);
        assert_eq!((told[0].outage_p95_s, told[14].outage_p95_s, told[15].outage_p95_s), (60.0, 32.0, 59.0));
    }
}
