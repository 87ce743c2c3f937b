//! The corridor as a table for people.
use super::words::clock;
use crate::ask::corridor::{Corridor, Joining};
use crate::base::plain::PlainLines;

/// Most overheads and alternatives listed; the rest is counted.
const LISTED: usize = 20;

/// The table; `caution` ends it.
pub fn table(c: &Corridor, caution: &str) -> String {
    let mut out = PlainLines::new();
    writeln!(
        out,
        "track {:.1} km, on roads of the layer {:.1} km, without a road {:.1} km",
        c.track_m / 1e3,
        c.length_m / 1e3,
        c.unmatched_m / 1e3
    );
    writeln!(
        out,
        "driving {}, expected without a link {} ({:.1} %)",
        clock(c.time_s),
        clock(c.outage_s),
        if c.time_s > 0.0 { 100.0 * c.outage_s / c.time_s } else { 0.0 }
    );
    if c.is_spread() {
        writeln!(out, "with other trees and buildings than assumed: {}", range_words(c));
    }
    for (rating, metres) in c.metres_by_rating.iter() {
        let spread = if c.is_spread() {
            let [best, worst] = [&c.metres_by_rating_best, &c.metres_by_rating_worst].map(|m| m[rating] / 1e3);
            format!("  (at best {best:.1} km, at worst {worst:.1} km)")
        } else {
            String::new()
        };
        writeln!(out, "  {:9.1} km  {:6}{spread}", metres / 1e3, rating.name());
    }
    if c.unknown_m > 0.0 {
        writeln!(
            out,
            "  {:9.1} km  of these with a cause that could not be known: unknown is not clear",
            c.unknown_m / 1e3
        );
    }
    c.notes.iter().for_each(|n| writeln!(out, "note: {n}"));
    clusters(&mut out, c);
    worst(&mut out, c);
    overheads(&mut out, c);
    alternatives(&mut out, c);
    if !c.joined.is_empty() {
        writeln!(
            out,
            "stretches without points, joined over roads ({:.1} km, part of the figures)",
            c.joined.iter().map(|j| j.length_m).sum::<f64>() / 1e3
        );
    }
    c.joined.iter().for_each(|j| writeln!(out, "  after {}", joined_words(j)));
    if !c.unmatched.is_empty() {
        writeln!(out, "track without a road of the layer");
    }
    for u in &c.unmatched {
        let how = if u.bridged { "joined over roads between its ends" } else { "not part of the figures" };
        let (at, lat, lon) = (u.track_km, u.lat_deg, u.lon_deg);
        writeln!(out, "  after {at:7.1} km of track  {lat:.5},{lon:.5}  {:8.0} m  {how}", u.length_m);
    }
    out.own(caution);
    out.text()
}

/// A stretch without points that roads join: `after` and this, where to where, how long, and what speaks for it.
pub(super) fn joined_words(j: &Joining) -> String {
    let part = |m: f64, what: &str| if m < 1.0 { String::new() } else { format!(", {:.1} km {what}", m / 1e3) };
    format!(
        "{:7.1} km of track  {:.5},{:.5} to {:.5},{:.5}  {:.1} km of road, {:.1} km straight across{}{}; {}",
        j.track_km,
        j.from_lat_deg,
        j.from_lon_deg,
        j.to_lat_deg,
        j.to_lon_deg,
        j.length_m / 1e3,
        j.straight_m / 1e3,
        part(j.covered_m, "in tunnels or under roofs"),
        part(j.boarded_m, "boarded"),
        match j.lasted_s {
            Some(s) => format!("{} between the points, {} by the layer", clock(s), clock(j.time_s)),
            None => "without times, so by length only".to_owned(),
        }
    )
}

/// Time without a link at best and at worst.
pub(super) fn range_words(c: &Corridor) -> String {
    format!("from {} at best to {} at worst", clock(c.outage_best_s), worst_words(c))
}

/// The time at worst; where a cause could not be known it may be more.
pub(super) fn worst_words(c: &Corridor) -> String {
    let more = if c.unknown_m > 0.0 { " or more" } else { "" };
    format!("{}{more}", clock(c.outage_worst_s))
}

fn clusters(out: &mut PlainLines, c: &Corridor) {
    writeln!(out, "outages, as driven{}", if c.clusters.is_empty() { ": none" } else { "" });
    for k in &c.clusters {
        writeln!(
            out,
            "  km {:7.1}  {:8.5},{:9.5}  {:6}  {:15}  {:7.0} m  outage {:6.1} s  p95 {:6.1} s  {}",
            k.at_km,
            k.lat_deg,
            k.lon_deg,
            k.rating,
            k.cause.phrase(),
            k.length_m,
            k.outage_s,
            k.outage_p95_s,
            k.road
        );
    }
}

fn worst(out: &mut PlainLines, c: &Corridor) {
    if !c.worst.is_empty() {
        writeln!(out, "worst segments");
    }
    for p in &c.worst {
        writeln!(
            out,
            "  km {:7.1}  {:6}  {:15}  {:5.0} m  outage {:6.1} s  p95 {:6.1} s  segment {}  {}",
            p.at_km,
            p.rating,
            p.cause.phrase(),
            p.length_m,
            p.outage_s,
            p.outage_p95_s,
            p.segment_id,
            p.road
        );
    }
}

fn overheads(out: &mut PlainLines, c: &Corridor) {
    if !c.overheads.is_empty() {
        writeln!(
            out,
            "longest shadows overhead: seconds with more than half of the usable sky hidden ({} in all)",
            c.overheads.len()
        );
    }
    let mut longest: Vec<_> = c.overheads.iter().collect();
    longest.sort_by(|a, b| b.half_shadow_s.total_cmp(&a.half_shadow_s));
    for o in longest.into_iter().take(LISTED) {
        let name = o.name.as_deref().unwrap_or("");
        let posted = o.maxheight_m.map_or(String::new(), |m| format!("  posted {m:.1} m"));
        writeln!(out, "  km {:7.1}  {:14}  {:5.1} s{posted}  {name}", o.at_km, o.kind.phrase(), o.half_shadow_s);
    }
}

fn alternatives(out: &mut PlainLines, c: &Corridor) {
    if !c.alternatives.is_empty() {
        writeln!(out, "roads nearby, least time lost first ({} in all)", c.alternatives.len());
    }
    for a in c.alternatives.iter().take(LISTED) {
        writeln!(out, "  {:7.1} km  outage {:5.1} %  {}", a.length_m / 1e3, 100.0 * a.outage_share, a.road);
    }
}
