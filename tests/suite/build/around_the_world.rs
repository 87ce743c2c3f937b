//! The same small world anywhere on earth, and maps that cannot be true.
use waymask::base::defect::Defect;
use waymask::base::geodesy::{LocalPlane, Point};
use waymask::base::progress::Silent;
use waymask::base::words::{DrivingSide, SideFrom, TerrainEvidence};
use waymask::build::{self, BuildOptions};
use waymask::layer::model::SegmentRow;
use waymask::profile::Profile;

use crate::build::kit::{Place, Sketch, write_raster};

fn few_drives() -> Profile {
    let mut profile = Profile::default();
    profile.link.drives = 16;
    profile
}

/// Share of the sky that a wall east of a northbound road hides from the lane driven.
fn hidden_by_eastern_wall((lat, lon): (f64, f64), side: Option<DrivingSide>) -> (f64, DrivingSide, SideFrom) {
    let mut sketch = Sketch::around(lat, lon);
    let tags = [("highway", "primary"), ("oneway", "yes"), ("lanes", "2")];
    let (road, _) = sketch.line(&[(0.0, 0.0), (0.0, 400.0)], &tags);
    sketch.area([8.0, -400.0, 20.0, 800.0], &[("building", "yes"), ("height", "15")]);
    let mut profile = few_drives();
    profile.vehicle.driving_side = side;
    let place = sketch.build(profile);
    let row = place.of_way(road)[0];
    (row.blocked_building, row.keeps, row.keeps_from)
}

#[test]
fn a_wall_east_of_a_northbound_road_hides_more_where_traffic_keeps_right() {
    for (at, side) in [((45.76, 4.84), DrivingSide::Right), ((35.18, 136.9), DrivingSide::Left)] {
        let found = hidden_by_eastern_wall(at, None);
        assert_eq!((found.1, found.2), (side, SideFrom::Country));
        let right = hidden_by_eastern_wall(at, Some(DrivingSide::Right));
        let left = hidden_by_eastern_wall(at, Some(DrivingSide::Left));
        assert!(right.0 > left.0 + 0.02, "{right:?} {left:?}");
        assert_eq!(found.0, if side == DrivingSide::Right { right.0 } else { left.0 });
        assert_eq!((right.2, left.1), (SideFrom::Profile, DrivingSide::Left));
    }
}

#[test]
fn the_record_says_how_many_kilometres_keep_to_which_side_where() {
    let mut sketch = Sketch::around(53.80, -1.55);
    sketch.line(&[(0.0, 0.0), (1_000.0, 0.0)], &[("highway", "primary")]);
    sketch.line(&[(0.0, 50.0), (500.0, 50.0)], &[("highway", "primary"), ("driving_side", "right")]);
    let record = sketch.build(few_drives()).built.record;
    let km = |key: &str| record.km_by_side.get(key).copied().unwrap_or(0.0);
    assert!((km("left GB") - 1.0).abs() < 0.01 && (km("right GB") - 0.5).abs() < 0.01, "{:?}", record.km_by_side);
}

/// A crossroads with a wood and a building across its middle, a bridge over it, and terrain from two rasters that meet there.
fn crossroads(lon_deg: f64) -> Place {
    let mut sketch = Sketch::around(-16.8, lon_deg);
    let points: Vec<(f64, f64)> = (-5..=5).map(|i| (100.0 * f64::from(i), 0.0)).collect();
    sketch.line(&points, &[("highway", "primary"), ("name", "along")]);
    sketch.line(&[(-200.0, 300.0), (300.0, 300.0)], &[("highway", "secondary"), ("name", "beside")]);
    sketch.line(&[(20.0, -400.0), (20.0, -30.0)], &[("highway", "tertiary"), ("name", "south")]);
    let over = [("highway", "tertiary"), ("bridge", "yes"), ("layer", "1"), ("name", "bridge")];
    sketch.line(&[(20.0, -30.0), (20.0, 30.0)], &over);
    sketch.area([-300.0, 12.0, 300.0, 40.0], &[("building", "yes"), ("height", "15")]);
    sketch.area([-200.0, -150.0, 200.0, -8.0], &[("natural", "wood")]);
    sketch.node(60.0, 305.0, &[("amenity", "parking")]);
    let plane = sketch.plane;
    let mut profile = few_drives();
    // Fiji keeps left, the coast of Africa right.
    profile.vehicle.driving_side = Some(DrivingSide::Right);
    sketch.build_with(profile, |options, folder| {
        // A ridge that runs along the road north of it, in one raster west of the middle and one east of it.
        let ridge = |p: Point| (1_000.0 - 1.6 * (p.y_m - 900.0).abs()).max(0.0) as f32;
        for (name, middle_m) in [("west.tif", -6_000.0), ("east.tif", 6_000.0)] {
            let (lon, lat) = plane.to_lon_lat(Point::new(middle_m, 0.0));
            let own = LocalPlane::at(waymask::base::geodesy::lon_on_earth_deg(lon), lat);
            let path = folder.join(name);
            write_raster(&path, &own, 6_000.0, 30.0, ridge);
            options.elevation.push(path);
        }
    })
}

/// Figures of a row that follow from its length.
fn figures(row: &SegmentRow) -> [f64; 4] {
    [row.length_m, row.speed_kmh, row.width_m, row.driven.forward.map_or(0.0, |d| d.time_s)]
}

/// Shares of the sky. Draws have places as their keys, so figures of outages differ by luck.
fn shares(row: &SegmentRow) -> [f64; 5] {
    [row.open_share, row.blocked_deck, row.blocked_building, row.blocked_terrain, row.blocked_canopy]
}

#[test]
fn a_world_across_the_antimeridian_is_that_of_any_other_meridian() {
    let (here, there) = (crossroads(10.0), crossroads(180.0));
    let sorted = |place: &Place| {
        let mut rows = place.rows.clone();
        rows.sort_by(|a, b| (&a.name, a.part).cmp(&(&b.name, b.part)));
        rows
    };
    let (a, b) = (sorted(&here), sorted(&there));
    assert_eq!(a.len(), b.len());
    let most = |f: &dyn Fn(&SegmentRow) -> f64| a.iter().map(f).fold(0.0, f64::max);
    let blocked = [most(&|r| r.blocked_canopy), most(&|r| r.blocked_building), most(&|r| r.blocked_terrain)];
    assert!(blocked.iter().all(|share| *share > 0.02), "something of every kind: {blocked:?}");
    for (a, b) in a.iter().zip(&b) {
        assert_eq!((&a.name, a.part), (&b.name, b.part));
        // Rasters that end at 180 degrees are not one mosaic: between their last pixels lies a strip that nobody knows.
        let known = |e| matches!(e, TerrainEvidence::Raster | TerrainEvidence::Coarse | TerrainEvidence::Part);
        assert!(
            known(a.evidence_terrain) && known(b.evidence_terrain),
            "{:?} {:?}",
            a.evidence_terrain,
            b.evidence_terrain
        );
        for (x, y) in figures(a).into_iter().zip(figures(b)) {
            assert!((x - y).abs() <= 0.004 * x.abs(), "{:?} {}: {x} and {y}", a.name, a.part);
        }
        for (x, y) in shares(a).into_iter().zip(shares(b)) {
            assert!((x - y).abs() <= 0.08, "{:?} {}: {x} and {y}", a.name, a.part);
        }
        assert!((a.outage_share - b.outage_share).abs() < 0.3, "{} {}", a.outage_share, b.outage_share);
    }
    // Positions are whole 1e-7 degrees, and a centimetre moves an edge from one step of the masks to the next: single rows differ
    // by up to 0.08 between a building and the trees before it at any two meridians, the road as a whole does not.
    let mean = |rows: &[SegmentRow], k: usize| {
        let whole_m: f64 = rows.iter().map(|r| r.length_m).sum();
        rows.iter().map(|r| shares(r)[k] * r.length_m).sum::<f64>() / whole_m
    };
    for k in 0..5 {
        assert!((mean(&a, k) - mean(&b, k)).abs() < 0.02, "share {k}: {} and {}", mean(&a, k), mean(&b, k));
    }
    assert_eq!(b[0].country.as_deref(), Some("FJ"), "near Taveuni");
    let stops = |p: &Place| p.built.record.counts.get("stops").copied();
    assert_eq!((stops(&here), stops(&there)), (Some(1), Some(1)));
    let decks = |p: &Place| p.built.record.counts.get("overheads").copied();
    assert!(decks(&here) > Some(0) && decks(&here) == decks(&there), "{:?} {:?}", decks(&here), decks(&there));
}

#[test]
fn steps_that_no_road_or_ferry_makes_are_cut_out_and_counted() {
    let mut sketch = Sketch::around(46.0, 10.0);
    // A node one degree too far north, and one on the wrong side of the earth.
    let (off, _) = sketch.line(&[(0.0, 0.0), (0.0, 500.0), (0.0, 111_320.0), (0.0, 1_000.0), (0.0, 1_500.0)], &ROAD);
    let (sign, _) = sketch.line(&[(50.0, 0.0), (50.0, 500.0), (-8_500_000.0, 600.0)], &ROAD);
    let (ferry, _) = sketch.line(&[(100.0, 0.0), (300_000.0, 0.0)], &[("route", "ferry"), ("motor_vehicle", "yes")]);
    let place = sketch.build(few_drives());
    let km = |id| place.of_way(id).iter().map(|r| r.length_m).sum::<f64>() / 1_000.0;
    assert!((km(off) - 1.0).abs() < 0.01 && (km(sign) - 0.5).abs() < 0.01, "{} {}", km(off), km(sign));
    assert!(km(ferry) > 290.0, "ferries cross seas in one line");
    let tally = &place.built.record.defects[Defect::LongStep.code()];
    assert_eq!((tally.count, tally.examples.len()), (3, 2));
}

const ROAD: [(&str, &str); 1] = [("highway", "primary")];

#[test]
fn roads_at_a_pole_are_left_out_and_an_extract_of_nothing_else_is_an_error() {
    for lat in [89.96, -89.995] {
        let mut sketch = Sketch::around(lat, 10.0);
        sketch.line(&[(-500.0, 0.0), (500.0, 0.0)], &ROAD);
        let folder = tempfile::tempdir().unwrap();
        let options = BuildOptions::new(sketch.write(folder.path()), folder.path().join("pole.gpkg"));
        let said = build::build(&options, &Silent).unwrap_err().to_string();
        assert!(
            said.contains("near a pole") && said.contains("89.9 degrees") && said.contains("place.osm.pbf"),
            "{said}"
        );
    }
    let mut sketch = Sketch::around(89.89, 10.0);
    let (road, _) = sketch.line(&[(0.0, 0.0), (0.0, 500.0), (0.0, 5_000.0)], &ROAD);
    let place = sketch.build(few_drives());
    let metres: f64 = place.of_way(road).iter().map(|r| r.length_m).sum();
    assert!(
        (metres - 500.0).abs() < 1.0 && place.built.record.defects.contains_key(Defect::NearPole.code()),
        "{metres}"
    );
}

#[test]
fn roundabouts_drawn_for_the_other_side_are_told_in_the_record() {
    let mut sketch = Sketch::around(45.76, 4.84);
    for k in 0..4 {
        let corner = |i: usize| {
            let p = Point::new(200.0 * f64::from(k), 0.0).moved(30.0 * i as f64, 15.0);
            (p.x_m, p.y_m)
        };
        let mut nodes: Vec<i64> = (0..12).map(|i| sketch.node(corner(i).0, corner(i).1, &[])).collect();
        nodes.push(nodes[0]);
        sketch.way(&nodes, &[("highway", "primary"), ("junction", "roundabout")]);
    }
    let place = sketch.build(few_drives());
    let assumed = &place.built.record.assumed;
    assert!(assumed.iter().any(|s| s.contains("4 of 4 roundabouts")), "{assumed:?}");
    // sqrt(2.5 x 15) m/s is 22 km/h.
    assert!(place.rows.iter().all(|r| (r.speed_kmh - 22.0).abs() < 0.5), "{:?}", place.rows[0].speed_kmh);
}

#[test]
fn a_lateral_acceleration_out_of_range_is_named_with_its_range() {
    let said = waymask::profile::source::parse("[vehicle]\nlateral_mps2 = 12.0\n", "p.toml").unwrap_err().to_string();
    assert!(said.contains("vehicle.lateral_mps2") && said.contains("0.3") && said.contains('8'), "{said}");
}
