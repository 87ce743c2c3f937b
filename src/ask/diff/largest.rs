//! Stretches whose outage time changed, and the largest of them.
use serde::Serialize;

use super::segment::{ChangeKind, SegmentChange, SegmentTold, counts};
use crate::base::words::{Cause, Rating};

/// Segments of a way that follow each other, whose outage time changed the same way.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct ChangedStretch {
    /// What people call the road.
    pub road: String,
    /// Way of the map.
    pub way_id: i64,
    /// First part.
    pub part_from: u32,
    /// Last part.
    pub part_to: u32,
    /// Length in the new layer, metres.
    pub length_m: f64,
    /// Expected seconds without a link in the old layer, driving through in the worse direction of each segment.
    pub outage_old_s: f64,
    /// The same in the new layer.
    pub outage_new_s: f64,
    /// What became of the evidence: `became_unknown`, `became_known`, or nothing where it stayed.
    pub evidence: Option<ChangeKind>,
    /// Rating before of the segment that changes most; so are those below.
    pub rating_old: Rating,
    /// Its rating after.
    pub rating_new: Rating,
    /// Its main cause before.
    pub cause_old: Cause,
    /// Its main cause after.
    pub cause_new: Cause,
    /// Where that segment begins, degrees.
    pub lon_deg: f64,
    /// See `lon_deg`.
    pub lat_deg: f64,
    /// By how much that segment changes, seconds.
    #[serde(skip)]
    most_s: f64,
}

impl ChangedStretch {
    /// Seconds without a link, more than before.
    pub fn change_s(&self) -> f64 {
        self.outage_new_s - self.outage_old_s
    }
    fn follows(&self, before: &Self) -> bool {
        before.way_id == self.way_id
            && before.part_to.checked_add(1) == Some(self.part_from)
            && before.evidence == self.evidence
            && (before.change_s() > 0.0) == (self.change_s() > 0.0)
    }
    fn join(&mut self, next: Self) {
        if next.most_s.abs() > self.most_s.abs() {
            let (way_id, part_from, length_m) = (self.way_id, self.part_from, self.length_m);
            let (old_s, new_s) = (self.outage_old_s, self.outage_new_s);
            *self = Self { way_id, part_from, length_m, outage_old_s: old_s, outage_new_s: new_s, ..next.clone() };
        }
        self.part_to = next.part_to;
        self.length_m += next.length_m;
        self.outage_old_s += next.outage_old_s;
        self.outage_new_s += next.outage_new_s;
    }
    /// A segment by itself; nothing where its outage time is not compared or did not change.
    fn of(change: &SegmentChange, old: &SegmentTold, new: &SegmentTold) -> Option<Self> {
        let most_s = change.change_s().filter(|s| *s != 0.0)?;
        let unknown = matches!(change.kind, ChangeKind::BecameUnknown | ChangeKind::BecameKnown);
        let at = change.line.first().copied().unwrap_or_default();
        Some(Self {
            road: change.road.clone(),
            way_id: change.way_id,
            part_from: change.part,
            part_to: change.part,
            length_m: new.length_m,
            outage_old_s: old.outage_s,
            outage_new_s: new.outage_s,
            evidence: unknown.then_some(change.kind),
            rating_old: old.rating,
            rating_new: new.rating,
            cause_old: old.main_cause,
            cause_new: new.main_cause,
            lon_deg: at.lon_deg(),
            lat_deg: at.lat_deg(),
            most_s,
        })
    }
}

/// Collects stretches from changes that come by way and part; keeps the largest.
#[derive(Debug, Default)]
pub(super) struct LargestChanges {
    top: usize,
    open: Option<ChangedStretch>,
    kept: Vec<ChangedStretch>,
    count: u64,
}

impl LargestChanges {
    pub fn new(top: usize) -> Self {
        Self { top, ..Self::default() }
    }
    pub fn take(&mut self, change: &SegmentChange) {
        let (Some(old), Some(new)) = (&change.old, &change.new) else { return };
        let Some(next) = ChangedStretch::of(change, old, new) else { return };
        match &mut self.open {
            Some(open) if next.follows(open) => open.join(next),
            _ => {
                self.close();
                self.open = Some(next);
            }
        }
    }
    fn close(&mut self) {
        let Some(done) = self.open.take().filter(|s| counts(s.change_s())) else { return };
        self.count += 1;
        self.kept.push(done);
        // Twice as many as are wanted, and no more however many there are.
        if self.kept.len() > self.top.saturating_mul(2) {
            self.sort();
        }
    }
    fn sort(&mut self) {
        let key = |s: &ChangedStretch| (s.way_id, s.part_from);
        self.kept.sort_by(|a, b| b.change_s().abs().total_cmp(&a.change_s().abs()).then_with(|| key(a).cmp(&key(b))));
        self.kept.truncate(self.top);
    }
    /// How many there are, and the largest, the largest first.
    pub fn finish(mut self) -> (u64, Vec<ChangedStretch>) {
        self.close();
        self.sort();
        (self.count, self.kept)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::geodesy::Position;

    fn change(way_id: i64, part: u32, old_s: f64, new_s: f64) -> SegmentChange {
        let told = |outage_s| SegmentTold { outage_s, length_m: 100.0, ..SegmentTold::default() };
        let at = Position { lon_e7: 10_000_000 * part as i32, lat_e7: 0 };
        let (old, new) = (Some(told(old_s)), Some(told(new_s)));
        SegmentChange { way_id, part, old, new, line: vec![at], ..SegmentChange::default() }
    }

    fn found(top: usize, changes: &[SegmentChange]) -> (u64, Vec<ChangedStretch>) {
        let mut largest = LargestChanges::new(top);
        changes.iter().for_each(|c| largest.take(c));
        largest.finish()
    }

    #[test]
    fn parts_that_follow_each_other_and_change_alike_are_one_stretch() {
        let unknown = SegmentChange { kind: ChangeKind::BecameUnknown, ..change(1, 3, 1.0, 9.0) };
        let redrawn = SegmentChange { kind: ChangeKind::Redrawn, ..change(3, 0, 1.0, 99.0) };
        let (count, kept) = found(
            9,
            &[
                change(1, 0, 1.0, 3.0),
                change(1, 1, 0.0, 5.0),
                change(1, 2, 2.0, 3.0),
                unknown,
                change(1, 4, 6.0, 4.0),
                change(1, 6, 6.0, 4.5),
                change(2, 7, 6.0, 5.95),
                redrawn,
            ],
        );
        let told: Vec<_> = kept.iter().map(|s| (s.way_id, s.part_from, s.part_to, s.change_s(), s.lon_deg)).collect();
        // The place is that of the segment that changes most; parts 4 and 6 are apart; 0.05 s is not worth a line.
        assert_eq!(told, [(1, 0, 2, 8.0, 1.0), (1, 3, 3, 8.0, 3.0), (1, 4, 4, -2.0, 4.0), (1, 6, 6, -1.5, 6.0)]);
        assert_eq!(
            (count, kept[0].length_m, kept[0].outage_old_s, kept[1].evidence),
            (4, 300.0, 3.0, Some(ChangeKind::BecameUnknown))
        );
    }

    proptest::proptest! {
        #[test]
        fn the_largest_are_those_of_all(seconds in proptest::collection::vec(-50_i32..50, 0..60), top in 0_usize..8) {
            // Ways of one segment each.
            let changes: Vec<_> =
                seconds.iter().enumerate().map(|(i, s)| change(i as i64, 0, 100.0, 100.0 + f64::from(*s))).collect();
            let mut want: Vec<(i32, i64)> =
                seconds.iter().enumerate().filter(|(_, s)| **s != 0).map(|(i, s)| (-s.abs(), i as i64)).collect();
            want.sort_unstable();
            let all = want.len() as u64;
            want.truncate(top);
            let (count, kept) = found(top, &changes);
            proptest::prop_assert_eq!(count, all);
            proptest::prop_assert_eq!(kept.iter().map(|s| s.way_id).collect::<Vec<_>>(), want.iter().map(|w| w.1).collect::<Vec<_>>());
        }
    }
}
