//! Rows of two layers side by side, and whether a row is still the same piece of road.
use std::cmp::Ordering;
use std::iter::Peekable;

use super::segment::ChangeKind;
use crate::base::error::Result;
use crate::base::geodesy::{LocalPlane, Point, Position};
use crate::base::words::Evidence;
use crate::layer::model::SegmentRow;
use crate::physics::scene::rings::distance_to_piece_m;

/// A line that lies within this distance of another is the same, and so is a length that differs by no more, metres.
const MOVED_M: f64 = 1.0;
/// Most corners of lines that are compared point by point; a way of the map has at most 2000.
const MOST_CORNERS: usize = 2_001;

/// Rows of one key, of either layer or of both.
#[derive(Debug, Default)]
pub(in crate::ask) struct KeyedPair {
    pub old: Option<SegmentRow>,
    pub new: Option<SegmentRow>,
}

/// Two streams of rows, each in the order of its key.
pub(in crate::ask) struct KeyedPairs<A: Iterator, B: Iterator> {
    old: Peekable<A>,
    new: Peekable<B>,
}

impl<A, B> KeyedPairs<A, B>
where
    A: Iterator<Item = Result<SegmentRow>>,
    B: Iterator<Item = Result<SegmentRow>>,
{
    pub fn of(old: A, new: B) -> Self {
        Self { old: old.peekable(), new: new.peekable() }
    }
}

impl<A, B> Iterator for KeyedPairs<A, B>
where
    A: Iterator<Item = Result<SegmentRow>>,
    B: Iterator<Item = Result<SegmentRow>>,
{
    type Item = Result<KeyedPair>;
    fn next(&mut self) -> Option<Self::Item> {
        let key = |row: &SegmentRow| (row.way_id, row.part);
        let order = match (self.old.peek(), self.new.peek()) {
            (None, None) => return None,
            // What cannot be read is handed on.
            (Some(Err(_)) | Some(Ok(_)), None) | (Some(Err(_)), _) => Ordering::Less,
            (None, Some(_)) | (_, Some(Err(_))) => Ordering::Greater,
            (Some(Ok(old)), Some(Ok(new))) => key(old).cmp(&key(new)),
        };
        let old = if order.is_le() { self.old.next() } else { None };
        let new = if order.is_ge() { self.new.next() } else { None };
        let pair = |old: Option<Result<SegmentRow>>, new: Option<Result<SegmentRow>>| {
            Ok(KeyedPair { old: old.transpose()?, new: new.transpose()? })
        };
        Some(pair(old, new))
    }
}

impl KeyedPair {
    /// What became of the segment.
    pub fn kind(&self) -> ChangeKind {
        let (old, new) = match (&self.old, &self.new) {
            (Some(old), Some(new)) => (old, new),
            (Some(_), None) => return ChangeKind::OnlyOld,
            (None, _) => return ChangeKind::OnlyNew,
        };
        if (old.length_m - new.length_m).abs() > MOVED_M || has_moved(&old.line, &new.line) {
            return ChangeKind::Redrawn;
        }
        match (old.evidence == Evidence::Unknown, new.evidence == Evidence::Unknown) {
            (false, true) => return ChangeKind::BecameUnknown,
            (true, false) => return ChangeKind::BecameKnown,
            (true, true) | (false, false) => {}
        }
        match new.rating.cmp(&old.rating) {
            Ordering::Less => ChangeKind::RatedBetter,
            Ordering::Equal => ChangeKind::RatedSame,
            Ordering::Greater => ChangeKind::RatedWorse,
        }
    }
}

/// Whether a line lies elsewhere or runs the other way. More corners on the same line do not move it.
fn has_moved(a: &[Position], b: &[Position]) -> bool {
    if a == b {
        return false;
    }
    let (Some(first), true) = (a.first(), a.len().max(b.len()) <= MOST_CORNERS) else { return true };
    let plane = LocalPlane::at_position(*first);
    let [a, b] = [a, b].map(|line| line.iter().map(|p| plane.to_plane(*p)).collect::<Vec<Point>>());
    let apart = |p: Option<&Point>, q: Option<&Point>| p.zip(q).is_none_or(|(p, q)| p.distance_m(*q) > MOVED_M);
    let off = |from: &[Point], line: &[Point]| {
        let near = |p: &Point| line.windows(2).any(|w| distance_to_piece_m(*p, w[0], w[1]) <= MOVED_M);
        !from.iter().all(near)
    };
    apart(a.first(), b.first()) || apart(a.last(), b.last()) || off(&a, &b) || off(&b, &a)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::error::Error;

    fn line(points_m: &[(f64, f64)]) -> Vec<Position> {
        let plane = LocalPlane::at(1.5, 42.5);
        points_m.iter().map(|p| plane.to_position(Point::new(p.0, p.1))).collect()
    }

    #[test]
    fn corners_on_a_line_do_not_move_it_and_corners_off_it_do() {
        let straight = line(&[(0.0, 0.0), (200.0, 0.0)]);
        for (other, moved) in [
            (vec![(0.0, 0.0), (200.0, 0.0)], false),
            (vec![(0.0, 0.0), (70.0, 0.0), (200.0, 0.0)], false),
            (vec![(0.0, 0.0), (70.0, 0.9), (200.0, 0.0)], false),
            (vec![(0.0, 0.0), (70.0, 1.1), (200.0, 0.0)], true),
            (vec![(0.0, 1.1), (200.0, 1.1)], true),
            (vec![(0.9, 0.0), (200.0, 0.0)], false),
            (vec![(1.1, 0.0), (200.0, 0.0)], true),
            (vec![(200.0, 0.0), (0.0, 0.0)], true),
        ] {
            let other = line(&other);
            assert_eq!((has_moved(&straight, &other), has_moved(&other, &straight)), (moved, moved), "{other:?}");
        }
        // A loop driven the other way round has the same ends and the same corners: it does not lie elsewhere.
        let ring = [(0.0, 0.0), (50.0, 0.0), (50.0, 50.0), (0.0, 0.0)];
        assert!(!has_moved(&line(&ring), &line(&ring.iter().rev().copied().collect::<Vec<_>>())));
        assert!(has_moved(&[], &straight) && has_moved(&straight, &[]));
    }

    fn rows(keys: &[(i64, u32)]) -> Vec<Result<SegmentRow>> {
        keys.iter()
            .map(|(way_id, part)| Ok(SegmentRow { way_id: *way_id, part: *part, ..Default::default() }))
            .collect()
    }

    proptest::proptest! {
        #[test]
        fn every_key_comes_once_in_order_and_from_where_it_is(
            old in proptest::collection::btree_set((0_i64..6, 0_u32..4), 0..20),
            new in proptest::collection::btree_set((0_i64..6, 0_u32..4), 0..20),
        ) {
            let [a, b] = [&old, &new].map(|set| rows(&set.iter().copied().collect::<Vec<_>>()).into_iter());
            let key = |row: &SegmentRow| (row.way_id, row.part);
            let found: Vec<_> = KeyedPairs::of(a, b).map(Result::unwrap).collect();
            let told: Vec<_> = found.iter().map(|p| (p.old.as_ref().map(key), p.new.as_ref().map(key))).collect();
            let all: std::collections::BTreeSet<_> = old.union(&new).copied().collect();
            let want: Vec<_> = all.iter().map(|k| (old.get(k).copied(), new.get(k).copied())).collect();
            proptest::prop_assert_eq!(told, want);
        }
    }

    #[test]
    fn what_cannot_be_read_is_handed_on_from_either_side() {
        for (first, second) in [(true, false), (false, true), (true, true)] {
            let mut sides = [rows(&[(1, 0), (2, 0)]), rows(&[(1, 0), (3, 0)])];
            for (side, _) in [first, second].iter().enumerate().filter(|(_, bad)| **bad) {
                sides[side][1] = Err(Error::failed("row", "bad", "none"));
            }
            let [old, new] = sides;
            let told: Vec<bool> = KeyedPairs::of(old.into_iter(), new.into_iter()).take(2).map(|p| p.is_ok()).collect();
            assert_eq!(told, [true, false], "{first} {second}");
        }
    }
}
