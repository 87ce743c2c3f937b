//! `plan` with the travellers named: a driver takes no call, and one alone holds none in motion.
use std::path::Path;

use serde_json::Value;

use crate::ask::plan::{AT_EIGHT, NO_SHIFT, folder, json, run};

/// A trip file with travellers: name, and whether they drive.
fn trip(folder: &Path, travellers: &[(&str, bool)], more: &str) {
    let one = |(name, drives): &(&str, bool)| format!("[[people.traveller]]\nname = \"{name}\"\ndrives = {drives}\n");
    let people: String = travellers.iter().map(one).collect();
    std::fs::write(folder.join("trip.toml"), format!("{NO_SHIFT}{people}{more}")).unwrap();
}

/// One meeting in the steady first minutes, with somebody invited.
fn calendar(folder: &Path, person: &str) {
    let ics = std::fs::read_to_string(folder.join("day.ics")).unwrap();
    let ics = ics.replace("T082500", "T080500").replace("T084000", "T081500");
    let invited = format!("ATTENDEE;CN=\"Somebody, else\";PARTSTAT=ACCEPTED:{person}\r\nEND:VEVENT");
    std::fs::write(folder.join("day.ics"), ics.replace("END:VEVENT", &invited)).unwrap();
}

fn meeting(folder: &Path) -> (Value, String) {
    let day = json(&run(folder, &[&AT_EIGHT[..], &["--json"]].concat()))["days"][0].take();
    let text = String::from_utf8(run(folder, &AT_EIGHT).stdout).unwrap();
    (day["plan"]["chosen"]["meetings"][0].clone(), text)
}

const ADAS: &str = "[[people.meeting]]\nof = \"Ada\"\ntold_by = \"ada@example.org\"\n";

#[test]
fn whose_meeting_it_is_rides_along() {
    let (_keep, folder) = folder("casual", "");
    calendar(&folder, "mailto:ada@example.org");
    trip(&folder, &[("Ada", true), ("Ben", true)], ADAS);
    let (held, text) = meeting(&folder);
    assert_eq!((held["how"].as_str(), held["drivers"][0].as_str()), (Some("in_motion"), Some("Ben")), "{held}");
    assert!(text.contains("hold it in motion, by Ada, while Ben is at the wheel"), "{text}");
    calendar(&folder, "mailto:nobody@example.org");
    std::fs::write(
        folder.join("day.ics"),
        std::fs::read_to_string(folder.join("day.ics")).unwrap().replace("ada@", "no@"),
    )
    .unwrap();
    let (held, text) = meeting(&folder);
    assert_eq!((held["how"].as_str(), held["drivers"][0].as_str()), (Some("in_motion"), Some("Ada")), "{held}");
    assert!(text.contains("by Ben, while Ada is at the wheel"), "{text}");
}

#[test]
fn one_alone_stops_for_a_meeting_or_is_told_that_it_is_not_held() {
    let (_keep, folder) = folder("must-not-drop", "");
    calendar(&folder, "mailto:ada@example.org");
    trip(&folder, &[("Ada", true)], "[stopping]\nwithin_m = 1\n");
    let (held, text) = meeting(&folder);
    assert_eq!((held["how"].as_str(), held["risk"].as_f64()), (Some("not_held"), Some(1.0)), "{held}");
    assert!(text.contains("not held, because Ada is at the wheel and nobody else can"), "{text}");
    // The place of the map lies at kilometre 18: a meeting there waits for it.
    let ics = std::fs::read_to_string(folder.join("day.ics")).unwrap();
    std::fs::write(folder.join("day.ics"), ics.replace("T080500", "T082500").replace("T081500", "T084000")).unwrap();
    trip(&folder, &[("Ada", true)], "");
    assert_eq!(meeting(&folder).0["how"].as_str(), Some("at_stop"));
}

#[test]
fn somebody_who_does_not_travel_is_refused() {
    let (_keep, folder) = folder("casual", "");
    trip(&folder, &[("Ben", true)], ADAS);
    let out = run(&folder, &AT_EIGHT);
    let said = String::from_utf8(out.stderr).unwrap();
    assert_eq!(out.status.code(), Some(2), "{said}");
    assert!(
        said.contains("people.meeting.of (entry 1): `Ada` is not a traveller") && said.contains("One of Ben"),
        "{said}"
    );
}
