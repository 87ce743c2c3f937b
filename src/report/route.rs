//! Ways side by side, and the trade between them in words.
use super::corridor::worst_words;
use crate::ask::route::{RouteAnswer, RouteWay};
use crate::ask::search::TownNear;
use crate::base::caution::{Caution, on_terminal};
use crate::base::measure::duration;
use crate::base::plain::PlainLines;
use crate::base::words::{PlaceKind, Rating, Units};

/// A row of the table: what it is called and how a way fills it.
type WayRow = (&'static str, fn(&RouteWay, Units) -> String);

const ROWS: [WayRow; 8] = [
    ("driving", |w, _| duration(w.time_s)),
    ("without a link", |w, _| duration(w.outage_s)),
    ("", |w, _| format!("{:.1} %", if w.time_s > 0.0 { 100.0 * w.outage_s / w.time_s } else { 0.0 })),
    ("  at best", |w, _| duration(w.corridor.outage_best_s)),
    ("  at worst", |w, _| worst_words(&w.corridor)),
    ("p95 outage", |w, _| duration(w.outage_p95_s)),
    ("outages", |w, _| w.corridor.outages.len().to_string()),
    ("length", |w, units| units.road(w.length_m)),
];

/// Rows that are left out where every way has nothing to say.
const RARE: [WayRow; 5] = [
    ("of these unknown", |w, units| units.road(w.corridor.unknown_m)),
    ("  unpaved", |w, units| units.road(w.unpaved_m)),
    ("  ferry, train", |w, units| units.road(w.boarded_m)),
    ("  destination", |w, units| units.road(w.destination_m)),
    ("  private", |w, units| units.road(w.private_m)),
];

/// Most towns named for a way.
const TOWNS: usize = 12;

/// What no edge tells.
const UNKNOWN: &str = "The layer does not hold turn restrictions, gates, closures or traffic: signs decide.";

/// The table; what its readers are warned of ends it.
pub fn table(answers: &RouteAnswer, units: Units) -> String {
    let mut out = PlainLines::new();
    for p in &answers.places {
        let away = units.near(p.distance_m);
        writeln!(out, "{:6} {:.5},{:.5}  {}, {away} away", p.label, p.lat_deg, p.lon_deg, p.road);
    }
    answers.notes.iter().for_each(|n| writeln!(out, "{n}"));
    let ways = &answers.ways;
    line(&mut out, "", ways.iter().map(|w| format!("{} {}", w.number, w.name)));
    for (name, fill) in ROWS {
        line(&mut out, name, ways.iter().map(|w| fill(w, units)));
    }
    for rating in Rating::ALL {
        line(&mut out, &format!("  {rating}"), ways.iter().map(|w| units.road(w.corridor.metres_by_rating[*rating])));
    }
    for (name, fill) in RARE {
        if ways.iter().any(|w| fill(w, units) != units.road(0.0)) {
            line(&mut out, name, ways.iter().map(|w| fill(w, units)));
        }
    }
    for way in ways {
        let roads: Vec<String> = way.roads.iter().map(|r| format!("{} {}", r.road, units.road(r.length_m))).collect();
        writeln!(out, "{} {}: {}", way.number, way.name, roads.join(", "));
        if !way.towns.is_empty() {
            writeln!(out, "  through {}", through(&way.towns));
        }
    }
    trades(&mut out, ways);
    if ways.iter().any(|w| w.private_m > 0.0) {
        writeln!(out, "private roads may be driven only with permission; --no-private leaves them out");
    }
    out.own(UNKNOWN);
    out.own(&on_terminal(&Caution::ROAD));
    out.text()
}

/// Towns in the order driven; of many the largest kinds.
fn through(towns: &[TownNear]) -> String {
    let most = |kinds: &[PlaceKind]| towns.iter().filter(|t| kinds.contains(&t.kind)).count();
    let kinds =
        [PlaceKind::ALL, &[PlaceKind::City, PlaceKind::Town, PlaceKind::Village], &[PlaceKind::City, PlaceKind::Town]];
    let shown = kinds.iter().find(|kinds| most(kinds) <= TOWNS).unwrap_or(&kinds[2]);
    let told = towns.iter().filter(|t| shown.contains(&t.kind)).take(TOWNS);
    let names: Vec<String> = told.map(|t| format!("{} ({})", t.name, t.kind)).collect();
    let left = towns.len() - names.len();
    let more = if left > 0 { format!(" and {left} more") } else { String::new() };
    format!("{}{more}", names.join(", "))
}

fn line(out: &mut PlainLines, name: &str, cells: impl Iterator<Item = String>) {
    let cells: String = cells.map(|c| format!("  {c:>13}")).collect();
    writeln!(out, "{}", format!("{name:15}{cells}").trim_end());
}

/// Each way compared with the fastest, and with the one before where that is another.
fn trades(out: &mut PlainLines, ways: &[RouteWay]) {
    for (i, way) in ways.iter().enumerate() {
        if let Some(trade) = trade(way) {
            writeln!(out, "{} compared with 1: {trade}", way.number);
        }
        if i > 1 {
            let before = &ways[i - 1];
            let step = words(way.longer_s - before.longer_s, way.gained_s - before.gained_s);
            writeln!(out, "  compared with {}: {step}", before.number);
        }
    }
}

/// What a way costs and gains compared with the fastest: "18 min 05 s longer, 40 min less without a link"; nothing for the
/// fastest itself.
pub fn trade(way: &RouteWay) -> Option<String> {
    (way.number > 1).then(|| words(way.longer_s, way.gained_s))
}

fn words(longer_s: f64, gained_s: f64) -> String {
    format!("{} longer, {} less without a link", duration(longer_s.max(0.0)), duration(gained_s.max(0.0)))
}
