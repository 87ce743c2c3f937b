//! Places to stop near the meetings, should the planned one be taken or shut.
use std::fmt::Write;

use super::answer::stops;
use super::marks;
use crate::ask::plan::{How, Itinerary, Part};
use crate::ask::stops::StopNear;
use crate::ask::trip::TripDay;
use crate::base::markup::escape;
use crate::base::words::{Roofed, StopKind, Units, Words};
use crate::report::words::unbroken;

/// Most of them, and how far from the meeting along the road, kilometres: what is farther helps nobody.
const MOST: usize = 5;
const NEAR_KM: f64 = 15.0;

/// The list; nothing where no meeting is held on the way.
pub(super) fn write(out: &mut String, of: &TripDay, least_open: f64, units: Units) {
    let found = nearest(of, least_open);
    if found.is_empty() {
        return;
    }
    *out += "<h3>Other places to stop near a meeting</h3>\n<ul class=\"answer\">\n";
    for (sign, stop) in found {
        let name = stop.name.clone().unwrap_or_else(|| format!("{} near {}", stop.kind.spoken(), stop.road));
        let panel = if stop.best_distance_m >= 0.5 {
            format!(", panel {} away", units.near(stop.best_distance_m))
        } else {
            String::new()
        };
        let _ = writeln!(
            out,
            "<li><span class=\"sign\">{sign}</span> {} {} ({}), {}: {:.0}\u{a0}% of the sky open{panel}, {} off the road.</li>",
            units.at(stop.at_km.unwrap_or(0.0)).replace(' ', "\u{a0}"),
            escape(&name),
            escape(&stop.kind.spoken()),
            marks::geo(stop.lat_deg, stop.lon_deg),
            100.0 * stop.best_open_share,
            unbroken(&units.near(stop.off_road_m))
        );
    }
    *out += "</ul>\n";
}

/// How many places there are besides, in words.
pub(super) fn all_words(of: &TripDay) -> String {
    let all = of.stops.iter().filter(|s| s.may_stop).count();
    match all {
        1 => "The one place to stop along the way".to_owned(),
        _ => format!("All {all} places to stop along the way"),
    }
}

/// The places nearest to the meetings that are held on the way, by the sign of the meeting.
fn nearest(of: &TripDay, least_open: f64) -> Vec<(String, &StopNear)> {
    let day = &of.plan.chosen;
    let planned: Vec<i64> = stops(day)
        .iter()
        .filter_map(|(_, part)| if let Part::Stop { place, .. } = part { Some(place.stop_id) } else { None })
        .collect();
    let fit = |s: &&StopNear| {
        s.may_stop && s.roofed == Roofed::No && s.kind != StopKind::Fuel && s.best_open_share >= least_open
    };
    let mut pairs: Vec<(f64, usize, &StopNear)> = Vec::new();
    for (nth, km) in day.meetings.iter().enumerate().filter_map(|(nth, m)| Some((nth, km_of(day, m)?))) {
        let free = of.stops.iter().filter(fit).filter(|s| !planned.contains(&s.stop_id));
        pairs.extend(free.map(|s| ((s.at_km.unwrap_or(0.0) - km).abs(), nth, s)));
    }
    pairs.retain(|(far_km, ..)| *far_km <= NEAR_KM);
    pairs.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)).then(a.2.stop_id.cmp(&b.2.stop_id)));
    let mut seen = std::collections::HashSet::new();
    let first = pairs.into_iter().filter(|(_, _, s)| seen.insert(s.stop_id)).take(MOST);
    let mut found: Vec<(usize, &StopNear)> = first.map(|(_, nth, s)| (nth, s)).collect();
    found.sort_by(|a, b| a.0.cmp(&b.0).then(a.1.at_km.unwrap_or(0.0).total_cmp(&b.1.at_km.unwrap_or(0.0))));
    found.into_iter().map(|(nth, s)| (marks::meeting(nth), s)).collect()
}

/// Where on the road a meeting is held; nothing before one leaves and after one has arrived.
fn km_of(day: &Itinerary, m: &crate::ask::plan::Held) -> Option<f64> {
    if let Some((from, to)) = m.road_km() {
        return Some((from + to) / 2.0);
    }
    let part = m.parts.iter().find(|p| p.how == How::AtStop)?;
    stops(day).into_iter().find_map(|(_, stop)| match stop {
        Part::Stop { from, to, place, .. }
            if from.unix_s() <= part.from.unix_s() && part.to.unix_s() <= to.unix_s() =>
        {
            Some(place.at_km)
        }
        _ => None,
    })
}
