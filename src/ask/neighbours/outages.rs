//! Outages of several layers: each once, with the segments that it goes through, also beyond the rim of its layer.
use std::collections::{BTreeMap, HashMap, HashSet};

use super::piece::RowOf;
use super::placed::{LaneOf, PlacedRows};
use crate::base::error::Result;
use crate::base::geodesy::Position;
use crate::layer::Layer;
use crate::layer::model::OutageRow;

/// Numbers of strokes in the joined layer.
#[derive(Debug, Default)]
pub(super) struct StrokeNumbers(HashMap<(usize, u32), u32>);

impl StrokeNumbers {
    /// That of a stroke of a layer.
    pub fn of(&mut self, layer: usize, stroke: u32) -> u32 {
        let next = self.0.len() as u32;
        *self.0.entry((layer, stroke)).or_insert(next)
    }
}

/// Outages by the lane that they begin with, and that lane for each that they run through.
#[derive(Debug, Default)]
pub(super) struct JoinedOutages {
    pub rows: BTreeMap<LaneOf, OutageRow>,
    pub over: HashMap<LaneOf, LaneOf>,
}

/// The outages of all pieces.
///
/// # Errors
/// A layer cannot be read.
pub(super) fn outages(layers: &[Layer], placed: &PlacedRows, strokes: &mut StrokeNumbers) -> Result<JoinedOutages> {
    let mut found = JoinedOutages::default();
    for id in placed.ids() {
        for row in placed.rows(id) {
            for outage in layers[row.layer].outages_from(row.id)? {
                let Some(from) = placed.lane(row, outage.forward, true).filter(|lane| lane.segment == id) else {
                    continue;
                };
                let to = placed.of(RowOf { layer: row.layer, id: outage.segment_to });
                let stroke = strokes.of(row.layer, outage.stroke);
                let outage =
                    OutageRow { segment_from: id, segment_to: to.map_or(id, |(_, last)| last), stroke, ..outage };
                // One that two layers have: the longer outage counts.
                let is_worse = |old: &OutageRow| {
                    let weight = |o: &OutageRow| (o.outage_p95_s, o.length_m);
                    weight(&outage) > weight(old)
                };
                if found.rows.get(&from).is_none_or(is_worse) {
                    found.rows.insert(from, outage);
                }
            }
        }
    }
    found.follow(placed);
    Ok(found)
}

impl JoinedOutages {
    /// Follows every outage along its line: where it ends in another layer than it begins in, neither tells its segments there.
    fn follow(&mut self, placed: &PlacedRows) {
        let vertices: HashSet<Position> = self.rows.values().flat_map(|o| o.line.iter().copied()).collect();
        let mut begin: HashMap<Position, Vec<(LaneOf, [Position; 4])>> = HashMap::new();
        for segment in placed.ids() {
            let Some(piece) = placed.piece(segment) else { continue };
            let [a, b, c, d] = piece.ends;
            for (forward, ends) in [(true, [a, b, c, d]), (false, [d, c, b, a])] {
                if vertices.contains(&ends[0]) {
                    begin.entry(ends[0]).or_default().push((LaneOf { segment, forward }, ends));
                }
            }
        }
        for (from, outage) in &mut self.rows {
            let line = &outage.line;
            let mut at = 0;
            while at + 1 < line.len() {
                let lanes = begin.get(&line[at]).into_iter().flatten();
                let fits = |(lane, ends): &&(LaneOf, [Position; 4])| {
                    (at > 0 || lane == from) && ends[1] == line[at + 1] && line[at..].contains(&ends[3])
                };
                let Some((lane, ends)) = lanes.into_iter().find(fits) else { break };
                let Some(step) = line[at + 1..].iter().position(|p| *p == ends[3]) else { break };
                at += step + 1;
                self.over.entry(*lane).or_insert(*from);
                outage.segment_to = lane.segment;
            }
        }
    }
}
