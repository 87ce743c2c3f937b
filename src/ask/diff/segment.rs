//! What became of one segment.
use crate::base::geodesy::Position;
use crate::base::words::declare::words;
use crate::base::words::{Cause, Direction, Evidence, Highway, Rating};
use crate::layer::model::SegmentRow;

words! {
    /// What became of a segment.
    #[derive(Default)]
    pub enum ChangeKind {
        /// The old layer alone has it.
        OnlyOld = "only_old",
        /// The new layer alone has it.
        OnlyNew = "only_new",
        /// Its line or its length is another: ratings are not compared.
        Redrawn = "redrawn",
        /// Its evidence became unknown, which is not clear: ratings are not compared.
        BecameUnknown = "became_unknown",
        /// Its evidence was unknown before.
        BecameKnown = "became_known",
        /// A better rating.
        RatedBetter = "rated_better",
        /// A worse rating.
        RatedWorse = "rated_worse",
        /// The same rating.
        #[default]
        RatedSame = "rated_same",
    }
}

/// What one layer says of a segment.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct SegmentTold {
    /// Length, metres.
    pub length_m: f64,
    /// Rating of the worse direction.
    pub rating: Rating,
    /// Expected seconds without a link, driving through in the worse direction.
    pub outage_s: f64,
    /// See [`SegmentRow::main_cause`].
    pub main_cause: Cause,
    /// See [`SegmentRow::evidence`].
    pub evidence: Evidence,
}

impl SegmentTold {
    /// Of a row.
    pub(super) fn of(row: &SegmentRow) -> Self {
        let outage_s = Direction::BOTH.into_iter().filter_map(|d| Some(row.driven[d]?.outage_s)).fold(0.0, f64::max);
        let SegmentRow { length_m, rating, main_cause, evidence, .. } = *row;
        Self { length_m, rating, outage_s, main_cause, evidence }
    }
}

/// A segment of either layer or of both.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct SegmentChange {
    /// What became of it.
    pub kind: ChangeKind,
    /// Way of the map.
    pub way_id: i64,
    /// Number of the piece within the way.
    pub part: u32,
    /// What people call the road, as the new layer has it where it is there.
    pub road: String,
    /// Class of the road, from the same layer.
    pub highway: Highway,
    /// What the old layer says; nothing where it does not have it.
    pub old: Option<SegmentTold>,
    /// What the new layer says; nothing where it does not have it.
    pub new: Option<SegmentTold>,
    /// Its line in the new layer, else in the old one.
    pub line: Vec<Position>,
}

/// Outage times that differ by less are the same to people, seconds.
pub(super) const LEAST_S: f64 = 0.1;
/// Slack for sums of figures kept to the millisecond, seconds.
const SLACK_S: f64 = 1e-6;

/// Whether a change of outage time is worth a line.
pub(super) fn counts(change_s: f64) -> bool {
    change_s.abs() >= LEAST_S - SLACK_S
}

impl SegmentChange {
    /// Seconds without a link, more than before; nothing where the segment is not in both or was redrawn.
    pub fn change_s(&self) -> Option<f64> {
        match (self.kind, &self.old, &self.new) {
            (ChangeKind::Redrawn, ..) => None,
            (_, Some(old), Some(new)) => Some(new.outage_s - old.outage_s),
            _ => None,
        }
    }
    /// Whether there is anything to tell.
    pub(super) fn is_one(&self) -> bool {
        let cause = self.old.map(|o| o.main_cause) != self.new.map(|n| n.main_cause);
        self.kind != ChangeKind::RatedSame || cause || self.change_s().is_some_and(counts)
    }
}
