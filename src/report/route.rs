//! Ways side by side, and the trade between them in words.
use super::corridor::worst_words;
use super::words::clock;
use crate::ask::route::{RouteAnswer, RouteWay};
use crate::ask::search::TownNear;
use crate::base::caution::{Caution, on_terminal};
use crate::base::count::counted;
use crate::base::plain::PlainLines;
use crate::base::words::{PlaceKind, Rating};

/// A row of the table: what it is called and how a way fills it.
type WayRow = (&'static str, fn(&RouteWay) -> String);

const ROWS: [WayRow; 8] = [
    ("driving", |w| clock(w.time_s)),
    ("without a link", |w| clock(w.outage_s)),
    ("", |w| format!("{:.1} %", if w.time_s > 0.0 { 100.0 * w.outage_s / w.time_s } else { 0.0 })),
    ("  at best", |w| clock(w.corridor.outage_best_s)),
    ("  at worst", |w| worst_words(&w.corridor)),
    ("p95 outage", |w| format!("{:.1} s", w.outage_p95_s)),
    ("outages", |w| w.corridor.outages.len().to_string()),
    ("length", |w| km(w.length_m)),
];

/// Rows that are left out where every way has nothing to say.
const RARE: [WayRow; 5] = [
    ("of these unknown", |w| km(w.corridor.unknown_m)),
    ("  unpaved", |w| km(w.unpaved_m)),
    ("  ferry, train", |w| km(w.boarded_m)),
    ("  destination", |w| km(w.destination_m)),
    ("  private", |w| km(w.private_m)),
];

/// Most towns named for a way.
const TOWNS: usize = 12;

/// What no edge tells.
const UNKNOWN: &str = "The layer does not hold turn restrictions, gates, closures or traffic: signs decide.";

fn km(metres: f64) -> String {
    format!("{:.1} km", metres / 1e3)
}

/// The table; what its readers are warned of ends it.
pub fn table(answers: &RouteAnswer) -> String {
    let mut out = PlainLines::new();
    for p in &answers.places {
        writeln!(out, "{:6} {:.5},{:.5}  {}, {:.0} m away", p.label, p.lat_deg, p.lon_deg, p.road, p.distance_m);
    }
    answers.notes.iter().for_each(|n| writeln!(out, "{n}"));
    let ways = &answers.ways;
    line(&mut out, "", ways.iter().map(|w| format!("{} {}", w.number, w.name)));
    for (name, fill) in ROWS {
        line(&mut out, name, ways.iter().map(fill));
    }
    for rating in Rating::ALL {
        line(&mut out, &format!("  {rating}"), ways.iter().map(|w| km(w.corridor.metres_by_rating[*rating])));
    }
    for (name, fill) in RARE {
        if ways.iter().any(|w| fill(w) != km(0.0)) {
            line(&mut out, name, ways.iter().map(fill));
        }
    }
    for way in ways {
        let roads: Vec<String> = way.roads.iter().map(|r| format!("{} {}", r.road, km(r.length_m))).collect();
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

/// What a way costs and gains compared with the fastest: "18 minutes longer, 40 minutes less without a link"; nothing for the
/// fastest itself.
pub fn trade(way: &RouteWay) -> Option<String> {
    (way.number > 1).then(|| words(way.longer_s, way.gained_s))
}

fn words(longer_s: f64, gained_s: f64) -> String {
    format!("{} longer, {} less without a link", span(longer_s), span(gained_s))
}

/// A span of time in words, as fine as it matters.
fn span(seconds: f64) -> String {
    let both = |a: (u64, &str), b: (u64, &str)| match b.0 {
        0 => counted(a.0, a.1),
        _ => format!("{} {}", counted(a.0, a.1), counted(b.0, b.1)),
    };
    let (s, minutes) = (seconds.max(0.0).round() as u64, (seconds.max(0.0) / 60.0).round() as u64);
    match (s, minutes) {
        (0, _) => "less than a second".to_owned(),
        (..90, _) => counted(s, "second"),
        (..600, _) => both((s / 60, "minute"), (s % 60, "second")),
        (_, ..120) => counted(minutes, "minute"),
        _ => both((minutes / 60, "hour"), (minutes % 60, "minute")),
    }
}

#[cfg(test)]
mod tests {
    use super::span;

    #[test]
    fn spans_are_said_as_people_say_them() {
        let said = [0.3, 1.2, 45.0, 89.0, 90.0, 1_080.0, 7_170.0, 7_200.0, 9_300.0].map(span);
        let want = [
            "less than a second",
            "1 second",
            "45 seconds",
            "89 seconds",
            "1 minute 30 seconds",
            "18 minutes",
            "2 hours",
            "2 hours",
            "2 hours 35 minutes",
        ];
        assert_eq!(said, want);
    }
}
