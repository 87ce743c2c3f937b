//! Energy of a plan: the order of its day, the meeting in which the panel goes off, the sun of its place.
use std::path::Path;
use std::process::Command;

use super::plan::{AT_EIGHT, NO_SHIFT, folder, json, run};

/// 60 W from eight o'clock on, in use or not, and 30 Wh to give.
const POOR: &str = "[departure]\nearlier_min = 0\nlater_min = 0\n[work]\nstopped_h = 0\n[power]\nworking_w = 60\nidle_w = 60\n\
                    other_w = 0\n[battery]\nvolts = 10\namp_hours = 3\nusable_depth = 1\nconverter_efficiency = 1\n";

#[test]
fn the_meeting_in_which_the_panel_goes_off_is_said_first() {
    let (_keep, folder) = folder("must-not-drop", POOR);
    let answer = json(&run(&folder, &[&AT_EIGHT[..], &["--json"]].concat()));
    let energy = &answer["spending"]["energy"];
    assert_eq!(energy["off_times"], 1, "{energy}");
    // 30 Wh at 60 W last half an hour; the meeting is from 08:25 to 08:40.
    let off = &energy["off"][0];
    assert_eq!((off["from"].as_str(), off["date"].as_str()), (Some("08:30"), Some("Mon 2026-06-15")), "{off}");
    assert_eq!(off["meetings"], serde_json::json!(["Datum <review>"]));
    assert_eq!(
        (off["place"]["name"].as_str(), off["place"]["lat_deg"].as_f64()),
        (Some("Meadow; car park"), Some(42.5004))
    );
    // It stays off until the arrival.
    let chosen = &answer["days"][0]["plan"]["chosen"];
    let stamp = |at: &str| at.parse::<jiff::Timestamp>().unwrap().as_second() as f64;
    let lasts_s = stamp(chosen["arrive"].as_str().unwrap()) - stamp("2026-06-15T08:30:00Z");
    assert!((off["lasts_s"].as_f64().unwrap() - lasts_s).abs() < 1e-6, "{off}, not {lasts_s}");
    assert!((off["missing_wh"].as_f64().unwrap() - lasts_s / 60.0).abs() < 1e-6, "{off}");
    let first = "THE PANEL GOES OFF DURING \"Datum <review>\": the battery is empty on Mon 2026-06-15 from 08:30 to ";
    assert!(answer["days"][0]["plan"]["notes"][0].as_str().unwrap().starts_with(first), "{answer}");
    // The hours of the file and of the day clash, and that is told.
    let notes = answer["spending"]["notes"].to_string();
    assert!(
        notes.contains("the engine runs while the plan drives (") && notes.contains("work.driving_h = 6 h"),
        "{notes}"
    );
    let table = String::from_utf8(run(&folder, &AT_EIGHT).stdout).unwrap();
    assert!(table.starts_with(first), "{table}");
}

/// A day later everything of a meeting without power said "below 1 %" again: on the row of a late departure, and after midnight.
#[test]
fn a_meeting_without_power_has_that_word_wherever_it_is_told() {
    let (_keep, folder) = folder("must-not-drop", POOR);
    // Of one name: one before the panel goes off, and one over midnight.
    let event = |uid: &str, from: &str, to: &str| {
        format!(
            "BEGIN:VEVENT\r\nUID:{uid}\r\nDTSTAMP:20260101T000000Z\r\nDTSTART:{from}Z\r\nDTEND:{to}Z\r\nSUMMARY:Standup\r\n\
             CATEGORIES:casual\r\nEND:VEVENT\r\n"
        )
    };
    let events =
        [event("a", "20260615T080500", "20260615T081000"), event("b", "20260615T235000", "20260616T001000")].concat();
    let ics = std::fs::read_to_string(folder.join("day.ics")).unwrap();
    std::fs::write(folder.join("day.ics"), ics.replace("END:VCALENDAR", &format!("{events}END:VCALENDAR"))).unwrap();
    let answer = json(&run(&folder, &[&AT_EIGHT[..], &["--json"]].concat()));
    let plan = &answer["days"][0]["plan"];
    let words = |way: &serde_json::Value| -> Vec<(String, String, f64)> {
        let told = |m: &serde_json::Value| {
            let word = |key: &str| m[key].as_str().unwrap().to_owned();
            (word("uid"), word("verdict"), m["risk"].as_f64().unwrap())
        };
        way["meetings"].as_array().unwrap().iter().map(told).collect()
    };
    let chosen = words(&plan["chosen"]);
    let word = |uid: &str| chosen.iter().find(|m| m.0 == uid).unwrap();
    assert_eq!((word("1").1.as_str(), word("1").2), ("no power", 1.0));
    assert_eq!((word("b").1.as_str(), word("b").2), ("no power", 1.0), "the battery stays empty over midnight");
    assert_ne!(word("a").1, "no power", "it is over before the panel goes off");
    for late in plan["late"].as_array().unwrap() {
        assert!(words(&late["same_stops"]).iter().filter(|m| m.0 != "a").all(|m| m.1 == "no power"), "{late}");
    }
    let table = String::from_utf8(run(&folder, &AT_EIGHT).stdout).unwrap();
    assert!(table.contains("the battery is not reckoned for late days"), "{table}");
    assert!(!table.lines().any(|l| l.contains("NO POWER") && l.contains("below 1 %")), "{table}");
}

#[test]
fn the_engine_charges_while_the_plan_drives() {
    let (_keep, folder) = folder("must-not-drop", &format!("{POOR}charge_driving_w = 100\n"));
    let answer = json(&run(&folder, &[&AT_EIGHT[..], &["--json"]].concat()));
    let (energy, chosen) = (&answer["spending"]["energy"], &answer["days"][0]["plan"]["chosen"]);
    let total = |of: &str| energy["total"][of].as_f64().unwrap();
    let driving_h = chosen["driving_h"].as_f64().unwrap();
    assert!((total("driving_h") - driving_h).abs() < 1e-9 && (total("engine_wh") - 100.0 * driving_h).abs() < 1e-6);
    // Full when it arrives at the stop, where 25 minutes take 25 Wh at the most.
    assert!(energy["off_times"] == 0 && total("lost_wh") > 0.0, "{energy}");
    let gained = energy["end_wh"].as_f64().unwrap() - energy["start_wh"].as_f64().unwrap();
    assert!((total("engine_wh") - total("drawn_wh") - total("lost_wh") - gained).abs() < 1e-6, "{energy}");
    assert!(answer["days"][0]["plan"]["notes"].to_string().find("THE PANEL").is_none());
}

/// At 42.5 N in the middle of June a clear sky gives about 31.5 MJ/m², which is 8.7 hours of full sun: between the 41.8 MJ/m² of
/// 48 N and the 41.9 of 40 N outside the air (FAO paper 56, table 2.6; the second from memory), times 0.75, within a tenth.
#[test]
fn the_sun_is_that_of_place_and_date() {
    let of = |solar: &str, depart: &str| {
        let (_keep, folder) = folder("messages", &format!("{NO_SHIFT}[solar]\npanel_w = 100\nefficiency = 1\n{solar}"));
        json(&run(&folder, &["--depart", depart, "--json"]))["spending"].clone()
    };
    let wh = |s: &serde_json::Value| s["energy"]["total"]["solar_wh"].as_f64().unwrap();
    let clear = of("clear_share = 1\n", "2026-06-15T08:00");
    // Behind the converter, 0.9.
    assert!((wh(&clear) / (100.0 * 0.9 * 0.75 * 41.85 / 3.6) - 1.0).abs() < 0.1, "{clear}");
    let cloudy = of("", "2026-06-15T08:00");
    assert!((wh(&cloudy) - 0.6 * wh(&clear)).abs() < 1e-6 && cloudy["notes"].to_string().contains("solar.clear_share"));
    let given = of("sun_hours = 4\n", "2026-06-15T08:00");
    assert!(
        (wh(&given) - 360.0).abs() < 1e-6 && given["notes"].to_string().contains("4 h of full sun a day"),
        "{given}"
    );
    assert!(wh(&of("clear_share = 1\n", "2026-12-15T08:00")) < 0.4 * wh(&clear));
}

/// A plan of three drives of 20 km.
fn three_drives(folder: &Path, departs: [&str; 3]) -> serde_json::Value {
    let day = |nth: usize| {
        let point = |i: usize| {
            let (lon, time) =
                (1.500_1 + i as f64 * 0.006_075, format!("2026-06-{}T08:{:02}:00Z", 15 + nth, i - nth * 40));
            format!("<trkpt lat=\"42.5\" lon=\"{lon:.5}\"><time>{time}</time></trkpt>")
        };
        format!("<trk><trkseg>{}</trkseg></trk>", (nth * 40..(nth * 40 + 41).min(120)).map(point).collect::<String>())
    };
    let days: String = (0..3).map(day).collect();
    let gpx = format!("<gpx version=\"1.1\" xmlns=\"http://www.topografix.com/GPX/1/1\">{days}</gpx>");
    std::fs::write(folder.join("trip.gpx"), gpx).unwrap();
    let mut command = Command::new(env!("CARGO_BIN_EXE_waymask"));
    command.current_dir(folder).args([
        "plan",
        "small.gpkg",
        "trip.gpx",
        "--zone",
        "UTC",
        "--trip",
        "trip.toml",
        "--json",
    ]);
    json(&command.args(departs.iter().flat_map(|d| ["--depart", *d])).output().unwrap())["spending"].clone()
}

#[test]
fn the_charge_goes_on_from_day_to_day() {
    let solar = "[battery]\namp_hours = 40\n[solar]\npanel_w = 60\nsun_hours = 5\nefficiency = 1\n";
    let (_keep, folder) = folder("messages", &format!("{NO_SHIFT}{solar}"));
    let of = |departs| {
        let spending = three_drives(&folder, departs);
        let energy = spending["energy"].clone();
        let total = |of: &str| energy["total"][of].as_f64().unwrap();
        let [start, end] = ["start_wh", "end_wh"].map(|of| energy[of].as_f64().unwrap());
        let balance = total("solar_wh") + total("engine_wh") - total("drawn_wh") - total("lost_wh") - (end - start);
        assert!(balance.abs() < 1e-6, "{energy}");
        let days = energy["days"].as_array().unwrap().clone();
        assert!(days.windows(2).all(|w| w[0]["end_wh"] == w[1]["begin_wh"]), "{energy}");
        let solar: Vec<f64> = days.iter().map(|d| (d["solar_wh"].as_f64().unwrap() * 1e6).round() / 1e6).collect();
        (solar, spending["notes"].to_string())
    };
    // 60 W x 5 h x 0.9 each day.
    let (solar, notes) = of(["2026-06-15T08:00", "2026-06-16T08:00", "2026-06-17T08:00"]);
    assert!(solar == [270.0; 3] && !notes.contains("stand still"), "{solar:?} {notes}");
    // Three days of rest have their sun.
    let (solar, notes) = of(["2026-06-15T08:00", "2026-06-16T08:00", "2026-06-20T08:00"]);
    assert_eq!(solar, [270.0, 4.0 * 270.0, 270.0]);
    assert!(notes.contains("between 2026-06-16 and 2026-06-20 the vehicle is assumed to stand still"), "{notes}");
    // A year is not walked.
    let (solar, notes) = of(["2026-06-15T08:00", "2026-06-16T08:00", "2027-06-20T08:00"]);
    assert!(solar == [270.0; 3] && notes.contains("from 2026-06-16 to 2027-06-20 is too long"), "{solar:?} {notes}");
    // Two drives on one date share its sun; hours of the second are those of 24 hours from its start, which differ a little.
    let (solar, notes) = of(["2026-06-15T08:00", "2026-06-15T12:00", "2026-06-16T08:00"]);
    assert!((solar[0] + solar[1] - 270.0).abs() < 0.5 && solar[2] == 270.0, "{solar:?} {notes}");
}
