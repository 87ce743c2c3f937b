//! The worst stretches, numbered as on the map.
use super::super::drive::{Driven, Stretch};
use super::super::marks;
use super::table::{Cell, Table};
use crate::report::rating;

/// The worst stretches of a day.
pub(in super::super) fn table(driven: &Driven) -> Table {
    let heads = ["no.", "km", "road", "place", "rating", "cause", "length", "without a link", "95 % of outages up to"];
    let mut table = Table::new("Worst stretches, numbered as on the map", &heads);
    for (n, s) in driven.worst() {
        let first = &driven.pieces[s.first];
        table.row(vec![
            Cell::text(n.to_string()),
            Cell::figure(format!("{:.1}", s.at_km)),
            Cell::name(road(driven, s)),
            Cell::figure(format!("{:.4}, {:.4}", first.lat_deg, first.lon_deg)),
            Cell::text(rating(s.rating)),
            Cell::text(marks::cause(s.cause).1),
            Cell::figure(length(s.length_m)),
            Cell::figure(marks::seconds(s.outage_s)),
            Cell::figure(marks::seconds(s.outage_p95_s)),
        ]);
    }
    table
}

/// The road of its piece with most seconds without a link.
fn road(driven: &Driven, s: &Stretch) -> String {
    let worst = driven.pieces[s.first..s.end].iter().rev().max_by(|a, b| a.outage_s.total_cmp(&b.outage_s));
    worst.map_or(String::new(), |p| p.road.clone())
}

fn length(m: f64) -> String {
    if m < 1_000.0 { format!("{m:.0} m") } else { format!("{:.1} km", m / 1e3) }
}
