//! The worst outages of a part of a layer get numbers.
use std::collections::{BTreeMap, HashMap};

use super::model::NumberedOutage;
use crate::ask::road_name::road_name;
use crate::base::geodesy::{LocalPlane, Position, distance_m, eighth, length_m};
use crate::base::words::Cause;
use crate::layer::RoadGroup;
use crate::layer::model::{OutageRow, SegmentRow};
use crate::physics::link::rating::rating;
use crate::profile::RatingEdges;

/// How many are numbered on main and through roads, and on smaller ones.
const MOST: [usize; 2] = [15, 10];

/// A step from one place to the next.
type RoadStep = (Position, Position);

/// The worst first: on main and through roads, then on smaller ones; `first` is the segment an outage begins on. Ferries and
/// shuttle trains are none: they are told apart on the map, and nobody can avoid an outage there.
pub(super) fn numbered<'s>(
    rows: &[OutageRow],
    first: &dyn Fn(&OutageRow) -> Option<&'s SegmentRow>,
    edges: &RatingEdges,
) -> Vec<NumberedOutage> {
    let mut kept: Vec<(&OutageRow, &SegmentRow)> = rows
        .iter()
        .filter(|row| row.cause != Cause::Boarded)
        .filter_map(|row| first(row).map(|segment| (row, segment)))
        .filter(|(_, segment)| RoadGroup::of(segment.highway) != RoadGroup::Boarded)
        .collect();
    kept.sort_by(|(a, _), (b, _)| {
        let by_length = b.outage_p95_s.total_cmp(&a.outage_p95_s);
        by_length.then(b.outage_s.total_cmp(&a.outage_s)).then(a.outage_id.cmp(&b.outage_id))
    });
    // The same road out in both directions is one place of trouble, not two.
    let mut told: Vec<NumberedOutage> = Vec::new();
    let mut driven: HashMap<RoadStep, usize> = HashMap::new();
    for (row, segment) in kept {
        if let Some(same) = way_back(&row.line, &driven, &told) {
            told[same].both_ways = true;
            continue;
        }
        for step in steps(&row.line) {
            driven.entry(step).or_insert(told.len());
        }
        told.push(one(row, segment, edges));
    }
    let great = |o: &NumberedOutage| matches!(o.group, RoadGroup::Main | RoadGroup::Through);
    let (mut through, mut small): (Vec<_>, Vec<_>) = told.into_iter().partition(great);
    through.truncate(MOST[0]);
    small.truncate(MOST[1]);
    through.append(&mut small);
    through
}

fn steps(line: &[Position]) -> impl Iterator<Item = RoadStep> {
    line.windows(2).map(|pair| (pair[0], pair[1]))
}

/// The outage told already that has at least half of the road of the shorter of the two, the other way.
fn way_back(line: &[Position], driven: &HashMap<RoadStep, usize>, told: &[NumberedOutage]) -> Option<usize> {
    let mut shared_m: BTreeMap<usize, f64> = BTreeMap::new();
    for (a, b) in steps(line) {
        if let Some(other) = driven.get(&(b, a)) {
            *shared_m.entry(*other).or_default() += distance_m(a, b);
        }
    }
    let long_m = length_m(line);
    let (other, most_m) = shared_m.into_iter().max_by(|a, b| a.1.total_cmp(&b.1))?;
    (most_m >= 0.5 * long_m.min(length_m(&told[other].line))).then_some(other)
}

fn one(row: &OutageRow, segment: &SegmentRow, edges: &RatingEdges) -> NumberedOutage {
    let share = row.outage_s / row.time_s.max(1e-9);
    NumberedOutage {
        road: road_name(segment),
        group: RoadGroup::of(segment.highway),
        cause: row.cause,
        rating: rating(row.outage_p95_s, share, share, edges),
        length_m: row.length_m,
        outage_p95_s: row.outage_p95_s,
        outage_s: row.outage_s,
        both_ways: false,
        towards: towards(&row.line),
        line: row.line.clone(),
    }
}

/// Where a line leads, from its first place to its last; along its first step where it comes back.
fn towards(line: &[Position]) -> usize {
    let (Some(first), Some(last)) = (line.first(), line.last()) else { return 0 };
    let to = if first == last { line.get(1).unwrap_or(last) } else { last };
    let plane = LocalPlane::at_position(*first);
    eighth(plane.to_plane(*first).azimuth_deg(plane.to_plane(*to)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::words::{Highway, Rating};

    fn segment(segment_id: i64, highway: Highway) -> SegmentRow {
        SegmentRow { segment_id, highway, name: Some(format!("Road {segment_id}")), ..SegmentRow::default() }
    }
    /// Over places from one number to another along a parallel, 100 to a hundredth of a degree.
    fn outage(outage_id: i64, segment_from: i64, places: (i32, i32), p95_s: f64) -> OutageRow {
        let at = |k: i32| Position { lon_e7: 15_000_000 + 1_000 * k, lat_e7: 425_000_000 };
        let (from, to) = places;
        let line = if from < to { (from..=to).map(at).collect() } else { (to..=from).rev().map(at).collect() };
        OutageRow {
            outage_id,
            segment_from,
            cause: Cause::Canopy,
            outage_p95_s: p95_s,
            time_s: 100.0,
            line,
            ..OutageRow::default()
        }
    }
    fn told(rows: &[OutageRow], segments: &[SegmentRow]) -> Vec<NumberedOutage> {
        let first = |row: &OutageRow| segments.iter().find(|s| s.segment_id == row.segment_from);
        numbered(rows, &first, &RatingEdges::default())
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
            outage(1, 1, (0, 10), 90.0),
            outage(2, 1, (10, 0), 80.0),
            // The spans of the two directions are cut at other places.
            outage(3, 2, (100, 120), 20.0),
            outage(4, 3, (130, 105), 30.0),
            outage(5, 4, (200, 220), 25.0),
            // Less than half of it.
            outage(6, 4, (226, 215), 4.0),
            outage(7, 5, (300, 310), 900.0),
        ];
        let found: Vec<_> =
            told(&rows, &segments).into_iter().map(|o| (o.road, o.outage_p95_s, o.both_ways, o.rating)).collect();
        let of = |road: &str, p95_s, both, rating| (road.to_owned(), p95_s, both, rating);
        assert_eq!(
            found,
            [
                of("Road 3", 30.0, true, Rating::Drops),
                of("Road 4", 25.0, false, Rating::Drops),
                of("Road 4", 4.0, false, Rating::Gaps),
                of("Road 1", 90.0, true, Rating::Dark)
            ]
        );
    }

    #[test]
    fn one_drives_towards_the_end_of_the_line() {
        let segments = [segment(1, Highway::Trunk)];
        assert_eq!(told(&[outage(1, 1, (0, 10), 9.0)], &segments)[0].towards, 2);
        assert_eq!(told(&[outage(1, 1, (10, 0), 9.0)], &segments)[0].towards, 6);
    }

    #[test]
    fn no_more_than_the_lists_take() {
        let class = |id: i64| if id % 2 == 0 { Highway::Trunk } else { Highway::Service };
        let segments: Vec<_> = (1..=60).map(|id| segment(id, class(id))).collect();
        let rows: Vec<_> = (1..=60).map(|id| outage(id, id, (20 * id as i32, 20 * id as i32 + 9), id as f64)).collect();
        let told = told(&rows, &segments);
        assert_eq!(told.len(), MOST[0] + MOST[1]);
        assert_eq!((told[0].outage_p95_s, told[14].outage_p95_s, told[15].outage_p95_s), (60.0, 32.0, 59.0));
    }
}
