//! Positions told by the place that people know them by.
use std::collections::BTreeSet;

use serde::Serialize;

use crate::ask::boxes::around;
use crate::base::district::District;
use crate::base::error::Result;
use crate::base::geodesy::{Position, WINDS, eighth};
use crate::base::words::{PlaceKind, Units};
use crate::layer::{KnownBy, KnownPlaces, Layer, MOST_REACH_M};

/// Half the side of a district and more, metres: places are read around the middles of districts.
const DISTRICT_M: f64 = 20_000.0;

/// Where something lies, by the place that people know it by. The rule is that of [`KnownPlaces`].
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TownNear {
    /// Name of the place; its keys stand beside others of a row.
    #[serde(rename = "town")]
    pub name: String,
    /// Its kind.
    #[serde(rename = "town_kind")]
    pub kind: PlaceKind,
    /// From the place, metres.
    #[serde(rename = "town_distance_m")]
    pub distance_m: f64,
    /// From the place, degrees clockwise from true north.
    #[serde(rename = "town_bearing_deg")]
    pub bearing_deg: f64,
}

impl TownNear {
    fn of(known: KnownBy) -> Self {
        let KnownBy { place, distance_m, bearing_deg } = known;
        Self { name: place.name, kind: place.kind, distance_m, bearing_deg }
    }
    /// Whether it is as near as the size of such a place: people then say "at". Where a place ends the layer does not know.
    pub fn is_at(&self) -> bool {
        let size_m = match self.kind {
            PlaceKind::City => 2_500.0,
            PlaceKind::Town => 1_200.0,
            PlaceKind::Village => 600.0,
            _ => 300.0,
        };
        self.distance_m <= size_m
    }
    /// `4 km north of Anselm (town)`, `at Anselm (town)`.
    pub fn words(&self, units: Units) -> String {
        let place = format!("{} ({})", self.name, self.kind);
        if self.is_at() {
            return format!("at {place}");
        }
        // A place that is not at the town is never told as no distance from it.
        let least_m = 0.1 / units.of_road(1.0);
        let is_near = units.of_road(self.distance_m) < 1.0;
        let far = if is_near { units.road(self.distance_m.max(least_m)) } else { units.road_about(self.distance_m) };
        format!("{far} {} of {place}", WINDS[eighth(self.bearing_deg)])
    }
}

/// A town as programs get it in a plan: the words, in kilometres.
pub(in crate::ask) fn in_words<S: serde::Serializer>(town: &Option<TownNear>, to: S) -> Result<S::Ok, S::Error> {
    match town {
        Some(town) => to.serialize_some(&town.words(Units::Metric)),
        None => to.serialize_none(),
    }
}

/// The named places around some positions, read once.
pub struct Towns(KnownPlaces);

impl Towns {
    /// Reads those that positions may be known by.
    ///
    /// # Errors
    /// The layer cannot be read.
    pub fn around(layer: &Layer, positions: impl IntoIterator<Item = Position>) -> Result<Self> {
        let districts: BTreeSet<District> = positions.into_iter().map(District::of).collect();
        let boxes: Vec<_> = districts.iter().flat_map(|d| around(d.middle(), MOST_REACH_M + DISTRICT_M)).collect();
        Ok(Self(KnownPlaces::new(layer.rows_in(&boxes)?)))
    }
    /// The place that a position is known by; nothing where none is near enough, which is not known otherwise either.
    pub fn near(&self, at: Position) -> Option<TownNear> {
        self.0.near(at).map(TownNear::of)
    }
    /// Places that a line goes through in their order, each once in a row: those it comes as near to as their size.
    pub fn through(&self, line: impl IntoIterator<Item = Position>) -> Vec<TownNear> {
        let mut found: Vec<TownNear> = Vec::new();
        for town in line.into_iter().filter_map(|at| self.near(at)).filter(TownNear::is_at) {
            if found.last().is_none_or(|last| last.name != town.name) {
                found.push(town);
            }
        }
        found
    }
}

/// The place that one position is known by.
///
/// # Errors
/// The layer cannot be read.
pub fn town_near(layer: &Layer, at: Position) -> Result<Option<TownNear>> {
    Ok(Towns::around(layer, [at])?.near(at))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn distances_are_said_as_people_say_them() {
        let of = |kind, distance_m, bearing_deg| TownNear { name: "Anselm".to_owned(), kind, distance_m, bearing_deg };
        assert_eq!(of(PlaceKind::Town, 4_100.0, 350.0).words(Units::Metric), "4 km north of Anselm (town)");
        assert_eq!(of(PlaceKind::Town, 1_100.0, 90.0).words(Units::Metric), "at Anselm (town)");
        assert_eq!(of(PlaceKind::Village, 700.0, 100.0).words(Units::Metric), "0.7 km east of Anselm (village)");
        assert_eq!(of(PlaceKind::Hamlet, 1_600.0, 225.0).words(Units::Metric), "2 km south-west of Anselm (hamlet)");
        let miles = |distance_m| of(PlaceKind::Hamlet, distance_m, 225.0).words(Units::Imperial);
        // A mile has 1,609.344 m.
        assert_eq!(miles(3_218.7), "2 mi south-west of Anselm (hamlet)");
        assert_eq!(miles(1_600.0), "1.0 mi south-west of Anselm (hamlet)");
    }
}
