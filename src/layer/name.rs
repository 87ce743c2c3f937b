//! What is found by its name, as stored: one row for each spelling of a place, a place to stop or a road.
use rusqlite::types::ToSqlOutput;

use super::checked::{Coherent, Contradiction};
use super::columns::{ColumnKind, Exact, Id, Maybe, Metres, Text, Word};
use super::geometry::Bounds;
use super::schema::{Column, ColumnPlaces, Load, Row, Table, fetch_at, store, table};
use crate::base::fold::folded;
use crate::base::geodesy::Position;
use crate::base::words::NameKind;

/// A row of `names` (no geometry): something that can be found by a name.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct NameRow {
    /// Id, from 1.
    pub name_id: i64,
    /// The name as it is looked for, see [`crate::base::fold::folded`].
    pub folded: String,
    /// The name as the map has it, or its English form.
    pub name: String,
    /// What it is the name of.
    pub kind: NameKind,
    /// The row it points to: `place_id`, `stop_id`, or `segment_id` of a segment of the road.
    pub row_id: i64,
    /// `place_id` of the larger place that it lies in or near; nothing where there is none.
    pub near_id: Option<i64>,
    /// Length of the segments of the road there, metres; nothing for what is no road.
    pub length_m: Option<f64>,
    /// Where it is, latitude, degrees.
    pub lat_deg: f64,
    /// Longitude, degrees.
    pub lon_deg: f64,
}

impl NameRow {
    /// Where it is.
    pub fn at(&self) -> Position {
        Position::from_deg(self.lon_deg, self.lat_deg)
    }
}

table!(NameRow, "names", "Names to be found by", key name_id, indexed &["folded"], {
    folded "folded" Text,
    name "name" Text,
    kind "kind" Word<NameKind>,
    row_id "row_id" Id,
    near_id "near_id" Maybe<Id>,
    length_m "length_m" Maybe<Metres>,
    lat_deg "lat_deg" Exact,
    lon_deg "lon_deg" Exact,
});

impl Coherent for NameRow {
    fn contradiction(&self) -> Option<Contradiction> {
        if self.folded.is_empty() || folded(&self.name) != self.folded {
            return Some(("folded", "is not the spelling of name without marks".to_owned()));
        }
        let is_road = self.kind == NameKind::Road;
        (is_road != self.length_m.is_some())
            .then(|| ("length_m", format!("does not fit kind, {}: roads alone have a length", self.kind)))
    }
}
