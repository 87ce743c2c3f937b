//! The one gate that every row read passes: each figure within the limits that the file itself states for its column, what
//! columns say together, and a bound on the rows and bytes that one question takes.
//!
//! A layer may come from anywhere. What it says reaches people as truth, so a figure that cannot be true is an error
//! with its table, row, column and value. Ranges are those of [`super::describe`]; there is no second list.
//! Outside stand numbers that find or count rows and reach no answer: the way of a segment that a box leads to,
//! whether a node is there.
use rusqlite::types::ValueRef;

use super::describe::{Range, range_of};
use super::model::{Driven, EdgeRow, EndMaskRow, LaneRow, MaskRow, NodeRow, OverheadRow, RoadRow, SegmentRow, StopRow};
use super::road;
use super::schema::{Load, Row, TABLES, Table};
use crate::base::geodesy::{Position, length_m};
use crate::base::words::{Case, Direction, Evidence, RatedBy, Rating};

/// Times are kept to the millisecond and lengths to the centimetre: what two of them say together is not exact.
const ROUNDED_S: f64 = 0.01;
/// Shares are kept to 0.0001.
const ROUNDED_SHARE: f64 = 0.000_2;
/// Shares of shorter times are not held to their rounded seconds.
const LEAST_S: f64 = 10.0;

/// What rows of one table keep to.
struct RowRules {
    table: &'static str,
    /// Name of the id and its place among the columns of a query.
    id: (&'static str, usize),
    /// Columns of the query in their order.
    columns: Vec<(&'static str, Option<Range>)>,
}

/// What rows of all tables keep to.
pub(super) struct TableRules {
    /// Whole rows of every table.
    whole: Vec<RowRules>,
    /// What a drive along segments needs of them.
    roads: RowRules,
}

/// What a question may still take: no more rows, and no more bytes of text, geometry and masks, than the file has room for.
/// Pages of a damaged or hostile file may name each other, so that few bytes read as rows without end.
#[derive(Debug, Clone, Copy)]
pub(super) struct Allowance {
    rows: u64,
    bytes: u64,
}

/// Fewest bytes that a row takes in a file.
const LEAST_ROW_BYTES: u64 = 8;

impl Allowance {
    /// For a question to a file of this size.
    pub(super) fn of(file_bytes: u64) -> Self {
        Self { rows: file_bytes / LEAST_ROW_BYTES, bytes: file_bytes }
    }
    /// Takes one row.
    ///
    /// # Errors
    /// The file has no room for it.
    pub(super) fn row(&mut self) -> Result<(), String> {
        self.rows = self.rows.checked_sub(1).ok_or("gives more rows than the whole file has room for")?;
        Ok(())
    }
    fn bytes(&mut self, count: u64) -> Result<(), String> {
        self.bytes = self.bytes.checked_sub(count).ok_or("takes more bytes than the whole file holds")?;
        Ok(())
    }
}

impl TableRules {
    /// Of every table of the layer.
    pub(super) fn new() -> Self {
        let whole = TABLES.iter().map(|table| RowRules::of(table, &table.names())).collect();
        Self { whole, roads: RowRules::of(&SegmentRow::TABLE, &road::COLUMNS) }
    }
    /// Reads a row of a query of whole rows.
    ///
    /// # Errors
    /// A sentence with table, row, column and value.
    pub(super) fn read<R: Load + Coherent>(&self, row: &rusqlite::Row<'_>, left: &mut Allowance) -> Result<R, String> {
        let Some(rules) = self.whole.iter().find(|r| r.table == R::TABLE.name) else {
            return Err(format!("table {} is not known", R::TABLE.name));
        };
        rules.read(row, left, R::load)
    }
    /// Reads a row of a query of [`road::COLUMNS`].
    ///
    /// # Errors
    /// As of [`TableRules::read`].
    pub(super) fn road(&self, row: &rusqlite::Row<'_>, left: &mut Allowance) -> Result<RoadRow, String> {
        self.roads.read(row, left, road::load)
    }
}

impl RowRules {
    /// For queries of some columns of a table.
    fn of(table: &Table, names: &[&'static str]) -> Self {
        let at = names.iter().position(|n| *n == table.id).unwrap_or(0);
        let columns = names.iter().map(|n| (*n, range_of(table.name, n))).collect();
        Self { table: table.name, id: (table.id, at), columns }
    }
    /// Reads a row: the one gate.
    fn read<R: Coherent>(
        &self,
        row: &rusqlite::Row<'_>,
        left: &mut Allowance,
        load: impl Fn(&rusqlite::Row<'_>) -> Result<R, String>,
    ) -> Result<R, String> {
        let told = |fact: String| format!("table {}, {}, {fact}", self.table, self.named(row));
        self.check(row, left).map_err(told)?;
        let loaded = load(row).map_err(told)?;
        match loaded.contradiction() {
            Some((column, fact)) => Err(told(format!("column {column}: {fact}"))),
            None => Ok(loaded),
        }
    }
    /// Counts a row, and holds its figures to their ranges.
    fn check(&self, row: &rusqlite::Row<'_>, left: &mut Allowance) -> Result<(), String> {
        left.row()?;
        for (i, (name, range)) in self.columns.iter().enumerate() {
            let value = row.get_ref(i).map_err(|e| e.to_string())?;
            let taken = match value {
                ValueRef::Text(bytes) | ValueRef::Blob(bytes) => bytes.len() as u64,
                _ => 0,
            };
            left.bytes(taken).map_err(|fact| format!("column {name}: {fact}"))?;
            if let Some(range) = range {
                within(value, *range).map_err(|fact| format!("column {name}: {fact}"))?;
            }
        }
        Ok(())
    }
    /// The row as people find it: its id, or its place in the file where the id is none.
    fn named(&self, row: &rusqlite::Row<'_>) -> String {
        let (name, at) = self.id;
        match (row.get_ref(at), row.get_ref(0)) {
            (Ok(ValueRef::Integer(id)), _) => format!("{name} {id}"),
            (_, Ok(ValueRef::Integer(fid))) => format!("row {fid}"),
            _ => "a row".to_owned(),
        }
    }
}

/// Whether a figure is within its range; what is not a figure is left to the kind of its column.
fn within(value: ValueRef<'_>, range: Range) -> Result<(), String> {
    let (is_within, told) = match value {
        // Whole numbers beyond 2^53 lose digits here, but stay beyond every range.
        ValueRef::Integer(n) => ((range.min..=range.max).contains(&(n as f64)), n.to_string()),
        ValueRef::Real(x) => ((range.min..=range.max).contains(&x), figure(x)),
        _ => return Ok(()),
    };
    if is_within { Ok(()) } else { Err(format!("{told} is not from {} to {}", range.min, range.max)) }
}

/// A figure in few letters.
fn figure(x: f64) -> String {
    if x != 0.0 && (x.abs() >= 1e12 || x.abs() < 1e-6) { format!("{x:e}") } else { format!("{x}") }
}

/// A column and what is wrong with it beside the others of its row.
pub(crate) type Contradiction = (&'static str, String);

/// What columns of a row say together.
pub(crate) trait Coherent {
    /// The first column that cannot be true beside the others.
    fn contradiction(&self) -> Option<Contradiction> {
        None
    }
}

impl Coherent for NodeRow {}
impl Coherent for OverheadRow {}

impl Coherent for RoadRow {
    fn contradiction(&self) -> Option<Contradiction> {
        too_long(&self.line)
    }
}

impl Coherent for SegmentRow {
    fn contradiction(&self) -> Option<Contradiction> {
        let of = |d: Direction, driven: Driven| {
            let [time, outage] = match d {
                Direction::Forward => ["time_forward_s", "outage_forward_s"],
                Direction::Backward => ["time_backward_s", "outage_backward_s"],
            };
            drive(self.length_m, (time, driven.time_s), (outage, driven.outage_s))
        };
        let drives = Direction::BOTH.into_iter().find_map(|d| of(d, self.driven[d]?));
        let ends = Ends {
            rating: (self.rating_best, self.rating, self.rating_worst),
            share: (self.outage_share_best, Some(self.outage_share), self.outage_share_worst),
        };
        let ends = ends.contradiction(["rating_best", "rating_worst", "outage_share_best", "outage_share_worst"]);
        let drives = drives
            .or(ends)
            .or_else(|| unknown_worst(self))
            .or_else(|| Direction::BOTH.into_iter().find_map(|d| of_direction(d, self.driven[d]?)));
        let steady = self.rating == Rating::Steady;
        let by = (steady != (self.rated_by == RatedBy::None))
            .then(|| ("rated_by", format!("is {} where the rating is {}", self.rated_by, self.rating)));
        drives.or(by).or_else(|| too_long(&self.line)).or_else(|| {
            let above = self.open_share_min > self.open_share + ROUNDED_SHARE;
            above.then(|| {
                let fact = format!("{} is more than open_share, {}", self.open_share_min, self.open_share);
                ("open_share_min", fact)
            })
        })
    }
}

/// The worst is empty in every column of a row where a cause could not be known, and in none otherwise.
fn unknown_worst(row: &SegmentRow) -> Option<Contradiction> {
    let mut columns =
        vec![("rating_worst", row.rating_worst.is_none()), ("outage_share_worst", row.outage_share_worst.is_none())];
    for (driven, rating, share) in [
        (&row.driven.forward, "rating_worst_forward", "outage_share_worst_forward"),
        (&row.driven.backward, "rating_worst_backward", "outage_share_worst_backward"),
    ] {
        let Some(driven) = driven else { continue };
        columns.extend([(rating, driven.rating_worst.is_none()), (share, driven.outage_share_worst.is_none())]);
    }
    let apart = row.rating_worst != Some(row.rating_best) || row.outage_share_worst != Some(row.outage_share_best);
    if row.evidence == Evidence::Data && apart {
        return Some(("evidence", "is data, though best and worst differ".to_owned()));
    }
    let unknown = row.evidence == Evidence::Unknown;
    let (column, _) = columns.into_iter().find(|(_, is_empty)| *is_empty != unknown)?;
    Some((column, format!("does not fit evidence, {}", row.evidence)))
}

/// Ends of a direction.
fn of_direction(direction: Direction, driven: Driven) -> Option<Contradiction> {
    // Times too short for a share that says something.
    let likely = (driven.time_s > LEAST_S).then(|| driven.outage_s / driven.time_s);
    let ends = Ends {
        rating: (driven.rating_best, driven.rating, driven.rating_worst),
        share: (driven.outage_share_best, likely, driven.outage_share_worst),
    };
    ends.contradiction(match direction {
        Direction::Forward => {
            ["rating_best_forward", "rating_worst_forward", "outage_share_best_forward", "outage_share_worst_forward"]
        }
        Direction::Backward => [
            "rating_best_backward",
            "rating_worst_backward",
            "outage_share_best_backward",
            "outage_share_worst_backward",
        ],
    })
}

/// Figures at best, as stated, at worst.
struct Ends {
    rating: (Rating, Rating, Option<Rating>),
    share: (f64, Option<f64>, Option<f64>),
}

impl Ends {
    /// The first that is out of its order, by the names of the columns of best and worst.
    fn contradiction(&self, [best, worst, share_best, share_worst]: [&'static str; 4]) -> Option<Contradiction> {
        let (low, likely, high) = self.rating;
        let (low_share, share, high_share) = self.share;
        let least = share.unwrap_or(low_share) - ROUNDED_SHARE;
        let found = [
            (best, low > likely, "worse than"),
            (worst, high.is_some_and(|high| high < likely), "better than"),
            (share_best, share.is_some_and(|share| low_share > share + ROUNDED_SHARE), "more than"),
            (share_worst, high_share.is_some_and(|high| high < least), "less than"),
        ];
        let (column, _, what) = found.into_iter().find(|(_, is_out, _)| *is_out)?;
        Some((column, format!("is {what} the likely value")))
    }
}

impl Coherent for EdgeRow {
    fn contradiction(&self) -> Option<Contradiction> {
        drive(self.length_m, ("time_s", self.time_s), ("outage_s", self.outage_s))
    }
}

impl Coherent for LaneRow {
    fn contradiction(&self) -> Option<Contradiction> {
        of_lane(("lane_id", self.lane_id), self.segment_id, self.forward)
    }
}

impl Coherent for MaskRow {
    fn contradiction(&self) -> Option<Contradiction> {
        of_lane(("mask_id", self.mask_id), self.segment_id, self.forward)
    }
}

impl Coherent for EndMaskRow {
    fn contradiction(&self) -> Option<Contradiction> {
        let id = Self::id_of(lane_id(self.segment_id, self.forward), self.at);
        if self.at == Case::Likely {
            return Some(("at", format!("`{}` belongs in masks, not here", self.at)));
        }
        (self.end_mask_id != id)
            .then(|| ("end_mask_id", format!("is not {id}, which its segment, direction and end give")))
    }
}

impl Coherent for StopRow {
    fn contradiction(&self) -> Option<Contradiction> {
        if !self.roof_agrees() {
            return Some(("roofed", format!("`{}` is not what `{}` says", self.roofed, self.roofed_from)));
        }
        let wrong = self.places.iter().find(|p| {
            let reach = super::describe::PANEL_REACH_M;
            !(0.0..=reach).contains(&p.distance_m)
                || !(0.0..=1.0).contains(&p.open_share)
                || !(0.0..=360.0).contains(&p.bearing_deg)
        })?;
        let told = [wrong.distance_m, wrong.bearing_deg, wrong.open_share].map(figure).join(" ");
        Some(("places", format!("`{told}` is not a place for a panel")))
    }
}

/// The id of the lane of a segment in a direction.
fn lane_id(segment_id: i64, forward: bool) -> i64 {
    2 * segment_id - i64::from(forward)
}

/// Whether an id is that of a segment in a direction.
fn of_lane((column, own): (&'static str, i64), segment_id: i64, forward: bool) -> Option<Contradiction> {
    let id = lane_id(segment_id, forward);
    (own != id).then(|| (column, format!("is not {id}, which its segment and direction give")))
}

/// Whether a length is driven in its time at a speed that a road may have, and not without a link for longer than that.
fn drive(length_m: f64, time: (&'static str, f64), outage: (&'static str, f64)) -> Option<Contradiction> {
    let seconds_at = |kmh: f64| length_m * 3.6 / kmh;
    let Range { min, max, .. } = super::describe::DRIVEN_KMH;
    let (shortest_s, longest_s) = (seconds_at(max) - ROUNDED_S, seconds_at(min) + ROUNDED_S);
    if !(shortest_s..=longest_s).contains(&time.1) {
        let fact = format!("{} s for {} m is not a speed from {min} to {max} km/h", figure(time.1), figure(length_m));
        return Some((time.0, fact));
    }
    let longer = outage.1 > time.1 + ROUNDED_S;
    longer.then(|| (outage.0, format!("{} s is more than the driving time, {} s", figure(outage.1), figure(time.1))))
}

/// A line longer than segments are.
fn too_long(line: &[Position]) -> Option<Contradiction> {
    // Steps along the axes are never shorter than the line; nearly every line is short even so.
    const METRES_PER_E7: f64 = 0.011_2;
    let step =
        |w: &[Position]| i64::from(w[0].lon_e7.abs_diff(w[1].lon_e7)) + i64::from(w[0].lat_e7.abs_diff(w[1].lat_e7));
    let steps: i64 = line.windows(2).map(step).sum();
    if steps as f64 * METRES_PER_E7 <= super::describe::SEGMENT_M.max {
        return None;
    }
    let (long_m, most_m) = (length_m(line), super::describe::SEGMENT_M.max);
    (long_m > most_m).then(|| (super::schema::GEOMETRY, format!("is {long_m:.0} m long, more than {most_m:.0} m")))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_beyond_their_range_are_told_in_few_letters() {
        let share = range_of("segments", "open_share").unwrap();
        assert_eq!(within(ValueRef::Real(1.0), share), Ok(()));
        assert_eq!(within(ValueRef::Null, share), Ok(()), "the kind of the column decides whether it may be empty");
        assert_eq!(within(ValueRef::Real(1e300), share).unwrap_err(), "1e300 is not from 0 to 1");
        assert_eq!(within(ValueRef::Real(f64::INFINITY), share).unwrap_err(), "inf is not from 0 to 1");
        assert_eq!(within(ValueRef::Integer(-1), share).unwrap_err(), "-1 is not from 0 to 1");
        assert!(within(ValueRef::Real(f64::NAN), share).is_err());
    }

    #[test]
    fn a_question_takes_no_more_than_the_file_holds() {
        let mut left = Allowance::of(80);
        assert!((0..10).all(|_| left.row().is_ok()) && left.row().is_err());
        assert!(left.bytes(60).is_ok() && left.bytes(21).unwrap_err().contains("more bytes"));
    }

    #[test]
    fn every_figure_has_a_range() {
        for table in &TABLES {
            for column in table.columns.iter().filter(|c| c.sql == "REAL") {
                assert!(range_of(table.name, column.name).is_some(), "{}.{}", table.name, column.name);
            }
        }
    }

    #[test]
    fn a_drive_has_the_speed_of_a_road() {
        let of = |length_m, time_s, outage_s| drive(length_m, ("time_s", time_s), ("outage_s", outage_s)).map(|c| c.0);
        assert_eq!(of(250.0, 9.0, 9.0), None);
        assert_eq!(of(0.0, 0.0, 0.0), None);
        assert_eq!(of(250.0, 0.0, 0.0), Some("time_s"));
        assert_eq!(of(250.0, 30_000.0, 0.0), Some("time_s"));
        assert_eq!(of(250.0, 9.0, 9.1), Some("outage_s"));
    }
}
