//! Why this day: other ways to spend it.
use std::fmt::Write;

use super::super::marks;
use super::table::{PageCell, PageTable};
use crate::ask::plan::{Itinerary, Part, Plan};
use crate::report::plan::clock_on;
use crate::report::verdict::risk;

/// The comparison.
pub(in super::super) fn write(out: &mut String, plan: &Plan) {
    let mut table =
        PageTable::new("Why this day", &["way", "leave", "arrive", "stops", "cost", "risk of each meeting"]);
    for way in plan.others.iter().chain([&plan.chosen]) {
        table.row(row(way));
    }
    table.strong.push(plan.others.len());
    table.write(out);
    let s = &plan.searched;
    let _ = writeln!(
        out,
        "<p class=\"small\">Cost in minutes, as the trip's settings weigh stops, waiting and interrupted meetings; \
         the day with the lowest cost is the one above. Compared: departures {}, places to stop {} of {}.</p>",
        s.departures, s.places_kept, s.places_found
    );
}

fn row(way: &Itinerary) -> Vec<PageCell> {
    let stops = way.parts.iter().filter(|p| matches!(p, Part::Stop { .. })).count();
    let risks: Vec<String> =
        way.meetings.iter().enumerate().map(|(n, m)| format!("{} {}", marks::meeting(n), risk(m))).collect();
    vec![
        PageCell::text(way.name.name()),
        PageCell::figure(clock_on(way, &way.depart)),
        PageCell::figure(clock_on(way, &way.arrive)),
        PageCell::figure(stops.to_string()),
        PageCell::figure(format!("{:.0}", way.cost_min)),
        PageCell::text(if risks.is_empty() { "no meetings".to_owned() } else { risks.join(", ") }),
    ]
}
