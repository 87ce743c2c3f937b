//! Places to stop of small scenes, with answers known beforehand.
use std::process::Command;

use waymask::base::caution::{self, Caution};
use waymask::base::geodesy::{LocalPlane, Point};
use waymask::base::words::{Cause, MapObject, Roofed, RoofedBy, StandsOn, StopAccess, StopKind};
use waymask::layer::model::{PanelPlace, StopRow};
use waymask::physics::orbit::latitude_key;
use waymask::physics::orbit::weights::{cone_weights, sky_weights};
use waymask::physics::sky::mask::{AZIMUTH_BINS, SkyGrid};
use waymask::profile::Profile;

use crate::build::kit::{Place, Sketch, sample};
use crate::extract_builder::relation;

const PARKING: &[(&str, &str)] = &[("amenity", "parking")];
/// A wall along x stands this far north of the vehicle, and is this high, metres.
const WALL_Y_M: f64 = 6.0;
const WALL_M: f64 = 12.0;

/// A road 100 m south of the origin that is driven, and nothing else.
fn land() -> Sketch {
    let mut s = Sketch::at(47.0);
    s.line(&[(-300.0, -100.0), (300.0, -100.0)], &[("highway", "tertiary"), ("name", "South <Road>")]);
    s
}

fn walled() -> Sketch {
    let mut s = land();
    s.line(&[(-400.0, WALL_Y_M), (400.0, WALL_Y_M)], &[("barrier", "wall"), ("height", "12")]);
    s
}

fn built(s: &Sketch) -> Place {
    let mut profile = Profile::default();
    profile.link.drives = 4;
    s.build(profile)
}

fn only_stop(place: &Place) -> StopRow {
    let mut stops = place.layer.stops().unwrap();
    assert_eq!(stops.len(), 1);
    stops.remove(0)
}

/// The vehicle, in metres of the sketch.
fn vehicle(stop: &StopRow) -> (f64, f64) {
    let p = LocalPlane::at(-28.0, 47.0).to_plane(stop.at);
    (p.x_m, p.y_m)
}

/// A place for the panel, in metres of the sketch.
fn panel(stop: &StopRow, place: &PanelPlace) -> (f64, f64) {
    let ((x, y), (sin, cos)) = (vehicle(stop), place.bearing_deg.to_radians().sin_cos());
    (x + place.distance_m * sin, y + place.distance_m * cos)
}

/// Places other than the vehicle, in metres of the sketch.
fn panels(stop: &StopRow) -> Vec<(f64, f64)> {
    let out: Vec<_> = stop.places.iter().skip(1).map(|p| panel(stop, p)).collect();
    assert!(!out.is_empty(), "{stop:?}");
    out
}

/// Open share of a level panel south of the endless wall: `tan h = (H - panel) cos(azimuth) / distance`, weighted by
/// expected satellites.
fn beside_the_wall(y_m: f64, panel_m: f64) -> f64 {
    let profile = Profile::default();
    let grid = SkyGrid { floor_deg: profile.terminal.floor_deg() };
    let key = f64::from(latitude_key(47.0));
    let sky = sky_weights(key, &profile.constellation, &profile.link, grid);
    let weights = cone_weights(&sky, grid, &profile.terminal, 0.0);
    let mut open = 0.0;
    for bin in 0..AZIMUTH_BINS {
        let azimuth = (5.0 * bin as f64 + 2.5_f64).to_radians();
        let horizon = ((WALL_M - panel_m) * azimuth.cos().max(0.0) / (WALL_Y_M - y_m)).atan();
        for row in 0..grid.rows() {
            let (low, high) = grid.row_edges_deg(row);
            let (low, high) = (low.to_radians().sin(), high.to_radians().sin());
            let hidden = ((horizon.sin() - low) / (high - low)).clamp(0.0, 1.0);
            open += f64::from(weights[grid.cell(bin, row)]) * (1.0 - hidden);
        }
    }
    open
}

#[test]
fn with_a_wall_north_of_a_car_park_the_panel_goes_south_and_sees_what_the_closed_form_says() {
    let mut s = walled();
    s.node(0.0, 0.0, &[("amenity", "parking"), ("name", "P & R"), ("access", "customers")]);
    let place = built(&s);
    let stop = only_stop(&place);
    assert_eq!((stop.kind, stop.osm_type, stop.access), (StopKind::Parking, MapObject::Node, StopAccess::Customers));
    assert_eq!((stop.name.as_deref(), stop.road.as_str()), (Some("P & R"), "South <Road>"));
    assert!((stop.road_distance_m - 100.0).abs() < 0.1 && (stop.along_m - 100.0).abs() < 0.1, "{stop:?}");
    assert_eq!((stop.main_cause, stop.roofed, stop.stands_on), (Cause::Building, Roofed::No, StandsOn::Ground));
    // In the middle of the second of three pieces of 200 m.
    assert_eq!(stop.segment_id, 2);
    let close = |got: f64, want: f64| assert!((got - want).abs() < 0.01, "{got} {want} {stop:?}");
    close(stop.open_share, beside_the_wall(0.0, 2.0));
    for at in &stop.places[1..] {
        let (x, y) = panel(&stop, at);
        assert!(y < -0.7 * x.hypot(y), "not south: {at:?}");
        close(at.open_share, beside_the_wall(y, 1.2));
    }
    // From 15.4 m on the wall stands below 35 degrees.
    assert!(stop.best_open_share > 0.98 && stop.best_distance_m == 10.0 && stop.gain > 0.24, "{stop:?}");
    assert!((stop.gain - (stop.best_open_share - stop.open_share)).abs() < 2e-4);
    assert_eq!(place.built.record.counts["stops: parking"], 1);
}

#[test]
fn under_a_roof_over_pumps_there_is_no_sky_and_beside_it_there_is() {
    let mut s = land();
    s.area([-10.0, -10.0, 10.0, 10.0], &[("building", "roof")]);
    let roofed = s.node(3.0, 2.0, &[("amenity", "fuel")]);
    let free = s.node(200.0, 0.0, &[("amenity", "fuel")]);
    let stops = built(&s).layer.stops().unwrap();
    let of = |id| stops.iter().find(|s| s.osm_id == id).unwrap();
    let stop = of(roofed);
    // The rim stands at most atan(2.8 / 10) = 16 degrees above a panel in the middle: below the usable sky.
    assert_eq!((stop.open_share, stop.main_cause, stop.stands_on), (0.0, Cause::Cover, StandsOn::Roof));
    assert_eq!((stop.roofed, stop.roofed_from), (Roofed::Yes, RoofedBy::Roof));
    let (x, y) = panel(stop, stop.places.last().unwrap());
    assert!(x.abs().max(y.abs()) > 10.0 && stop.best_open_share > 0.98, "{stop:?}");
    // Nobody drew a roof there, which says nothing: what the map knows is open.
    assert_eq!((of(free).roofed, of(free).roofed_from, of(free).open_share), (Roofed::Unknown, RoofedBy::None, 1.0));
    assert_eq!(of(free).places.len(), 1, "nothing is clearer than clear");
}

#[test]
fn a_station_is_without_a_roof_only_where_something_says_so() {
    let mut s = land();
    let fuel = |more: &[(&'static str, &'static str)]| [&[("amenity", "fuel")], more].concat();
    let at_x = |x: f64| [x - 15.0, -60.0, x + 15.0, -40.0];
    let bare = s.node(-230.0, 30.0, &fuel(&[]));
    let outlined = s.area(at_x(-200.0), &fuel(&[]));
    let uncovered = s.node(-150.0, 30.0, &fuel(&[("covered", "no")]));
    let covered = s.node(-130.0, 30.0, &fuel(&[("covered", "yes")]));
    // Roofs are drawn here: a shed's, forty metres from the outline.
    let with_roofs = s.area(at_x(100.0), &fuel(&[]));
    s.area([155.0, -60.0, 165.0, -50.0], &[("building", "roof")]);
    // The building over the pumps, with the road below it.
    s.area([205.0, 20.0, 235.0, 40.0], &[("building", "yes")]);
    s.line(&[(190.0, 30.0), (250.0, 30.0)], &[("highway", "service")]);
    let through = s.node(220.0, 30.0, &fuel(&[]));
    let parking = s.node(-60.0, 30.0, &[("amenity", "parking")]);
    let place = built(&s);
    let stops = place.layer.stops().unwrap();
    for (id, want) in [
        (bare, (Roofed::Unknown, RoofedBy::None)),
        (outlined, (Roofed::Unknown, RoofedBy::None)),
        (uncovered, (Roofed::No, RoofedBy::Tag)),
        (covered, (Roofed::Yes, RoofedBy::Tag)),
        (with_roofs, (Roofed::No, RoofedBy::Outline)),
        (through, (Roofed::Yes, RoofedBy::Roof)),
        (parking, (Roofed::No, RoofedBy::None)),
    ] {
        let stop = stops.iter().find(|stop| stop.osm_id == id).unwrap();
        assert_eq!((stop.roofed, stop.roofed_from), want, "{stop:?}");
        let open = want.0 != Roofed::Yes;
        assert!(if open { stop.open_share > 0.9 } else { stop.open_share == 0.0 }, "{stop:?}");
    }
    let counts = &place.built.record.counts;
    assert_eq!((counts["stops: fuel"], counts["stops roofed: fuel"], counts["stops roof not known: fuel"]), (6, 2, 2));
}

#[test]
fn a_place_ringed_by_water_keeps_its_panel_on_the_island() {
    let mut s = walled();
    s.node(0.0, 0.0, &[("tourism", "camp_site")]);
    let outer = s.area([-60.0, -60.0, 60.0, 60.0], &[]);
    let inner = s.area([-8.0, -8.0, 8.0, 8.0], &[]);
    let water = [("type", "multipolygon"), ("natural", "water")];
    s.objects.push(relation(9_000, &[(outer, "outer"), (inner, "inner")], &water));
    let stop = only_stop(&built(&s));
    // One metre to the bank.
    for (x, y) in panels(&stop) {
        assert!(x.abs() < 7.05 && y.abs() < 7.05, "{x} {y}");
    }
    assert!(stop.best_open_share < 0.95, "the wall is still near: {stop:?}");
}

#[test]
fn rivers_drawn_as_lines_have_their_width_and_are_not_crossed() {
    for (tags, nearest_m) in [(&[("waterway", "river")][..], 6.0), (&[("waterway", "canal"), ("width", "3")], 2.5)] {
        let mut s = walled();
        s.node(0.0, 0.0, PARKING);
        s.line(&[(-300.0, -12.0), (300.0, -12.0)], tags);
        for (x, y) in panels(&only_stop(&built(&s))) {
            assert!(y > -12.0 + nearest_m - 0.05, "{x} {y} {tags:?}");
        }
        // Under the ground it is not an obstacle.
        let mut s = walled();
        s.node(0.0, 0.0, PARKING);
        s.line(&[(-300.0, -12.0), (300.0, -12.0)], &[tags, &[("tunnel", "culvert")]].concat());
        assert_eq!(only_stop(&built(&s)).best_distance_m, 10.0);
    }
}

#[test]
fn a_building_is_neither_entered_nor_are_cables_laid_through_it() {
    let mut s = walled();
    s.node(0.0, 0.0, PARKING);
    let [west, south, east, north] = [-25.0, -20.0, 25.0, -5.0];
    s.area([west, south, east, north], &[("building", "yes"), ("height", "2.5")]);
    let stop = only_stop(&built(&s));
    for (x, y) in panels(&stop) {
        let (x0, y0) = vehicle(&stop);
        for share in (0..=200).map(|i| f64::from(i) / 200.0) {
            let (px, py) = (x0 + share * (x - x0), y0 + share * (y - y0));
            let inside = px > west && px < east && py > south && py < north;
            assert!(!inside, "the cable to {x} {y} runs through the building");
        }
        assert!((x < west - 0.49 || x > east + 0.49) || (y < south - 0.49 || y > north + 0.49), "{x} {y}");
    }
}

#[test]
fn a_road_is_not_crossed_by_a_cable_and_a_service_road_is() {
    let across = |highway: &str| {
        let mut s = walled();
        s.node(0.0, 0.0, PARKING);
        s.line(&[(-300.0, -10.0), (300.0, -10.0)], &[("highway", highway), ("width", "6")]);
        only_stop(&built(&s))
    };
    let stop = across("primary");
    for (x, y) in panels(&stop) {
        assert!(y > -10.0 + 3.0 + 2.45, "{x} {y}: on or beyond the road, or within 2.5 m of it");
    }
    assert!(stop.best_open_share < 0.9, "{stop:?}");
    let stop = across("service");
    assert!(panels(&stop).iter().all(|(_, y)| (y + 10.0).abs() > 3.95), "on the service road: {stop:?}");
    assert!(panels(&stop).iter().any(|(_, y)| *y < -13.9) && stop.best_open_share > 0.98, "{stop:?}");
}

#[test]
fn roofs_known_from_tags_alone_close_the_sky_and_a_deck_is_no_roof() {
    let mut s = land();
    let below = s.node(-150.0, 0.0, &[("amenity", "parking"), ("parking", "underground")]);
    let covered = s.area([-10.0, -10.0, 10.0, 10.0], &[("amenity", "parking"), ("covered", "yes")]);
    let under_deck = s.node(150.0, 0.0, PARKING);
    let (_, deck) =
        s.line(&[(150.0, -70.0), (150.0, 70.0)], &[("highway", "footway"), ("bridge", "yes"), ("width", "20")]);
    assert_eq!(deck.len(), 2);
    let stops = built(&s).layer.stops().unwrap();
    let of = |id| stops.iter().find(|s| s.osm_id == id).unwrap();
    assert_eq!((of(below).roofed_from, of(below).open_share, of(below).places.len()), (RoofedBy::Parking, 0.0, 1));
    assert_eq!(
        (of(covered).roofed_from, of(covered).open_share, of(covered).main_cause),
        (RoofedBy::Tag, 0.0, Cause::Cover)
    );
    assert!(panels(of(covered)).iter().all(|(x, y)| x.abs().max(y.abs()) >= 10.0), "{:?}", of(covered));
    assert!(of(covered).best_open_share > 0.98);
    // 21 m wide, 3.1 m above the panel: its sides stand at 16 degrees.
    assert_eq!(
        (of(under_deck).roofed, of(under_deck).open_share, of(under_deck).main_cause),
        (Roofed::No, 0.0, Cause::Deck)
    );
    assert!(of(under_deck).best_open_share > 0.9, "{:?}", of(under_deck));
}

#[test]
fn the_vehicle_stands_on_the_aisle_of_a_car_park_or_else_on_its_free_ground() {
    let mut s = land();
    let with_aisle = s.area([-40.0, -20.0, 40.0, 20.0], PARKING);
    s.line(&[(0.0, -100.0), (0.0, -15.0)], &[("highway", "service")]);
    let with_house = s.area([100.0, -20.0, 140.0, 20.0], PARKING);
    s.area([112.0, -8.0, 128.0, 8.0], &[("building", "yes")]);
    let far = s.node(0.0, 900.0, &[("tourism", "picnic_site")]);
    let place = built(&s);
    let stops = place.layer.stops().unwrap();
    let of = |id| stops.iter().find(|s| s.osm_id == id).unwrap();
    let (x, y) = vehicle(of(with_aisle));
    assert!(of(with_aisle).stands_on == StandsOn::Aisle && x.abs() < 0.1 && (-20.0..=-14.9).contains(&y), "{x} {y}");
    assert_eq!(of(with_aisle).road, "South <Road>", "the road beyond the aisle");
    let (x, y) = vehicle(of(with_house));
    let beside = (x - 120.0).abs().max(y.abs());
    assert!(of(with_house).stands_on == StandsOn::Ground && (9.9..20.0).contains(&beside), "{x} {y}");
    assert!(stops.iter().all(|s| s.osm_id != far) && place.built.record.counts["stops"] == 2);
    assert!(place.built.record.assumed.iter().any(|a| a.contains("stops: 1 place left out, farther")));
}

#[test]
fn a_wood_drawn_across_a_car_park_does_not_stand_on_it_but_its_own_trees_do() {
    let share = |with_tree: bool| {
        let mut s = land();
        s.area([-200.0, -90.0, 200.0, 200.0], &[("natural", "wood")]);
        let park = s.area([-25.0, -25.0, 25.0, 25.0], PARKING);
        let in_wood = s.node(120.0, 40.0, PARKING);
        if with_tree {
            s.node(0.0, -5.0, &[("natural", "tree"), ("diameter_crown", "12"), ("height", "15")]);
        }
        let stops = built(&s).layer.stops().unwrap();
        let of = |id| stops.iter().find(|s| s.osm_id == id).unwrap().open_share;
        (of(park), of(in_wood))
    };
    let (park, in_wood) = share(false);
    // Trees of 15 m stand 25 m away: 27 degrees, below the usable sky, 20 m ones 36.
    assert!(park > 0.9 && in_wood < 0.3, "{park} {in_wood}");
    let (under_tree, same) = share(true);
    assert!(under_tree < park - 0.1 && same == in_wood, "{under_tree} {same}");
}

fn run(args: &[&str]) -> (bool, String) {
    let out = Command::new(env!("CARGO_BIN_EXE_waymask")).args(args).output().unwrap();
    let text = if out.status.success() { &out.stdout } else { &out.stderr };
    (out.status.success(), String::from_utf8_lossy(text).into_owned())
}

#[test]
fn the_command_lists_stops_by_kind_roof_reach_and_private_ground_only_when_asked() {
    let mut s = walled();
    s.node(0.0, 0.0, &[("amenity", "parking"), ("access", "private"), ("name", "Mine <&>")]);
    s.node(50.0, 0.0, &[("amenity", "parking"), ("name", "Ours")]);
    s.area([90.0, -60.0, 110.0, -40.0], &[("building", "roof")]);
    s.node(100.0, -50.0, &[("amenity", "fuel"), ("name", "Roofed")]);
    s.node(-100.0, -60.0, &[("amenity", "fuel"), ("name", "Open"), ("covered", "no")]);
    s.node(-160.0, -60.0, &[("amenity", "fuel"), ("name", "Unsaid")]);
    let place = built(&s);
    let layer = place.path.to_str().unwrap();
    let names = |args: &[&str]| {
        let (done, text) = run(&[&["stops", layer, "--json"], args].concat());
        assert!(done, "{text}");
        let json: serde_json::Value = serde_json::from_str(&text).unwrap();
        assert_eq!(json["cautions"], serde_json::json!(caution::texts(&Caution::STOPS)));
        let unknown: Vec<&str> =
            json["roof_not_known"].as_array().unwrap().iter().map(|s| s["name"].as_str().unwrap()).collect();
        assert_eq!(unknown, if args.contains(&"--no-roof") { &["Unsaid"][..] } else { &[] });
        json["stops"].as_array().unwrap().iter().map(|s| s["name"].as_str().unwrap().to_owned()).collect::<Vec<_>>()
    };
    // Of the whole layer in the order of districts.
    assert_eq!(names(&[]), ["Open", "Unsaid", "Roofed", "Ours"]);
    assert_eq!(names(&["--private"]).len(), 5);
    assert_eq!(names(&["--kind", "fuel", "--no-roof"]), ["Open"]);
    let (_, table) = run(&["stops", layer, "--kind", "fuel", "--no-roof"]);
    let (known, unknown) = table.split_once("roof not known at 1 place: not known is not open").unwrap();
    assert!(known.contains("Open") && !known.contains("Unsaid") && unknown.contains("Unsaid"), "{table}");
    assert!(!table.contains("Roofed,"), "{table}");
    // On the vehicle the wall hides a good part; ten metres away nothing is hidden. At fuel stations it stays on the vehicle.
    assert_eq!(names(&["--min-open", "0.95", "--reach", "5"]), ["Open", "Unsaid"]);
    assert_eq!(names(&["--min-open", "0.95"]), ["Open", "Unsaid", "Ours"]);
    let at = |x: f64, y: f64| {
        let (lon, lat) = s.plane.to_lon_lat(Point::new(x, y));
        format!("{lat:.7},{lon:.7}")
    };
    assert_eq!(names(&["--near", &at(100.0, 0.0), "--within", "60m"]), ["Roofed", "Ours"]);
    let (west, east) = (at(-250.0, -100.0), at(250.0, -100.0));
    assert_eq!(names(&["--along", &format!("{west} {east}")]), ["Unsaid", "Open", "Ours", "Roofed"]);
    assert_eq!(names(&["--along", &format!("{east} {west}"), "--within", "70"]), ["Roofed", "Open", "Unsaid"]);
    let (_, table) = run(&["stops", layer, "--along", &format!("{east} {west}"), "--private"]);
    for word in ["km 0.1 right", "private: not a place to stop", "Mine <&>", "calling for help"] {
        assert!(table.contains(word), "{word} is not in\n{table}");
    }
    let (done, said) = run(&["stops", layer, "--within", "5km"]);
    assert!(!done && said.contains("--near or --along"), "{said}");
    let file = place.path.with_extension("gpx");
    assert!(run(&["stops", layer, "-o", file.to_str().unwrap()]).0);
    let gpx = std::fs::read_to_string(file).unwrap();
    assert_eq!((gpx.matches("<wpt ").count(), gpx.matches(", roof not known</name>").count()), (4, 1), "{gpx}");
}

#[test]
fn what_a_changed_panel_leaves_of_the_stops_is_said() {
    use waymask::ask::rerate::{NewLayer, RerateQuestion, Wanted, rerate};
    let mut s = walled();
    s.node(0.0, 0.0, PARKING);
    let place = built(&s);
    let again = |set: &str| {
        let output = place.path.with_file_name(format!("{}.gpkg", set.replace(['.', '='], "_")));
        let wanted = Wanted::Values(vec![set.to_owned()]);
        let new = NewLayer { path: output.clone(), overwrite: false };
        let question = RerateQuestion { wanted, output: Some(new), threads: None };
        rerate(&place.layer, &question, &waymask::base::progress::Silent).unwrap();
        waymask::layer::Layer::open(&output).unwrap()
    };
    let said = |layer: &waymask::layer::Layer| layer.record().assumed.iter().any(|a| a.contains("those of the build"));
    let (panel, speed) = (again("terminal.lowest_elevation_deg=50"), again("vehicle.speed_factor=0.9"));
    assert!(said(&panel) && !said(&speed) && !said(&place.layer));
    assert_eq!(panel.stops().unwrap(), place.layer.stops().unwrap());
}

#[test]
fn the_islands_stops_are_where_the_plan_has_them() {
    let mut profile = Profile::default();
    profile.link.drives = 4;
    let place = Sketch::at(47.0).build_with(profile, |o, _| {
        o.extract = sample("varrow.osm.pbf");
        o.elevation = vec![sample("varrow-elevation.tif")];
        o.canopy = vec![sample("varrow-canopy.tif")];
    });
    let stops = place.layer.stops().unwrap();
    let named = |name: &str| stops.iter().find(|s| s.name.as_deref() == Some(name)).unwrap();
    let (roofed, open) = (named("Sallow Cross Pumps"), named("Eastmark Pumps"));
    assert!(roofed.roofed == Roofed::Yes && roofed.open_share < 0.1 && roofed.main_cause == Cause::Cover, "{roofed:?}");
    assert!(open.roofed == Roofed::Unknown && open.open_share > 0.5, "{open:?}");
    // Sallow Wood Camp lies in a wood, Shingle Strand Camp on the beach.
    let (wood, strand) = (named("Sallow Wood Camp"), named("Shingle Strand Camp"));
    assert!(wood.main_cause == Cause::Canopy && wood.open_share + 0.2 < strand.open_share, "{wood:?} {strand:?}");
}
