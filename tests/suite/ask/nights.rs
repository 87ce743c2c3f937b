//! Nights of the demo's days, against plain enumeration of the places in the layer.
use waymask::ask::days::{NamedCalendar, PlanQuestion, PlanRoad};
use waymask::ask::settings::Settings;
use waymask::ask::track::read;
use waymask::ask::trip::Trip;
use waymask::base::geodesy::{Position, distance_m};
use waymask::base::progress::Silent;
use waymask::base::words::{HowTold, Roofed, StopAccess, StopKind};
use waymask::layer::Layer;

use crate::build::kit::varrow;

fn plan(layer: &Layer, track: &str, departs: &[&str], trip: &str) -> Trip {
    plan_with(layer, track, departs, trip, Vec::new())
}

fn plan_with(layer: &Layer, track: &str, departs: &[&str], trip: &str, calendars: Vec<NamedCalendar>) -> Trip {
    let question = PlanQuestion {
        track: read(track).unwrap(),
        road: PlanRoad::Way("fastest".into()),
        departs: departs.iter().map(|d| d.parse().unwrap()).collect(),
        zone: jiff::tz::TimeZone::UTC,
        shown: HowTold::default(),
        calendars,
        settings: Settings::read(trip, "trip").unwrap(),
    };
    waymask::ask::plan(layer, &question, &Silent).unwrap()
}

#[test]
fn better_places_for_a_poor_night_are_those_of_plain_enumeration() {
    let folder = tempfile::tempdir().unwrap();
    let layer = Layer::open(&varrow(folder.path(), 16)).unwrap();
    let all = layer.stops().unwrap();
    let fits =
        |kind| matches!(kind, StopKind::CampSite | StopKind::CampPitch | StopKind::CaravanSite | StopKind::Parking);
    let (mut poor, mut named) = (0, 0);
    // From the harbour to every place one may stay at: two legs, so two days.
    for stop in all.iter().filter(|s| fits(s.kind)) {
        let (lat, lon) = (stop.at.lat_deg(), stop.at.lon_deg());
        let track = format!("46.9686,-28.0609 {lat:.6},{lon:.6}");
        let trip = plan(&layer, &track, &["2026-06-15T09:00:00Z"], "[nights]\nleast_open = 0.97\nlook_km = 6.0\n");
        let Some(night) = &trip.days.last().unwrap().night else { panic!("no night") };
        let here = night.place.as_ref().filter(|p| p.roof == Roofed::No).map(|p| p.best_open_share.max(p.open_share));
        assert_eq!(night.poor, here.is_none_or(|open| open < 0.97), "{night:?}");
        if !night.poor {
            assert!(night.better.is_empty());
            continue;
        }
        poor += 1;
        // The nearest place that is clear enough, by a plain loop over the table.
        let end = Position::from_deg(night.lon_deg, night.lat_deg);
        let mut nearest: Option<(f64, i64)> = None;
        for s in &all {
            let far_m = distance_m(end, s.at);
            let mut best = s.open_share;
            for place in &s.places {
                if place.distance_m <= 30.0 {
                    best = best.max(place.open_share);
                }
            }
            let may = fits(s.kind) && s.access != StopAccess::Private && s.roofed == Roofed::No && far_m <= 6_000.0;
            if may && best >= 0.97 && best >= here.unwrap_or(0.0) + 0.02 && nearest.is_none_or(|n| far_m < n.0) {
                nearest = Some((far_m, s.stop_id));
            }
        }
        let got = night.better.iter().find(|p| p.best_open_share >= 0.97).map(|p| p.stop_id);
        assert_eq!(got, nearest.map(|n| n.1), "{night:?}");
        for place in &night.better {
            named += 1;
            // A road is never shorter than the straight line, but for the way from the road to the places.
            let km = place.drive.expect("every place of the island has a road").length_km;
            assert!(km * 1e3 > place.straight_m - 200.0, "{place:?}");
        }
    }
    assert!(poor >= 2 && named >= 2, "{poor} poor nights, {named} better places");
}

/// A better place was said to save a meeting whose first half was driven, and one that falls into the way to that place.
#[test]
fn a_better_night_promises_nothing_for_what_is_driven() {
    let folder = tempfile::tempdir().unwrap();
    let layer = Layer::open(&varrow(folder.path(), 16)).unwrap();
    // To a pitch in the woods, with a third of its sky.
    let (track, at, trip) =
        ("46.9686,-28.0609 46.98035,-28.02898", ["2026-06-15T09:00:00Z"], "[stopping]\nmost_places = 0\n");
    let fixed = format!("[departure]\nearlier_min = 0\nlater_min = 0\n{trip}");
    let arrive_s = plan(&layer, track, &at, &fixed).days[0].plan.chosen.arrive.0.timestamp().as_second();
    let event = |name: &str, from_min: i64, to_min: i64| {
        let at = |min: i64| {
            jiff::Timestamp::from_second(arrive_s + 60 * min).unwrap().strftime("%Y%m%dT%H%M%SZ").to_string()
        };
        format!(
            "BEGIN:VEVENT\r\nUID:{name}\r\nDTSTAMP:20260101T000000Z\r\nDTSTART:{}\r\nDTEND:{}\r\nSUMMARY:{name}\r\nCATEGORIES:casual\r\n\
             END:VEVENT\r\n",
            at(from_min),
            at(to_min)
        )
    };
    let events = [event("driven", -4, 30), event("soon", 2, 20), event("later", 60, 90)].concat();
    let text = format!("BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//t//EN\r\n{events}END:VCALENDAR\r\n");
    let calendar = NamedCalendar { name: "t.ics".into(), calendar: waymask::calendar::read(&text).unwrap() };
    let trip = plan_with(&layer, track, &at, &fixed, vec![calendar]);
    let night = trip.days[0].night.as_ref().unwrap();
    assert!(night.poor && !night.better.is_empty(), "{night:?}");
    for place in &night.better {
        assert!(place.drive.is_some_and(|d| d.time_min > 3.0), "{place:?}");
        let told: Vec<(&str, bool)> = place.meetings.iter().map(|m| (m.name.as_str(), m.risk.is_some())).collect();
        assert_eq!(told, [("soon", false), ("later", true)], "{place:?}");
    }
    assert!(night.meetings.iter().all(|m| m.name != "driven"), "{night:?}");
}
