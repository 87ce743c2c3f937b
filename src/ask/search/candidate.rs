//! Something that a name may mean.
use super::spelling::near_spelling;
use crate::base::coordinates::written;
use crate::base::error::Result;
use crate::base::geodesy::{Position, distance_m};
use crate::base::words::NameKind;
use crate::layer::Layer;
use crate::layer::model::{NameRow, PlaceRow};

/// How well a name fits what was typed, the best first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum NameFit {
    /// The same but for accents, capitals and punctuation.
    Exact,
    /// It begins so.
    Begins,
    /// It holds all words, in any order.
    Words,
    /// Letters differ.
    Spelling,
}

/// Something that a name may mean.
#[derive(Debug, Clone, PartialEq)]
pub struct NameCandidate {
    /// Its row in the table of names.
    pub row: NameRow,
    /// The larger place that it lies in or near.
    pub near: Option<PlaceRow>,
    /// How well it fits.
    pub fit: NameFit,
}

/// Places of one name as near as this are one: a town and the middle of its island or suburb, metres.
const SAME_PLACE_M: f64 = 2_000.0;
/// Places to stop of one name as near as this are one, metres.
const SAME_STOP_M: f64 = 500.0;

impl NameCandidate {
    /// Of rows, with the places they lie near; what is told twice is left out.
    pub(super) fn of_rows(layer: &Layer, rows: Vec<NameRow>, fit: NameFit) -> Result<Vec<Self>> {
        let mut found: Vec<Self> = Vec::new();
        let mut rows = rows;
        // The larger of two places stands for both.
        rows.sort_by_key(|row| (row.kind, row.name_id));
        for row in rows {
            if found.iter().any(|known| known.is_same(&row)) {
                continue;
            }
            let near = row.near_id.map(|id| layer.place_of_name(&row, id)).transpose()?;
            found.push(Self { row, near, fit });
        }
        // Near the places that most people know, first.
        found.sort_by_key(|c| (c.row.kind, c.near.as_ref().map(|place| place.rank), c.row.name_id));
        Ok(found)
    }
    fn is_same(&self, other: &NameRow) -> bool {
        let own = &self.row;
        if own.kind == other.kind && own.row_id == other.row_id {
            return true;
        }
        let apart_m = || distance_m(own.at(), other.at());
        match (own.kind, other.kind) {
            (NameKind::Road, _) | (_, NameKind::Road) => false,
            (NameKind::Stop, NameKind::Stop) => own.folded == other.folded && apart_m() <= SAME_STOP_M,
            (_, NameKind::Stop) | (NameKind::Stop, _) => false,
            _ => own.folded == other.folded && apart_m() <= SAME_PLACE_M,
        }
    }
    /// Where it is.
    pub fn at(&self) -> Position {
        self.row.at()
    }
    /// Places come before roads, and these before places to stop.
    pub(super) fn class(&self) -> u8 {
        match self.row.kind {
            NameKind::Stop => 2,
            NameKind::Road => 1,
            _ => 0,
        }
    }
    /// `Wether Harbour (town, 46.96922,-28.05054)`.
    pub fn told(&self) -> String {
        let near =
            self.near.as_ref().filter(|_| self.class() > 0).map_or(String::new(), |p| format!(" near {}", p.name));
        format!("{} ({}{near}, {})", self.row.name, self.row.kind, self.coordinates())
    }
    /// Its coordinates as they can be typed.
    pub(super) fn coordinates(&self) -> String {
        written(self.row.lat_deg, self.row.lon_deg)
    }
    /// What to type to mean it and no other of some: its name with a place, else its coordinates.
    pub(super) fn typed(&self, among: &[Self]) -> String {
        let Some(near) = &self.near else { return self.coordinates() };
        let is_alike = |other: &&Self| {
            other.row.folded == self.row.folded && other.near.as_ref().is_some_and(|o| o.name == near.name)
        };
        let fits_list = self.row.name.contains([',', ';']) || near.name.contains([',', ';']);
        if among.iter().filter(is_alike).count() > 1 || fits_list {
            return self.coordinates();
        }
        let join = if self.row.kind == NameKind::Road { " in " } else { ", " };
        format!("{}{join}{}", self.row.name, near.name)
    }
    /// Whether it lies in or near a place that is spelt so.
    pub(super) fn lies_near(&self, town: &str) -> bool {
        self.near.as_ref().is_some_and(|place| {
            let english = place.name_en.as_deref().unwrap_or_default();
            [place.name.as_str(), english].iter().any(|name| near_spelling(town, name))
        })
    }
}
