//! Places typed by name or as coordinates: one is taken and said, several are asked back, none is told with what is near.
use std::path::Path;
use std::process::Command;

use rusqlite::Connection;
use waymask::ask::search::{NameFit, find, place_typed};
use waymask::layer::Layer;

use crate::ask::town::Town;
use crate::build::kit::Place;

/// The street from 28 W, with two villages of one name 30 km apart by two towns, a road called after a town, and more.
fn country() -> Place {
    let mut town = Town::with_middle(&[]);
    let s = &mut town.sketch;
    let place = |kind: &'static str, name: &'static str| [("place", kind), ("name", name)];
    s.node(0.0, 300.0, &place("town", "Ångström"));
    s.node(3_000.0, 400.0, &place("town", "Saint-Rémy"));
    s.node(1_000.0, 600.0, &[("place", "village"), ("name", "Überlingen"), ("name:en", "Lake End")]);
    s.node(200.0, 2_500.0, &place("village", "Altdorf"));
    s.node(3_200.0, 2_600.0, &place("village", "Altdorf"));
    s.node(1_500.0, 900.0, &place("hamlet", "Road to Nowhere"));
    s.node(2_000.0, -700.0, &place("hamlet", "\u{1b}[31mRed\u{202e}"));
    s.line(&[(0.0, 200.0), (300.0, 200.0)], &[("highway", "residential"), ("name", "Saint-Rémy")]);
    s.line(&[(0.0, 200.0), (0.0, 0.0)], &[("highway", "residential"), ("name", "Short Lane")]);
    s.line(
        &[(0.0, -200.0), (2_900.0, -200.0)],
        &[("highway", "residential"), ("name", "Long Lane"), ("ref", "L 7;L 8")],
    );
    s.line(&[(0.0, -200.0), (0.0, 0.0)], &[("highway", "residential"), ("name", "Hof")]);
    town.build()
}

fn told(layer: &Layer, text: &str) -> String {
    place_typed(layer, text).map_or_else(|e| format!("error: {e}"), |p| p.told.unwrap_or_else(|| "coordinates".into()))
}

#[test]
fn one_clear_place_is_taken_and_said() {
    let place = country();
    let layer = &place.layer;
    for (text, want) in [
        ("Ångström", "Ångström (town, "),
        ("angstrom", "Ångström (town, "),
        ("  ANGSTRÖM ", "Ångström (town, "),
        ("angst", "Ångström (town, "),
        ("angstrm", "Ångström (town, "),
        ("Lake End", "Lake End (village, "),
        ("end lake", "Lake End (village, "),
        ("uberlingen", "Überlingen (village, "),
        ("Altdorf, Saint-Remy", "Altdorf (village, "),
        ("Altdorf, angstrom", "Altdorf (village, "),
        ("Short Lane", "Short Lane (road near Ångström, "),
        ("lane short", "Short Lane (road near Ångström, "),
        ("long lane in angstrom", "Long Lane (road near Ångström, "),
        ("L8 in Saint-Remy", "error: "),
        ("L 8 in Saint-Remy", "L 8 (road near Saint-Rémy, "),
        ("hof", "Hof (road near Ångström, "),
        ("47,-28", "coordinates"),
        ("N47 W28", "coordinates"),
    ] {
        let said = told(layer, text);
        assert!(said.starts_with(want), "{text}: {said}");
    }
    assert!(told(layer, "angstrm").ends_with("the nearest name to what was typed"));
    let north = |text: &str| place_typed(layer, text).unwrap().at;
    assert!(north("Altdorf, Saint-Rémy").lon_e7 > north("Altdorf, Ångström").lon_e7);
    assert_eq!(find(layer, "uber").unwrap().best[0].fit, NameFit::Begins);
}

#[test]
fn several_are_asked_back_with_what_to_type() {
    let place = country();
    let layer = &place.layer;
    for (text, parts) in [
        (
            "Altdorf",
            &["could be 2 places", "`Altdorf, Ångström` (village near Ångström, ", "`Altdorf, Saint-Rémy`"][..],
        ),
        ("saint remy", &["could be 2 places", "(Saint-Rémy, town)", "`Saint-Rémy in Ångström` (road, "]),
        ("Long Lane", &["could be 2 places", "`Long Lane in Ångström` (road, "]),
        ("lane", &["could be", "Short Lane in Ångström"]),
    ] {
        let error = place_typed(layer, text).unwrap_err();
        assert_eq!(error.exit_code(), 2);
        let said = error.to_string();
        assert!(said.lines().count() == 2 && parts.iter().all(|part| said.contains(part)), "{text}: {said}");
        // Whatever is offered is one place.
        for offer in said.split('`').skip(3).step_by(2) {
            place_typed(layer, offer).unwrap_or_else(|e| panic!("{text}: {offer}: {e}"));
        }
    }
}

#[test]
fn what_is_no_place_is_an_error_with_what_to_do() {
    let place = country();
    let layer = &place.layer;
    for (text, part) in [
        ("", "is empty"),
        ("   ", "is empty"),
        ("Zzyzx Grove", "is not a name of the layer\n  Give coordinates"),
        ("anxxtrxm", "id you mean `Ångström`"),
        ("\u{1b}\u{7}", "is not a name of the layer"),
        ("…", "is not a name of the layer"),
        ("42.5", "is one number, and no name"),
        ("47,", "not a whole pair"),
        ("91,0", "did you mean `0,91`?"),
        ("-27.99,47", "outside of the layer, and inside with its numbers swapped: did you mean `47,-27.99`?"),
        ("47N 28N", "two latitudes"),
        ("Altdorf, Nowhere", "is not a name of the layer"),
        ("in", "is not a name of the layer"),
        (", in , in ", "is not a name of the layer"),
    ] {
        let error = place_typed(layer, text).unwrap_err();
        let said = error.to_string();
        assert!(error.exit_code() == 2 && said.contains(part), "{text:?}: {said}");
        assert!(said.lines().count() == 2 && !said.contains('\u{1b}'), "{said:?}");
    }
    // Letters settle it: nothing is swapped in silence, and nothing refused that is said.
    assert!(place_typed(layer, "27.99W 47N").is_ok());
    let red = told(layer, "31mred");
    assert!(!red.starts_with("error"), "{red}");
}

fn run(layer: &Path, args: &[&str]) -> (Option<i32>, String) {
    let out = Command::new(env!("CARGO_BIN_EXE_waymask")).arg(args[0]).arg(layer).args(&args[1..]).output().unwrap();
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    (out.status.code(), format!("{}{}", text(&out.stdout), text(&out.stderr)))
}

#[test]
fn commands_take_names_and_say_what_they_took() {
    let place = country();
    let day = ["--way", "fastest", "--depart", "2026-06-15T08:00"];
    let plan = [&["plan", "Angstrom to Saint-Rémy, Saint-Rémy; 47,-27.97"][..], &day].concat();
    for (args, code, parts) in [
        (&["route", "Angstrom to Short Lane"][..], 0, &["from Ångström (town, ", "to Short Lane (road near"][..]),
        (&["route", "Angstrom", "47,-27.97", "--via", "Lake End"], 0, &["from Ångström", "via 1 Lake End (village"]),
        (&["route", "Road to Nowhere; N47 W27.97"], 0, &["from Road to Nowhere (hamlet, "]),
        (&["route", "Angstrom"], 2, &["TO: is missing"]),
        (&["route", "Angstrom to Angström"], 2, &["goes from a place to the same place"]),
        (&["route", "Angstrom to Altdorf"], 2, &["could be 2 places"]),
        (&["route", "nowhere.gpx"], 1, &["nowhere.gpx: does not exist"]),
        (&["stops", "--near", "hof"], 0, &["near Hof (road near Ångström, "]),
        (&["sky", "--at", "lake end", "--json"], 0, &["Street\""]),
        (&["sky", "--at", "Angstrom"], 0, &["at Ångström (town, "]),
        (&["corridor", "Angstrom"], 2, &["is one place; a drive needs two"]),
        (&["corridor", "Qqqqq"], 2, &["is not a name of the layer"]),
        (&["corridor", "47,-28 47,-27.99"], 0, &["track"]),
        (&plan, 2, &["Saint-Rémy, Saint-Rémy"]),
        (&["plan", "Angstrom to Lake End", day[0], day[1], day[2], day[3]], 0, &["note: times in Etc/GMT+2 (UTC-02)"]),
        (&["plan", "Angstrom to Lake End", "--zone=+05:00", day[0], day[1], day[2], day[3]], 0, &["as --zone says"]),
        (
            &["plan", "Angstrom to Lake End", "--zone=Red/Dwarf", day[0], day[1], day[2], day[3]],
            2,
            &["not a valid time zone"],
        ),
    ] {
        let (found, text) = run(&place.path, args);
        assert_eq!(found, Some(code), "{args:?}: {text}");
        assert!(parts.iter().all(|part| text.contains(part)), "{args:?}: {text}");
    }
}

#[test]
fn results_tell_the_places_that_people_know() {
    let place = country();
    let (_, text) = run(&place.path, &["route", "47,-28", "47,-27.961"]);
    assert!(text.contains("  through Ångström (town)") && text.contains("Saint-Rémy (town)"), "{text}");
    let (_, json) = run(&place.path, &["route", "47,-28", "47,-27.961", "--json"]);
    let json: serde_json::Value = serde_json::from_str(&json).unwrap();
    let towns = json["ways"][0]["towns"].as_array().unwrap();
    assert_eq!((&towns[0]["town"], &towns[0]["town_kind"]), (&"Ångström".into(), &"town".into()));
}

/// A table that was changed alone is told as damage, wherever it is met.
#[test]
fn names_that_point_elsewhere_are_refused() {
    for (spoil, text, part) in [
        ("names SET row_id = row_id + 50 WHERE folded = 'angstrom'", "Angstrom", "column row_id: there is no town"),
        ("names SET lat_deg = lat_deg + 1 WHERE folded = 'angstrom'", "Angstrom", "column row_id: there is no town"),
        ("names SET row_id = 7 WHERE folded = 'short lane'", "Short Lane", "column row_id: there is no road"),
        ("names SET near_id = 999 WHERE folded = 'short lane'", "Short Lane", "column near_id: there is no place 999"),
        ("names SET folded = 'paris' WHERE folded = 'angstrom'", "Paris", "column folded: is not the spelling"),
        ("places SET kind = 'city', rank = 1 WHERE name = 'Ångström'", "Angstrom", "column row_id: there is no town"),
    ] {
        let place = country();
        let file = Connection::open(&place.path).unwrap();
        // Those of the R-tree need functions that only a GIS has.
        file.set_db_config(rusqlite::config::DbConfig::SQLITE_DBCONFIG_ENABLE_TRIGGER, false).unwrap();
        file.execute_batch(&format!("UPDATE {spoil}")).unwrap();
        drop(file);
        let layer = Layer::open(&place.path).unwrap();
        let error = place_typed(&layer, text).unwrap_err();
        let said = error.to_string();
        assert!(error.exit_code() == 1 && said.contains(part) && said.contains("waymask build"), "{spoil}: {said}");
    }
    let place = country();
    Connection::open(&place.path).unwrap().execute_batch("DELETE FROM names WHERE name_id = 1").unwrap();
    let said = Layer::open(&place.path).err().map(|e| e.to_string()).unwrap_or_default();
    assert!(said.contains("table names has"), "{said}");
}
