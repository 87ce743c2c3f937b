//! Pieces that have their ids in the joined layer, and what became of the rows of the layers.
use std::collections::HashMap;

use super::piece::{RowOf, WayPiece};
use crate::base::geodesy::Position;
use crate::layer::model::SegmentRow;

/// A piece by its id in the joined layer.
#[derive(Debug, Clone, Copy)]
pub(super) struct PlacedPiece {
    pub taken: RowOf,
    pub is_whole: bool,
    pub way_id: i64,
    pub length_m: f64,
    /// Longest outage that touches it, forward and backward: 95th percentile, seconds.
    pub outage_p95_s: [f64; 2],
    /// Its first two places and its last two, in node order.
    pub ends: [Position; 4],
}

/// All pieces, by id from 1.
#[derive(Debug, Default)]
pub(super) struct PlacedRows {
    pieces: Vec<PlacedPiece>,
    /// Rows of other layers for the same road.
    also: HashMap<i64, Vec<RowOf>>,
    /// The first and the last piece that stand for a row.
    of: HashMap<RowOf, (i64, i64)>,
}

impl PlacedRows {
    /// Gives a piece its id.
    pub fn add(&mut self, piece: &WayPiece) -> i64 {
        let line = &piece.row.line;
        let at = |i: usize| line.get(i).copied().unwrap_or_default();
        let n = line.len();
        let ends = [at(0), at(1), at(n.saturating_sub(2)), at(n.saturating_sub(1))];
        let SegmentRow { way_id, length_m, driven, .. } = &piece.row;
        let outage_p95_s = [driven.forward, driven.backward].map(|d| d.map_or(0.0, |d| d.outage_p95_s));
        let (taken, is_whole, way_id, length_m) = (piece.taken, piece.is_whole, *way_id, *length_m);
        self.pieces.push(PlacedPiece { taken, is_whole, way_id, length_m, outage_p95_s, ends });
        let id = self.pieces.len() as i64;
        if !piece.also.is_empty() {
            self.also.insert(id, piece.also.clone());
        }
        for row in piece.rows() {
            self.of.entry(row).and_modify(|(_, last)| *last = id).or_insert((id, id));
        }
        id
    }
    /// Ids in use.
    pub fn ids(&self) -> std::ops::RangeInclusive<i64> {
        1..=self.pieces.len() as i64
    }
    /// A piece.
    pub fn piece(&self, id: i64) -> Option<&PlacedPiece> {
        self.pieces.get(usize::try_from(id).ok()?.checked_sub(1)?)
    }
    /// The rows that a piece stands for, that of its figures first.
    pub fn rows(&self, id: i64) -> impl Iterator<Item = RowOf> + '_ {
        let also = self.also.get(&id).into_iter().flatten();
        self.piece(id).map(|p| p.taken).into_iter().chain(also.copied())
    }
    /// The first and the last piece that stand for a row.
    pub fn of(&self, row: RowOf) -> Option<(i64, i64)> {
        self.of.get(&row).copied()
    }
    /// The lane with which a lane of a layer begins or ends here.
    pub fn lane(&self, row: RowOf, forward: bool, begins: bool) -> Option<JoinedLane> {
        let (first, last) = self.of(row)?;
        Some(JoinedLane { segment: if forward == begins { first } else { last }, forward })
    }
    /// The piece that holds a place along a row, and the place along that piece, metres.
    pub fn along(&self, row: RowOf, along_m: f64) -> Option<(i64, f64)> {
        let (first, last) = self.of(row)?;
        let mut left_m = along_m;
        for id in first..last {
            let length_m = self.piece(id)?.length_m;
            if left_m <= length_m {
                return Some((id, left_m));
            }
            left_m -= length_m;
        }
        Some((last, left_m.min(self.piece(last)?.length_m)))
    }
}

/// A direction of a segment of the joined layer.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub(super) struct JoinedLane {
    pub segment: i64,
    pub forward: bool,
}

impl JoinedLane {
    /// Its id.
    pub fn id(self) -> i64 {
        2 * self.segment - i64::from(self.forward)
    }
    /// Of an id.
    pub fn of_id(id: i64) -> Self {
        Self { segment: (id + 1) / 2, forward: id % 2 == 1 }
    }
}
