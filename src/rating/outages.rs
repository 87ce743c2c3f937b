//! Outages from where to where: what an outage does to many segments is reported once.
use std::collections::HashMap;

use super::pieces::RoadPiece;
use crate::base::geodesy::Position;
use crate::base::index::{LaneIndex, SegmentIndex, StrokeIndex};
use crate::base::words::{Cause, Direction};
use crate::layer::model::{OutageRow, SegmentRow};
use crate::map::network::model::{LaneStep, Stroke};
use crate::physics::link::model::OutageStats;
use crate::profile::Profile;

/// Segments share an outage where one goes on from one into the next in this share of the drives: in one of twenty, as the 95th
/// percentile counts.
const SHARED_FROM: f64 = 0.05;
/// and where the longest ones of both differ by no more than this factor: an outage counts whole on both sides of a border, so where
/// one side's are far longer they are not the other's.
const ALIKE: f64 = 2.0;

/// What outages are based on; lanes by index.
pub(crate) struct OutageSources<'a> {
    /// Assumptions.
    pub profile: &'a Profile,
    /// By segment.
    pub pieces: &'a [RoadPiece<'a>],
    /// Segments driven one after another.
    pub strokes: &'a [Stroke],
    /// Statistics of all that is driven in every stroke.
    pub stats: &'a [Vec<OutageStats>],
    /// Main cause of every lane.
    pub causes: &'a [Cause],
    /// The id that the row of a segment has.
    pub id_of: &'a dyn Fn(SegmentIndex) -> i64,
}

/// Outages, and which of them goes through every lane.
pub(crate) struct Outages {
    /// Those that begin in the strokes' own steps, by stroke and place.
    pub rows: Vec<OutageRow>,
    /// By lane: the lane that the outage through it begins with.
    pub begun: HashMap<LaneIndex, LaneIndex>,
}

/// Some of what is driven in a stroke.
struct OutageSpan<'a> {
    steps: &'a [LaneStep],
    stats: &'a [OutageStats],
}

/// Notes the main causes of a segment's directions, by lane.
pub(crate) fn note_causes(causes: &mut [Cause], id: SegmentIndex, row: &SegmentRow) {
    for direction in Direction::BOTH {
        if let Some(driven) = &row.driven[direction] {
            causes[id.lane(direction).at()] = driven.main_cause;
        }
    }
}

impl OutageSources<'_> {
    /// All outages.
    pub fn find(&self) -> Outages {
        let mut out = Outages { rows: Vec::new(), begun: HashMap::new() };
        for ((number, stroke), stats) in StrokeIndex::numbered(self.strokes).zip(self.stats) {
            let (own, steps) = (stroke.own(), stroke.driven().copied().collect::<Vec<LaneStep>>());
            for (first, last) in self.spans(stats) {
                let lane = |at: usize| steps[at].0.lane(steps[at].1);
                let through = (first..=last).filter(|at| own.contains(at));
                out.begun.extend(through.map(|at| (lane(at), lane(first))));
                if !own.contains(&first) {
                    continue;
                }
                let outage_id = out.rows.len() as i64 + 1;
                let stroke_at = (number.row_number(), (first - own.start) as u32);
                let span = OutageSpan { steps: &steps[first..=last], stats: &stats[first..=last] };
                let mut row = self.row(outage_id, stroke_at, &span);
                // What began on the road before and goes on is met here too.
                row.outages += first.checked_sub(1).map_or(0.0, |before| stats[before].goes_on);
                out.rows.push(row);
            }
        }
        out
    }

    /// First and last places of what is driven that outages go through as one.
    fn spans(&self, stats: &[OutageStats]) -> Vec<(usize, usize)> {
        let mut spans: Vec<(usize, usize)> = Vec::new();
        let (mut goes_on, mut before_s) = (false, 0.0);
        for (nth, stats) in stats.iter().enumerate() {
            // Nobody looks up the short ones that a steady road may have.
            let counts = stats.outage_p95_s > self.profile.rating.steady_outage_s;
            match spans.last_mut() {
                Some(span) if counts && goes_on && alike(before_s, stats.outage_p95_s) => span.1 = nth,
                _ if counts => spans.push((nth, nth)),
                _ => {}
            }
            (goes_on, before_s) = (counts && stats.goes_on >= SHARED_FROM, stats.outage_p95_s);
        }
        spans
    }

    fn row(&self, outage_id: i64, (stroke, step_from): (u32, u32), span: &OutageSpan) -> OutageRow {
        let mut by_cause = vec![0.0; Cause::ALL.len()];
        let steps = span.steps;
        let mut row = OutageRow {
            outage_id,
            stroke,
            step_from,
            step_to: step_from + steps.len() as u32 - 1,
            segment_from: (self.id_of)(steps[0].0),
            segment_to: (self.id_of)(steps[steps.len() - 1].0),
            forward: steps[0].1.is_forward(),
            ..OutageRow::default()
        };
        for ((segment, direction), stats) in steps.iter().zip(span.stats) {
            let piece = &self.pieces[segment.at()];
            row.length_m += piece.length_m;
            row.time_s += piece.seconds(*direction, &self.profile.vehicle);
            row.outages += stats.outages_per_10km * piece.length_m / 10_000.0;
            row.outage_s += stats.outage_s;
            row.outage_p95_s = row.outage_p95_s.max(stats.outage_p95_s);
            let cause = self.causes[segment.lane(*direction).at()];
            by_cause[cause as usize] += stats.outage_s;
            extend(&mut row.line, &piece.line, *direction);
        }
        // The first in order where two are equal.
        let most = Cause::ALL.iter().rev().max_by(|a, b| by_cause[**a as usize].total_cmp(&by_cause[**b as usize]));
        row.cause = most.copied().unwrap_or_default();
        row
    }
}

fn alike(a_s: f64, b_s: f64) -> bool {
    a_s.max(b_s) <= ALIKE * a_s.min(b_s)
}

/// Adds the line of a segment as it is driven; its first place is the last of the segment before.
fn extend(line: &mut Vec<Position>, next: &[Position], direction: Direction) {
    let mut add = |at: &Position| {
        if line.last() != Some(at) {
            line.push(*at);
        }
    };
    match direction {
        Direction::Forward => next.iter().for_each(&mut add),
        Direction::Backward => next.iter().rev().for_each(&mut add),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::borrow::Cow;

    fn piece(nth: i32) -> RoadPiece<'static> {
        let at = |k: i32| Position { lon_e7: 10_000 * k, lat_e7: 0 };
        let line = Cow::Owned(vec![at(nth), at(nth + 1)]);
        RoadPiece { line, length_m: 100.0, stations: 11, speeds_kmh: [36.0, 36.0], climb: f32::NAN, boarded: false }
    }

    #[test]
    fn a_tunnel_over_many_segments_is_one_row_and_its_neighbours_are_none() {
        // Segments 2 to 4 under a tunnel, 6 with blips of its own, 7 with others; the last two are driven backward.
        let outage = |p95_s: f64, outage_s: f64, goes_on: f64| OutageStats {
            outage_p95_s: p95_s,
            outage_s,
            goes_on,
            outages_per_10km: if goes_on < 0.5 { 100.0 } else { 0.0 },
            ..OutageStats::default()
        };
        let of = [
            outage(0.0, 0.0, 0.0),
            outage(0.0, 0.2, 1.0),
            outage(30.0, 10.0, 1.0),
            outage(30.0, 10.0, 1.0),
            outage(30.0, 9.0, 0.04),
            outage(0.3, 0.2, 0.0),
            outage(1.5, 0.4, 0.02),
            outage(2.5, 0.8, 0.0),
        ];
        let pieces: Vec<_> = (0..8).map(piece).collect();
        let direction = |k: usize| if k < 6 { Direction::Forward } else { Direction::Backward };
        let steps: Vec<_> = (0..8).map(|k| (SegmentIndex::new(k), direction(k))).collect();
        let mut causes = vec![Cause::None; 16];
        for (segment, direction) in &steps {
            let lane = segment.lane(*direction).at();
            causes[lane] = if segment.at() == 3 { Cause::Canopy } else { Cause::Cover };
        }
        let (profile, stats) = (Profile::default(), [of.to_vec()]);
        let found = |stroke: Stroke| {
            let (pieces, strokes) = (&pieces, &[stroke]);
            let id_of = &SegmentIndex::row_id;
            OutageSources { profile: &profile, pieces, strokes, stats: &stats, causes: &causes, id_of }.find()
        };
        let Outages { rows, begun } = found(Stroke::of(steps.clone()));
        let lane = |k: usize| steps[k].0.lane(steps[k].1);
        assert_eq!(
            [1, 2, 4, 6].map(|k| begun.get(&lane(k)).copied()),
            [None, Some(lane(2)), Some(lane(2)), Some(lane(6))]
        );
        let told: Vec<_> = rows.iter().map(|r| (r.step_from, r.step_to, r.outage_p95_s, r.cause)).collect();
        assert_eq!(told, [(2, 4, 30.0, Cause::Cover), (6, 6, 1.5, Cause::Cover), (7, 7, 2.5, Cause::Cover)]);
        let tunnel = &rows[0];
        assert_eq!((tunnel.segment_from, tunnel.segment_to, tunnel.outage_s, tunnel.length_m), (3, 5, 29.0, 300.0));
        // One begins there by the last segment's figure, and every drive brings one from the road before.
        assert_eq!((tunnel.line.len(), tunnel.time_s, tunnel.outages), (4, 30.0, 2.0));
        // Driven against the way: from its end to its start.
        assert_eq!((rows[1].forward, rows[1].line[0]), (false, Position { lon_e7: 70_000, lat_e7: 0 }));

        // The line of a district between segments 3 and 4: each side knows all of the tunnel, and one has its row.
        let before = found(Stroke { steps: steps[..4].to_vec(), run_out: steps[4..].to_vec(), ..Stroke::default() });
        assert_eq!(before.rows, std::slice::from_ref(tunnel));
        assert_eq!((before.begun.get(&lane(3)), before.begun.get(&lane(4))), (Some(&lane(2)), None));
        let after = found(Stroke { steps: steps[4..].to_vec(), run_in: steps[..4].to_vec(), ..Stroke::default() });
        assert_eq!(after.rows.iter().map(|r| r.segment_from).collect::<Vec<_>>(), [7, 8]);
        assert_eq!((after.rows[0].step_from, after.begun.get(&lane(4))), (2, Some(&lane(2))));
    }
}
