//! The worst outages, numbered as on the map.
use super::super::drive::DayDriven;
use super::super::marks;
use super::table::{PageCell, PageTable};
use crate::ask::corridor::DrivenOutage;
use crate::base::measure::duration;

/// The worst outages of a day.
pub(in super::super) fn table(driven: &DayDriven) -> PageTable {
    let units = driven.shown.units;
    let heads = [
        "no.",
        units.post(),
        "road",
        "place",
        "rating",
        "cause",
        "length",
        "without a link",
        "outage that 95 of 100 drives do not exceed",
    ];
    let mut table = PageTable::new("Longest outages, numbered as on the map", &heads);
    for (n, s) in driven.worst() {
        let first = &driven.pieces[s.first];
        table.row(vec![
            PageCell::text(n.to_string()),
            PageCell::figure(format!("{:.1}", units.of_road(s.at_km * 1e3))),
            PageCell::name(road(driven, s)),
            PageCell::figure(format!("{:.4}, {:.4}", first.lat_deg, first.lon_deg)),
            PageCell::text(s.rating.name()),
            PageCell::text(marks::cause(s.cause).1),
            PageCell::figure(units.length(s.length_m)),
            PageCell::figure(duration(s.outage_s)),
            PageCell::figure(duration(s.outage_p95_s)),
        ]);
    }
    table
}

/// The road of its piece with most seconds without a link.
fn road(driven: &DayDriven, s: &DrivenOutage) -> String {
    let worst = driven.pieces[s.first..s.end].iter().rev().max_by(|a, b| a.outage_s.total_cmp(&b.outage_s));
    worst.map_or(String::new(), |p| p.road.clone())
}
