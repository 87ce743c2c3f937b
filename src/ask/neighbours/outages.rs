//! Outages of several layers: each once, with the segments that it goes through, also beyond the rim of its layer.
use std::collections::{BTreeMap, HashMap, HashSet};

use super::piece::RowOf;
use super::placed::{JoinedLane, PlacedRows};
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
    pub rows: BTreeMap<JoinedLane, OutageRow>,
    over: HashMap<JoinedLane, JoinedLane>,
}

/// Directions of travel with an outage, and the one that it begins with.
pub(super) type OutageBegins = HashMap<JoinedLane, JoinedLane>;

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
    /// The lane with which the outage through each lane begins; outages shorter than `steady_s` are none.
    ///
    /// # Errors
    /// A layer cannot be read.
    pub fn begins(&self, layers: &[Layer], placed: &PlacedRows, steady_s: f64) -> Result<OutageBegins> {
        let mut found = OutageBegins::new();
        // A lane with outages of which its layer does not tell the beginning: that lies beyond the line of a district.
        let mut open: BTreeMap<(usize, u32, u32), JoinedLane> = BTreeMap::new();
        for segment in placed.ids() {
            let Some(piece) = placed.piece(segment) else { continue };
            for (nth, row) in placed.rows(segment).enumerate() {
                for lane in layers[row.layer].lanes_of(row.id)? {
                    let own = JoinedLane { segment, forward: lane.forward };
                    let from = lane
                        .outage_from
                        .map(JoinedLane::of_id)
                        .and_then(|from| placed.lane(RowOf { layer: row.layer, id: from.segment }, from.forward, true));
                    // Only one whose row is there.
                    match from.filter(|from| self.rows.contains_key(from)) {
                        Some(from) => {
                            found.entry(own).or_insert(from);
                        }
                        None if nth == 0 && piece.outage_p95_s[usize::from(!lane.forward)] > steady_s => {
                            open.insert((row.layer, lane.stroke, lane.step), own);
                        }
                        None => {}
                    }
                }
            }
        }
        for (lane, from) in &self.over {
            found.entry(*lane).or_insert(*from);
        }
        open.retain(|_, lane| !found.contains_key(lane));
        let before = before(placed, open.iter().filter(|((.., step), _)| *step == 0).map(|(_, lane)| *lane));
        for ((layer, stroke, step), lane) in &open {
            let one = match step.checked_sub(1) {
                None => before.get(lane),
                Some(step) => open.get(&(*layer, *stroke, step)),
            };
            if let Some(from) = one.and_then(|one| found.get(one)).copied() {
                found.insert(*lane, from);
            }
        }
        Ok(found)
    }
    /// Follows every outage along its line: where it ends in another layer than it begins in, neither tells its segments there.
    fn follow(&mut self, placed: &PlacedRows) {
        let vertices: HashSet<Position> = self.rows.values().flat_map(|o| o.line.iter().copied()).collect();
        let mut begin: HashMap<Position, Vec<(JoinedLane, [Position; 4])>> = HashMap::new();
        for segment in placed.ids() {
            let Some(piece) = placed.piece(segment) else { continue };
            let [a, b, c, d] = piece.ends;
            for (forward, ends) in [(true, [a, b, c, d]), (false, [d, c, b, a])] {
                if vertices.contains(&ends[0]) {
                    begin.entry(ends[0]).or_default().push((JoinedLane { segment, forward }, ends));
                }
            }
        }
        for (from, outage) in &mut self.rows {
            let line = &outage.line;
            let mut at = 0;
            while at + 1 < line.len() {
                let lanes = begin.get(&line[at]).into_iter().flatten();
                let fits = |(lane, ends): &&(JoinedLane, [Position; 4])| {
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

/// The lane that is driven before each of some: of the same way, else the only one that leads there.
fn before(placed: &PlacedRows, wanted: impl Iterator<Item = JoinedLane>) -> HashMap<JoinedLane, JoinedLane> {
    let start = |lane: JoinedLane| {
        let piece = placed.piece(lane.segment)?;
        Some((if lane.forward { piece.ends[0] } else { piece.ends[3] }, piece.way_id))
    };
    let wanted: Vec<(JoinedLane, Position, i64)> =
        wanted.filter_map(|lane| start(lane).map(|(at, way)| (lane, at, way))).collect();
    let places: HashSet<Position> = wanted.iter().map(|(_, at, _)| *at).collect();
    let mut ending: HashMap<Position, Vec<(JoinedLane, i64)>> = HashMap::new();
    for segment in placed.ids() {
        let Some(piece) = placed.piece(segment) else { continue };
        for (forward, end) in [(true, piece.ends[3]), (false, piece.ends[0])] {
            if places.contains(&end) {
                ending.entry(end).or_default().push((JoinedLane { segment, forward }, piece.way_id));
            }
        }
    }
    let of = |(lane, at, way): (JoinedLane, Position, i64)| {
        let others = || ending.get(&at).into_iter().flatten().filter(|(other, _)| other.segment != lane.segment);
        let same = others().find(|(other, of)| *of == way && other.forward == lane.forward);
        let only = others().next().filter(|_| others().count() == 1);
        same.or(only).map(|(other, _)| (lane, *other))
    };
    wanted.into_iter().filter_map(of).collect()
}
