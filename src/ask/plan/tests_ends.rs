//! Where a day begins and ends, and ground without a road.
use jiff::tz::TimeZone;

use super::kind::Kind;
use super::risk::{DriveRisk, probability};
use super::rules::Rules;
use super::tests_search::{EIGHT, along, asked, forest_between, meeting, piece};
use super::{DayQuestion, NoPlan, plan_day};
use crate::ask::corridor::Piece;
use crate::base::geodesy::Position;
use crate::base::words::HowTold;
use crate::profile::RatingEdges;

#[test]
fn ground_without_a_road_takes_time_and_breaks_what_is_held_there_but_has_no_kilometres() {
    let at = |deg: f64| Position::from_deg(deg, 0.0);
    let mut pieces: Vec<Piece> = (0..10).map(|i| piece(i, 1.0, [0.0; 3])).collect();
    for (i, p) in pieces.iter_mut().enumerate() {
        // After the fifth piece five kilometres are missing.
        let start = i as f64 * 0.009 + if i < 5 { 0.0 } else { 0.045 };
        (p.line, p.drive) = (vec![at(start), at(start + 0.009)], u32::from(i >= 5));
    }
    let (pieces, rules, edges) = (along(&pieces), Rules::default(), RatingEdges::default());
    let drive = DriveRisk::of(&pieces, &rules.driving);
    assert!((drive.length_km() - 10.0).abs() < 1e-9);
    let missing_s = drive.length_s() - 600.0;
    // 5.0 km at 30 km/h.
    assert!((missing_s - 601.0).abs() < 3.0, "{missing_s}");
    assert!(probability(drive.long_outages(Kind::Messages, 300.0, 300.0 + missing_s)) > 0.99);
    assert_eq!(drive.long_outages(Kind::Messages, 0.0, 300.0), 0.0);
    // A third of the way is more than the rules allow by themselves.
    let asked = |rules: &Rules| plan_day(&asked(&pieces, rules, &edges, meeting(Kind::Casual, 6, 5), 0.1));
    let NoPlan::NoDay(fact) = asked(&rules).unwrap_err() else { panic!("a layer is not read") };
    assert!(fact.starts_with("5.0 km of its track is off the layer's roads, more than 20 %"), "{fact}");
    let mut lenient = rules.clone();
    lenient.driving.most_unmatched = 0.5;
    (lenient.departure.earlier_min, lenient.departure.later_min) = (0, 0);
    let p = asked(&lenient).unwrap();
    assert!(p.notes.iter().any(|n| n.contains("unknown is not clear")), "{:?}", p.notes);
    let held = &p.chosen.meetings[0];
    assert_eq!((held.risk, held.risk_from), (None, super::RiskFrom::NotKnown));
}

#[test]
fn a_place_where_the_day_begins_tells_of_the_sky_there() {
    let (pieces, mut rules, edges) = (along(&forest_between()), Rules::default(), RatingEdges::default());
    rules.departure.earlier_min = 0;
    let risk = |open| {
        let mut q = asked(&pieces, &rules, &edges, meeting(Kind::MustNotDrop, -40, 30), open);
        q.halts[0].at_km = 0.1;
        let p = plan_day(&q).unwrap();
        assert!(
            p.notes.iter().any(|n| n.contains("before departure you are assumed to stand at place 7")),
            "{:?}",
            p.notes
        );
        p.chosen.meetings[0].risk.unwrap()
    };
    assert!(risk(0.95) < 0.05 && risk(0.2) > 0.5, "{} {}", risk(0.95), risk(0.2));
    let away = plan_day(&asked(&pieces, &rules, &edges, meeting(Kind::MustNotDrop, -40, 30), 0.95)).unwrap();
    assert!(away.notes.iter().any(|n| n.contains("80 %")), "{:?}", away.notes);
}

#[test]
fn a_gap_of_seconds_on_no_road_is_not_said_to_be_a_minute() {
    let at = |m: f64| Position::from_deg(m / 111_195.0, 0.0);
    let mut lenient = Rules::default();
    lenient.driving.most_unmatched = 0.9;
    let notes = |gap_m: f64| {
        let part = |drive: u32, from_m: f64| Piece {
            drive,
            line: vec![at(from_m), at(from_m + 1_000.0)],
            ..piece(drive as usize, 1.0, [0.0; 3])
        };
        let day = DayQuestion {
            corridor: &along(&[part(0, 0.0), part(1, 1_000.0 + gap_m)]),
            simulator: None,
            night: None,
            ends_at: None,
            progress: &crate::base::progress::Silent,
            halts: Vec::new(),
            meetings: Vec::new(),
            rules: &lenient,
            edges: &RatingEdges::default(),
            usable: 8.5,
            depart_s: EIGHT,
            zone: TimeZone::UTC,
            shown: HowTold::default(),
        };
        plan_day(&day).unwrap().notes.join("\n")
    };
    // At 30 km/h.
    assert!(notes(35.0).starts_with("for 4.2 s the drive is off the layer's roads"), "{}", notes(35.0));
    assert!(notes(1_500.0).starts_with("for 3 min the drive"), "{}", notes(1_500.0));
    assert_eq!(notes(3.0), "");
}
