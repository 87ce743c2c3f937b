//! Which named place people know a position by: the one rule for search, tables and the brief.
//!
//! A place counts as if it were nearer the larger it is: a city at a quarter of its distance, a town at two fifths, a hamlet at
//! twice. So a village within 2 km is told before a town 10 km away, and that town before a village 5 km away. Beyond the reach of
//! its kind a place is not told at all. Suburbs and islands are left out: they say little without their town.
use rstar::primitives::GeomWithData;
use rstar::{PointDistance, RTree};

use super::model::PlaceRow;
use crate::base::geodesy::{LocalPlane, Point, Position, distance_m};
use crate::base::words::PlaceKind;

/// Share of its distance that a place of a kind counts with, and how far it reaches, metres; nothing for those left out.
/// Assumed: no source says how far people know a place.
fn weight(kind: PlaceKind) -> Option<(f64, f64)> {
    match kind {
        PlaceKind::City => Some((0.25, 60_000.0)),
        PlaceKind::Town => Some((0.4, 40_000.0)),
        PlaceKind::Village => Some((1.0, 20_000.0)),
        PlaceKind::Pass => Some((1.0, 2_000.0)),
        PlaceKind::Hamlet => Some((2.0, 5_000.0)),
        PlaceKind::Suburb | PlaceKind::Island => None,
    }
}

/// How far any kind reaches, metres.
pub const MOST_REACH_M: f64 = 60_000.0;

/// Radius of the sphere that neighbours are looked up on, metres; distances told are those of the ellipsoid.
const SPHERE_M: f64 = 6_371_000.0;

/// A place that a position is known by.
#[derive(Debug, Clone, PartialEq)]
pub struct KnownBy {
    /// The place.
    pub place: PlaceRow,
    /// From the place to the position, metres.
    pub distance_m: f64,
    /// From the place, degrees clockwise from true north.
    pub bearing_deg: f64,
}

/// A place in a tree: where it lies on a unit sphere, and which one it is.
type Leaf = GeomWithData<[f64; 3], usize>;

/// Places by kind, to find those near a position.
pub struct KnownPlaces {
    places: Vec<PlaceRow>,
    trees: Vec<(PlaceKind, RTree<Leaf>)>,
}

/// Where a position lies on a unit sphere: neighbours are found over the poles and 180 degrees, too.
fn on_sphere(at: Position) -> [f64; 3] {
    let ((lat_sin, lat_cos), (lon_sin, lon_cos)) =
        (at.lat_deg().to_radians().sin_cos(), at.lon_deg().to_radians().sin_cos());
    [lat_cos * lon_cos, lat_cos * lon_sin, lat_sin]
}

impl KnownPlaces {
    /// Of some places.
    pub fn new(places: Vec<PlaceRow>) -> Self {
        let of = |kind: PlaceKind| {
            let those = places.iter().enumerate().filter(|(_, place)| place.kind == kind);
            RTree::bulk_load(those.map(|(i, place)| Leaf::new(on_sphere(place.at), i)).collect())
        };
        let kinds = PlaceKind::ALL.iter().copied().filter(|kind| weight(*kind).is_some());
        let trees = kinds.map(|kind| (kind, of(kind))).collect();
        Self { places, trees }
    }
    /// The places.
    pub fn all(&self) -> &[PlaceRow] {
        &self.places
    }
    /// The place that a position is known by; nothing where none is near enough.
    pub fn near(&self, at: Position) -> Option<KnownBy> {
        self.near_of(at, |_| true)
    }
    /// The larger place that a place is known by.
    pub fn near_larger(&self, place: &PlaceRow) -> Option<KnownBy> {
        let is_larger = |kind: PlaceKind| match place.kind {
            PlaceKind::City => false,
            PlaceKind::Town => kind == PlaceKind::City,
            PlaceKind::Village | PlaceKind::Island | PlaceKind::Pass => kind <= PlaceKind::Town,
            PlaceKind::Hamlet | PlaceKind::Suburb => kind <= PlaceKind::Village,
        };
        self.near_of(place.at, is_larger)
    }
    fn near_of(&self, at: Position, takes: impl Fn(PlaceKind) -> bool) -> Option<KnownBy> {
        let from = on_sphere(at);
        let mut best: Option<(f64, usize)> = None;
        for (kind, tree) in self.trees.iter().filter(|(kind, _)| takes(*kind)) {
            let Some((share, reach_m)) = weight(*kind) else { continue };
            let Some(nearest) = tree.nearest_neighbor(from) else { continue };
            // Two at the same distance: the one with the lower id, whatever the tree looks like.
            let chord2 = nearest.distance_2(&from);
            let same = tree.locate_within_distance(from, chord2 * (1.0 + 1e-12));
            let nth = same.map(|leaf| leaf.data).min().unwrap_or(nearest.data);
            let rough_m = SPHERE_M * chord2.sqrt();
            if rough_m > 1.01 * reach_m {
                continue;
            }
            let away_m = distance_m(self.places[nth].at, at);
            if away_m <= reach_m && best.is_none_or(|(least, _)| share * away_m < least) {
                best = Some((share * away_m, nth));
            }
        }
        best.map(|(_, nth)| KnownBy::of(self.places[nth].clone(), at))
    }
}

impl KnownBy {
    /// Of a place, seen from which a position lies somewhere.
    fn of(place: PlaceRow, at: Position) -> Self {
        let seen = LocalPlane::at_position(place.at).to_plane(at);
        let bearing_deg = Point::default().azimuth_deg(seen);
        Self { distance_m: distance_m(place.at, at), bearing_deg, place }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn place(id: i64, kind: PlaceKind, lat_deg: f64) -> PlaceRow {
        let at = Position::from_deg(10.0, lat_deg);
        PlaceRow { place_id: id, name: format!("{kind} {id}"), kind, at, ..PlaceRow::default() }
    }

    fn told(places: Vec<PlaceRow>) -> Option<i64> {
        KnownPlaces::new(places).near(Position::from_deg(10.0, 50.0)).map(|known| known.place.place_id)
    }

    /// Degrees of latitude for kilometres, near enough: 111.2 km each.
    fn north(km: f64) -> f64 {
        50.0 + km / 111.2
    }

    #[test]
    fn a_village_nearby_is_told_before_a_town_far_away_and_not_before_one_that_is_near() {
        use PlaceKind::{City, Hamlet, Island, Pass, Suburb, Town, Village};
        let two =
            |a: (PlaceKind, f64), b: (PlaceKind, f64)| told(vec![place(1, a.0, north(a.1)), place(2, b.0, north(b.1))]);
        assert_eq!(two((Village, 2.0), (Town, 10.0)), Some(1));
        assert_eq!(two((Village, 5.0), (Town, 10.0)), Some(2));
        assert_eq!(two((Town, 10.0), (City, 15.0)), Some(2));
        assert_eq!(two((Hamlet, 0.4), (Village, 1.0)), Some(1));
        assert_eq!(two((Hamlet, 0.6), (Village, 1.0)), Some(2));
        assert_eq!(two((Pass, 2.5), (Village, 10.0)), Some(2), "a pass is a spot");
        assert_eq!(told(vec![place(1, Suburb, 50.0), place(2, Island, 50.0)]), None);
        assert_eq!((told(vec![place(1, Town, north(41.0))]), told(Vec::new())), (None, None));
        assert_eq!(
            told(vec![place(7, Village, north(3.0)), place(3, Village, north(3.0))]),
            Some(7),
            "the first of two"
        );
    }

    #[test]
    fn bearings_and_distances_are_those_from_the_place() {
        let known = KnownPlaces::new(vec![place(1, PlaceKind::Town, 50.0)]);
        let seen = known.near(Position::from_deg(10.0, north(4.0))).unwrap();
        assert!((seen.distance_m - 4_000.0).abs() < 10.0 && seen.bearing_deg.abs() < 0.1, "{seen:?}");
    }

    #[test]
    fn places_over_180_degrees_are_near() {
        let at = Position::from_deg(179.99, 0.0);
        let town = PlaceRow { kind: PlaceKind::Town, at, ..PlaceRow::default() };
        let seen = KnownPlaces::new(vec![town]).near(Position::from_deg(-179.99, 0.0)).unwrap();
        assert!((seen.distance_m - 2_226.4).abs() < 1.0 && (seen.bearing_deg - 90.0).abs() < 0.1, "{seen:?}");
    }
}
