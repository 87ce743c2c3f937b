//! Days of a long track: cut where the hours of driving end, at a place for the night.
use crate::ask::plan::{AT_EIGHT, NO_SHIFT, folder, json, run};

/// Forty-five minutes at the wheel a day: the hour of road with a car park at minute eighteen takes two.
const SHORT_DAYS: &str = "[departure]\nearlier_min = 0\nlater_min = 0\n[driving]\nday_h = 0.75\n";

fn days(trip: &str, more: &[&str]) -> Vec<serde_json::Value> {
    let (_keep, folder) = folder("messages", trip);
    let answer = json(&run(&folder, &[&AT_EIGHT[..], more, &["--json"]].concat()));
    answer["days"].as_array().unwrap().clone()
}

#[test]
fn a_track_longer_than_a_day_ends_at_the_place_for_the_night_and_goes_on_from_there() {
    let (whole, cut) = (days(NO_SHIFT, &[]), days(SHORT_DAYS, &[]));
    assert_eq!((whole.len(), cut.len()), (1, 2));
    let km = |day: &serde_json::Value| day["plan"]["chosen"]["length_km"].as_f64().unwrap();
    // The car park lies 18 segments behind the start (0.01215 degrees of longitude each, on a sphere), and nothing of the road is lost or driven twice.
    let per_segment = 0.012_15_f64.to_radians() * 6_378.137 * 42.5_f64.to_radians().cos();
    assert!((km(&cut[0]) - 18.0 * per_segment).abs() < 0.1, "{} {per_segment}", km(&cut[0]));
    assert!((km(&cut[0]) + km(&cut[1]) - km(&whole[0])).abs() < 0.05);
    let at = |day: &serde_json::Value, key: &str| day["plan"]["chosen"][key].as_str().unwrap().to_owned();
    assert_eq!(at(&cut[1], "depart"), "2026-06-16T08:00:00+00:00");
    assert!(at(&cut[0], "arrive").starts_with("2026-06-15T08:18:"), "{}", at(&cut[0], "arrive"));
    let night = &cut[0]["night"];
    assert_eq!((night["place"]["name"].as_str(), night["poor"].as_bool()), (Some("Meadow; car park"), Some(false)));
    assert_eq!(night["chosen_of"].as_u64(), Some(1));
    let notes = format!("{} {}", cut[0]["plan"]["notes"], cut[1]["plan"]["notes"]);
    assert!(notes.contains("the day ends at Meadow; car park, km 18.0: of 1 place for the night"), "{notes}");
}

#[test]
fn without_a_place_for_the_night_the_day_stays_whole_and_says_so_first() {
    let got = days(&format!("{SHORT_DAYS}[nights]\nparking = false\n"), &[]);
    let notes = got[0]["plan"]["notes"].as_array().unwrap();
    assert_eq!(got.len(), 1);
    let told =
        |n: &serde_json::Value| n.as_str().unwrap().starts_with("this drive is longer than the hours of one day");
    assert!(notes.iter().any(told), "{notes:?}");
    assert!(got[0]["night"]["place"].is_null() && got[0]["night"]["poor"] == true);
}

#[test]
fn a_departure_given_for_the_second_day_begins_it() {
    let more = ["--depart", "2026-06-16T10:30"];
    let got = days(SHORT_DAYS, &more);
    assert_eq!(got[1]["plan"]["chosen"]["depart"].as_str(), Some("2026-06-16T10:30:00+00:00"));
    assert!(!got[1]["plan"]["notes"].to_string().contains("no departure is given"));
    let (_keep, folder) = folder("messages", SHORT_DAYS);
    let out = run(&folder, &[&AT_EIGHT[..], &more, &["--depart", "2026-06-17T08:00"]].concat());
    let said = String::from_utf8(out.stderr).unwrap();
    assert!(out.status.code() == Some(2) && said.contains("its road is driven in 2 days"), "{said}");
}
