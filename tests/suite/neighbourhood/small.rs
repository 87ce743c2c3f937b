//! Towns drawn here, of which the answer is plain.
use waymask::base::geodesy::{LocalPlane, Point, Position};
use waymask::base::words::RoadClass;
use waymask::map::extract::model::*;
use waymask::map::neighbourhood::Neighbourhood;
use waymask::profile::Profile;

/// A country road of 40 km to the east; around kilometre 20 a village of streets.
struct Country {
    extract: Extract,
    plane: LocalPlane,
}

impl Country {
    fn at(lon_deg: f64, lat_deg: f64) -> Self {
        let mut country = Self { extract: Extract::default(), plane: LocalPlane::at(lon_deg, lat_deg) };
        let points: Vec<(f64, f64)> = (0..=80).map(|k| (500.0 * f64::from(k), 0.0)).collect();
        country.road(RoadClass::Secondary, &points);
        country
    }
    fn place(&self, x_m: f64, y_m: f64) -> Position {
        let (lon, lat) = self.plane.to_lon_lat(Point::new(x_m, y_m));
        Position::from_deg(if lon > 180.0 { lon - 360.0 } else { lon }, lat)
    }
    fn road(&mut self, class: RoadClass, points: &[(f64, f64)]) {
        let id = self.extract.roads.len() as i64 + 1;
        let nodes = points.iter().zip(1..).map(|((x, y), n)| RoadNode { id: 1000 * id + n, at: self.place(*x, *y) });
        self.extract.roads.push(Road::untagged(id, class, nodes.collect()));
    }
    fn ring(&self, x_m: f64, y_m: f64, half_m: f64) -> Area {
        let corners = [(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0), (-1.0, -1.0)];
        let outer = corners.iter().map(|(x, y)| self.place(x_m + x * half_m, y_m + y * half_m)).collect();
        Area { outer, inners: Vec::new() }
    }
    /// Nine streets of houses, 100 m apart.
    fn streets(&mut self) {
        for k in -4..=4 {
            let x = 20_000.0 + 100.0 * f64::from(k);
            self.road(RoadClass::Residential, &[(x, -400.0), (x, 0.0), (x, 400.0)]);
        }
    }
    fn house(&mut self, x_m: f64, y_m: f64, kind: BuildingKind, height_m: Option<f32>) {
        let area = self.ring(x_m, y_m, 5.0);
        self.extract.buildings.push(Building {
            id: self.extract.buildings.len() as i64 + 1,
            kind,
            area,
            part: false,
            roof_only: false,
            height_m,
            min_height_m: None,
            levels: None,
            roof_levels: None,
            roof_height_m: None,
            layer: 0,
        });
    }
    /// A house every 40 m along every street.
    fn houses(&mut self) {
        for k in -4..=4 {
            for n in -9..=9 {
                self.house(20_020.0 + 100.0 * f64::from(k), 40.0 * f64::from(n), BuildingKind::House, None);
            }
        }
    }
    fn cover(&mut self, kind: CoverKind, x_m: f64, half_m: f64) {
        let area = self.ring(x_m, 0.0, half_m);
        self.extract.covers.push(GroundCover { id: 1, kind, area });
    }
    fn canopy(&mut self, shape: CanopyShape) {
        let (leaf_type, leaf_cycle) = (LeafType::Unknown, LeafCycle::Unknown);
        self.extract.canopy.push(Canopy {
            id: 1,
            shape,
            leaf_type,
            leaf_cycle,
            height_m: None,
            crown_diameter_m: None,
        });
    }
    fn around(&self) -> Neighbourhood {
        Neighbourhood::of(&self.extract, &Profile::default().surroundings)
    }
}

/// Longitudes and latitudes at which the same country must be judged alike: far north, and across 180 degrees.
const PLACES: [(f64, f64); 4] = [(10.0, 46.0), (10.0, 0.0), (179.8, -17.0), (20.0, 69.0)];

#[test]
fn houses_along_streets_are_expected() {
    for (lon, lat) in PLACES {
        let mut country = Country::at(lon, lat);
        country.streets();
        let (village, fields) = (country.place(20_000.0, 0.0), country.place(5_000.0, 0.0));
        assert!(!country.around().buildings_mapped(village), "streets without a house at {lon} {lat}");
        // A single house does not make the village mapped.
        country.house(20_020.0, 20.0, BuildingKind::Other, None);
        assert!(!country.around().buildings_mapped(village), "one house at {lon} {lat}");
        country.houses();
        let around = country.around();
        assert!(around.buildings_mapped(village), "at {lon} {lat}");
        assert!(!around.buildings_mapped(fields), "15 km away nobody knows, at {lon} {lat}");
        assert!(
            around.buildings_mapped(country.place(18_000.0, 0.0)),
            "the fields outside the village, at {lon} {lat}"
        );
    }
}

#[test]
fn a_quarter_left_out_is_noticed_beside_one_that_is_mapped() {
    let mut country = Country::at(10.0, 46.0);
    country.streets();
    country.houses();
    // Streets 2 km to the east without a house.
    for k in -4..=4 {
        let x = 22_500.0 + 100.0 * f64::from(k);
        country.road(RoadClass::Residential, &[(x, -400.0), (x, 0.0), (x, 400.0)]);
    }
    let around = country.around();
    assert!(around.buildings_mapped(country.place(20_000.0, 0.0)));
    assert!(!around.buildings_mapped(country.place(22_500.0, 0.0)));
}

#[test]
fn a_garage_here_and_there_is_not_a_town_that_is_mapped() {
    // A town of 2 by 2 km, streets 100 m apart, and a building every so many metres.
    let mapped = |every_m: f64| {
        let mut country = Country::at(10.0, 46.0);
        for k in 0..20 {
            let x = 19_000.0 + 100.0 * f64::from(k);
            country.road(RoadClass::Residential, &[(x, -1000.0), (x, 0.0), (x, 1000.0)]);
        }
        let side = (2000.0 / every_m) as i32;
        for n in 0..side * side {
            let (x, y) = (every_m * f64::from(n % side), every_m * f64::from(n / side));
            country.house(19_020.0 + x, y - 980.0, BuildingKind::Small, None);
        }
        country.around().buildings_mapped(country.place(20_000.0, 0.0))
    };
    assert!(mapped(40.0) && mapped(100.0));
    assert!(!mapped(400.0) && !mapped(600.0));
}

#[test]
fn dense_roads_without_houses_are_a_town_that_nobody_has_drawn() {
    let mut country = Country::at(10.0, 46.0);
    country.streets();
    country.houses();
    for k in 0..12 {
        let across = 150.0 * f64::from(k);
        country.road(RoadClass::Unclassified, &[(22_000.0, across), (23_800.0, across)]);
        country.road(RoadClass::Tertiary, &[(22_000.0 + across, 0.0), (22_000.0 + across, 1_650.0)]);
    }
    let around = country.around();
    let town = country.place(22_800.0, 800.0);
    assert!(!around.buildings_mapped(town) && around.built_up(town) == Some(true));
    assert!(around.buildings_mapped(country.place(18_000.0, 0.0)), "a road between fields is none");
}

#[test]
fn trees_are_mapped_where_some_are_or_where_the_ground_is() {
    for (lon, lat) in PLACES {
        let mut country = Country::at(lon, lat);
        let at = country.place(20_000.0, 0.0);
        assert!(!country.around().trees_mapped(at), "nothing drawn at {lon} {lat}");
        country.canopy(CanopyShape::Tree(country.place(20_010.0, 10.0)));
        assert!(!country.around().trees_mapped(at), "one tree at {lon} {lat}");
        let alone = country.extract.canopy.clone();
        for n in 0..50 {
            country.canopy(CanopyShape::Tree(country.place(20_010.0, 10.0 * f64::from(n))));
        }
        assert!(country.around().trees_mapped(at), "an avenue at {lon} {lat}");
        assert!(!country.around().trees_mapped(country.place(5_000.0, 0.0)), "but not 15 km away, at {lon} {lat}");
        country.extract.canopy = alone.clone();
        country.canopy(CanopyShape::Wood(country.ring(20_000.0, 600.0, 500.0)));
        assert!(country.around().trees_mapped(at), "a wood of a square kilometre at {lon} {lat}");
        // Fields all around: a road without trees.
        country.extract.canopy = alone;
        country.cover(CoverKind::Treeless, 20_000.0, 1_500.0);
        assert!(country.around().trees_mapped(at), "fields at {lon} {lat}");
        assert!(!country.around().trees_mapped(country.place(5_000.0, 0.0)), "no fields, at {lon} {lat}");
    }
}

#[test]
fn a_settlement_says_nothing_of_its_trees() {
    let mut country = Country::at(10.0, 46.0);
    country.streets();
    country.houses();
    country.cover(CoverKind::Settled, 20_000.0, 1_500.0);
    assert!(!country.around().trees_mapped(country.place(20_000.0, 0.0)));
}

#[test]
fn built_up_by_houses_by_streets_or_by_a_settlement() {
    for (lon, lat) in PLACES {
        let make = |with: fn(&mut Country)| {
            let mut country = Country::at(lon, lat);
            with(&mut country);
            let at = |x| country.around().built_up(country.place(x, 0.0));
            (at(20_000.0), at(17_500.0), at(5_000.0))
        };
        let known = (Some(true), Some(false), None);
        assert_eq!(make(|_| ()), (None, None, None), "nothing mapped at {lon} {lat}");
        assert_eq!(make(Country::houses), known, "houses at {lon} {lat}");
        assert_eq!(make(Country::streets), known, "streets at {lon} {lat}");
        assert_eq!(make(|c| c.cover(CoverKind::Settled, 20_000.0, 600.0)), known, "a settlement at {lon} {lat}");
        // A farm is not a village.
        let farm =
            |c: &mut Country| (0..5).for_each(|n| c.house(20_000.0, 30.0 * f64::from(n), BuildingKind::Hall, None));
        assert_eq!(make(farm).0, Some(false), "a farm at {lon} {lat}");
    }
}

#[test]
fn heights_of_neighbours_are_quartiles_of_their_kind() {
    let mut country = Country::at(10.0, 46.0);
    for (n, height_m) in [4.0, 6.0, 8.0, 10.0, 30.0].into_iter().enumerate() {
        country.house(20_000.0, 30.0 * n as f64, BuildingKind::House, Some(height_m));
    }
    country.house(20_000.0, 300.0, BuildingKind::Church, Some(40.0));
    let around = country.around();
    let near = around.heights().around(country.place(20_000.0, 0.0), BuildingKind::House);
    assert_eq!((near.count, near.low_m, near.median_m, near.high_m), (5, 6.0, 8.0, 10.0));
    let far = around.heights().around(country.place(5_000.0, 0.0), BuildingKind::House);
    assert_eq!(far.count, 0);
    assert_eq!(around.heights().count(), 6);
}
