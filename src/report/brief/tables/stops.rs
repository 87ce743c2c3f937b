//! Places to stop along the way: only those that may be used.
use std::fmt::Write;

use super::super::answer;
use super::table::{PageCell, PageTable};
use crate::ask::plan::{Itinerary, Part};
use crate::ask::stops::StopNear;
use crate::ask::trip::TripDay;
use crate::base::count::counted;
use crate::base::words::{Roofed, StopKind, Units, Words};
use crate::report::plan::wind;
use crate::report::words::roof_words;

/// Most places listed; of more, every part of the road keeps its best.
const LISTED: usize = 40;

/// The table, and how many places it leaves out.
pub(in super::super) fn write(out: &mut String, day: &TripDay, chosen: &Itinerary, units: Units) {
    let usable: Vec<&StopNear> = day.stops.iter().filter(|s| s.may_stop).collect();
    let signs: Vec<(i64, String)> = answer::stops(chosen)
        .into_iter()
        .filter_map(|(sign, part)| match part {
            Part::Stop { place, .. } => Some((place.stop_id, sign)),
            Part::Drive { .. } => None,
        })
        .collect();
    let planned = |s: &StopNear| signs.iter().find(|(id, _)| *id == s.stop_id).map(|(_, sign)| sign.as_str());
    if usable.is_empty() {
        *out += "<h3>Places to stop</h3>\n<p>The layer has no place along this road where you may stop.</p>\n";
        return;
    }
    let listed = listed(&usable, day.plan.chosen.length_km, |s| planned(s).is_some());
    let heads = [
        units.post(),
        "place",
        "kind",
        "road and side",
        "roof",
        "sky at the vehicle",
        "best place for the panel",
        "access",
    ];
    let mut table = PageTable::new("Places to stop along the way", &heads);
    for stop in &listed {
        if planned(stop).is_some() {
            table.strong.push(table.rows.len());
        }
        table.row(row(stop, planned(stop), units));
    }
    table.write(out);
    let all = usable.len();
    if listed.len() < all {
        let _ = writeln!(
            out,
            "<p class=\"small\">{} of {}: those in the plan, and the clearest ones on every part of the road.</p>",
            listed.len(),
            counted(all, "place")
        );
    }
}

fn row(stop: &StopNear, planned: Option<&str>, units: Units) -> Vec<PageCell> {
    let name = stop.name.clone().unwrap_or_else(|| "–".into());
    let fuel = stop.kind == StopKind::Fuel;
    let unknown = if stop.roofed == Roofed::Unknown { roof_words(stop.roofed) } else { "" };
    vec![
        PageCell::figure(format!("{:.1}", units.of_road(1e3 * stop.at_km.unwrap_or(0.0)))),
        PageCell::name(planned.map_or(name.clone(), |sign| format!("{sign} {name}"))),
        PageCell::text(match (fuel, stop.roofed) {
            (true, Roofed::No) => "fuel without a roof".to_owned(),
            _ => stop.kind.spoken(),
        }),
        PageCell::name(format!("{}, {} to the {}", stop.road, units.near(stop.off_road_m), stop.side)),
        PageCell::text(match stop.roofed {
            Roofed::Yes => "roofed",
            Roofed::No => "none",
            Roofed::Unknown => "not known",
        }),
        PageCell::figure(format!("{:.0} % open{unknown}", 100.0 * stop.open_share)),
        PageCell::text(best(stop, units) + unknown),
        PageCell::text(stop.access.name()),
    ]
}

fn best(stop: &StopNear, units: Units) -> String {
    if stop.best_distance_m < 0.5 || stop.gain <= 0.0 {
        return "on the vehicle".into();
    }
    format!(
        "{} to the {} ({:.0}°): {:.0} % open, {:.0} percentage points more",
        units.near(stop.best_distance_m),
        wind(stop.best_bearing_deg),
        stop.best_bearing_deg,
        100.0 * stop.best_open_share,
        100.0 * stop.gain
    )
}

/// At most [`LISTED`]: those of the plan, then in every part of the road the clearest first.
fn listed<'a>(usable: &[&'a StopNear], length_km: f64, planned: impl Fn(&StopNear) -> bool) -> Vec<&'a StopNear> {
    let part = |s: &StopNear| (s.at_km.unwrap_or(0.0) / length_km.max(1e-9) * LISTED as f64) as usize;
    let mut order: Vec<&StopNear> = usable.to_vec();
    order.sort_by(|a, b| {
        let by_sky = b.best_open_share.total_cmp(&a.best_open_share);
        planned(b).cmp(&planned(a)).then(by_sky).then(a.stop_id.cmp(&b.stop_id))
    });
    let mut taken = std::collections::BTreeMap::<usize, usize>::new();
    let mut ranked: Vec<(usize, &StopNear)> = order
        .into_iter()
        .map(|s| {
            let rank = taken.entry(part(s)).or_default();
            *rank += 1;
            (if planned(s) { 0 } else { *rank }, s)
        })
        .collect();
    ranked.sort_by_key(|r| r.0);
    ranked.truncate(LISTED);
    let mut out: Vec<&StopNear> = ranked.into_iter().map(|r| r.1).collect();
    out.sort_by(|a, b| a.at_km.unwrap_or(0.0).total_cmp(&b.at_km.unwrap_or(0.0)).then(a.stop_id.cmp(&b.stop_id)));
    out
}
