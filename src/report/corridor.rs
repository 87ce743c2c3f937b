//! The corridor as a table for people.
use crate::ask::corridor::{Corridor, DrivenOutage, Joining};
use crate::base::caution::{Caution, on_terminal};
use crate::base::count::counted;
use crate::base::measure::duration;
use crate::base::plain::PlainLines;
use crate::base::words::Units;

/// Most overheads and roads nearby listed; the rest is counted.
const LISTED: usize = 20;

/// Outages named in the first sentence.
const NAMED: usize = 3;

/// The table, with all outages or those that end a meeting; what its readers are warned of ends it.
pub fn table(c: &Corridor, all: bool, units: Units) -> String {
    let mut out = PlainLines::new();
    writeln!(out, "{}", first_words(c, units));
    writeln!(
        out,
        "track {}, on the layer's roads {}, off them {}",
        units.road(c.track_m),
        units.road(c.length_m),
        units.road(c.unmatched_m)
    );
    writeln!(
        out,
        "driving time {}, expected time without a link {} ({:.1} %)",
        duration(c.time_s),
        duration(c.outage_s),
        if c.time_s > 0.0 { 100.0 * c.outage_s / c.time_s } else { 0.0 }
    );
    if c.is_spread() {
        writeln!(out, "if trees and buildings differ from what is assumed: {}", range_words(c));
    }
    for (rating, metres) in c.metres_by_rating.iter() {
        let spread = if c.is_spread() {
            let [best, worst] = [&c.metres_by_rating_best, &c.metres_by_rating_worst].map(|m| units.road(m[rating]));
            format!("  (at best {best}, at worst {worst})")
        } else {
            String::new()
        };
        writeln!(out, "  {:>12}  {:6}{spread}", units.road(*metres), rating.name());
    }
    if c.unknown_m > 0.0 {
        writeln!(
            out,
            "  {:>12}  of these have a cause that could not be known: unknown is not clear",
            units.road(c.unknown_m)
        );
    }
    c.notes.iter().for_each(|n| writeln!(out, "note: {n}"));
    outages(&mut out, c, all, units);
    worst(&mut out, c, units);
    overheads(&mut out, c, all, units);
    nearby(&mut out, c, units);
    if !c.joined.is_empty() {
        writeln!(
            out,
            "stretches of the track without points, joined along roads ({}, included in the figures)",
            units.road(c.joined.iter().map(|j| j.length_m).sum())
        );
    }
    c.joined.iter().for_each(|j| writeln!(out, "  after {}", joined_words(j, units)));
    if !c.unmatched.is_empty() {
        writeln!(out, "track off the layer's roads");
    }
    for u in &c.unmatched {
        let how = if u.bridged { "joined along roads between its ends" } else { "not included in the figures" };
        let (at, lat, lon) = (u.track_km, u.lat_deg, u.lon_deg);
        let (at, far) = (units.road(at * 1e3), units.near(u.length_m));
        writeln!(out, "  after {at:>10} of track  {lat:.5},{lon:.5}  {far:>10}  {how}");
    }
    out.own(&on_terminal(&Caution::ROAD));
    out.text()
}

/// A stretch without points that roads join: `after` and this, where to where, how long, and what speaks for it.
pub(super) fn joined_words(j: &Joining, units: Units) -> String {
    let part = |m: f64, what: &str| if m < 1.0 { String::new() } else { format!(", {} {what}", units.road(m)) };
    format!(
        "{:>10} of track  {:.5},{:.5} to {:.5},{:.5}  {} of road, {} in a straight line{}{}; {}",
        units.road(j.track_km * 1e3),
        j.from_lat_deg,
        j.from_lon_deg,
        j.to_lat_deg,
        j.to_lon_deg,
        units.road(j.length_m),
        units.road(j.straight_m),
        part(j.covered_m, "in tunnels or under roofs"),
        part(j.boarded_m, "on a ferry or train"),
        match j.lasted_s {
            Some(s) => format!("{} between the points, {} according to the layer", duration(s), duration(j.time_s)),
            None => "without times, so judged by length only".to_owned(),
        }
    )
}

/// Time without a link at best and at worst.
pub(super) fn range_words(c: &Corridor) -> String {
    format!("from {} at best to {} at worst", duration(c.outage_best_s), worst_words(c))
}

/// The time at worst; where a cause could not be known it may be more.
pub(super) fn worst_words(c: &Corridor) -> String {
    let more = if c.unknown_m > 0.0 { " or more" } else { "" };
    format!("{}{more}", duration(c.outage_worst_s))
}

/// What ends a call, in a sentence; what could not be matched comes first.
fn first_words(c: &Corridor, units: Units) -> String {
    let missed = match c.unmatched.iter().filter(|u| !u.bridged).map(|u| u.length_m).sum::<f64>() {
        m if m >= 1.0 => format!("Not known: {} of the track is off the layer's roads. ", units.length(m)),
        _ => String::new(),
    };
    let missed = match c.unknown_m {
        m if m >= 50.0 => {
            format!(
                "{missed}For {:.1} of {} it is not known whether more blocks the sky. ",
                units.of_road(m),
                units.road(c.length_m)
            )
        }
        _ => missed,
    };
    let longer = |than_s: f64| c.outages.iter().filter(move |o| o.outage_p95_s > than_s);
    // The longest edge that something exceeds says most.
    let edge_s = c.tolerated_s[..2].iter().rev().find(|edge_s| longer(**edge_s).next().is_some());
    let Some(edge_s) = edge_s else {
        return format!(
            "{missed}At every place on the road, 19 of 20 drives lose the link for at most {:.0} s.",
            c.tolerated_s[0]
        );
    };
    let mut all: Vec<_> = longer(*edge_s).collect();
    let count = counted(all.len(), "place");
    all.sort_by(|a, b| b.outage_p95_s.total_cmp(&a.outage_p95_s));
    let rest = all.len().saturating_sub(NAMED);
    all.truncate(NAMED);
    all.sort_by(|a, b| a.at_km.total_cmp(&b.at_km));
    let one = |o: &&DrivenOutage| format!("{} ({}, {})", units.at(o.at_km), duration(o.outage_p95_s), o.cause.phrase());
    let more = if rest > 0 { format!(" and {rest} more") } else { String::new() };
    let listed = all.iter().map(one).collect::<Vec<_>>().join(", ");
    format!(
        "{missed}At {count}, at least one drive in twenty loses the link for more than {edge_s:.0} s: {listed}{more}."
    )
}

/// Outages that end some kind of meeting, or all.
fn outages(out: &mut PlainLines, c: &Corridor, all: bool, units: Units) {
    let matters = |o: &&DrivenOutage| all || c.matters(o);
    let kept: Vec<&DrivenOutage> = c.outages.iter().filter(matters).collect();
    let what = if all { "outages" } else { "outages too long for some kind of meeting" };
    writeln!(out, "{what}, in the order driven{}", if kept.is_empty() { ": none" } else { "" });
    for o in &kept {
        let ends = match c.tolerated_s {
            [_, _, drops] if o.outage_p95_s > drops => "too long for messages",
            [_, gaps, _] if o.outage_p95_s > gaps => "too long for casual",
            [blips, ..] if o.outage_p95_s > blips => "too long for must-not-drop",
            _ => "",
        };
        writeln!(
            out,
            "  {} {:7.1} to {:7.1}  {:19}  {:15}  p95 {:6.1} s  expected {:6.1} s  {ends:26}  {}",
            units.post(),
            units.of_road(o.at_km * 1e3),
            units.of_road(o.to_km * 1e3),
            format!("{:.5},{:.5}", o.lat_deg, o.lon_deg),
            o.cause.phrase(),
            o.outage_p95_s,
            o.outage_s,
            o.road
        );
    }
    let left = c.outages.len() - kept.len();
    if left > 0 {
        writeln!(
            out,
            "  and {} of at most {:.0} s, which every kind of meeting tolerates (--all lists them)",
            counted(left, "outage"),
            c.tolerated_s[0]
        );
    }
}

fn worst(out: &mut PlainLines, c: &Corridor, units: Units) {
    if !c.worst.is_empty() {
        writeln!(out, "worst stretches");
    }
    for s in &c.worst {
        writeln!(
            out,
            "  {} {:7.1}  {:6}  {:15}  {:>8}  expected {:6.1} s  p95 {:6.1} s  from segment {}  {}{}",
            units.post(),
            units.of_road(s.at_km * 1e3),
            s.rating,
            s.cause.phrase(),
            units.near(s.length_m),
            s.outage_s,
            s.outage_p95_s,
            s.segment_id,
            s.road,
            s.town.as_ref().map_or(String::new(), |town| format!(", {}", town.words(units)))
        );
    }
}

fn overheads(out: &mut PlainLines, c: &Corridor, all: bool, units: Units) {
    if !all {
        return;
    }
    if !c.overheads.is_empty() {
        writeln!(
            out,
            "overheads, longest shadow first: seconds with more than half of the usable sky hidden ({} in all)",
            c.overheads.len()
        );
    }
    let mut longest: Vec<_> = c.overheads.iter().collect();
    longest.sort_by(|a, b| b.half_shadow_s.total_cmp(&a.half_shadow_s));
    for o in longest.into_iter().take(LISTED) {
        let name = o.name.as_deref().unwrap_or("");
        let posted = o.maxheight_m.map_or(String::new(), |m| format!("  posted {}", units.clearance(m)));
        let (post, at) = (units.post(), units.of_road(o.at_km * 1e3));
        writeln!(out, "  {post} {at:7.1}  {:14}  {:5.1} s{posted}  {name}", o.kind.phrase(), o.half_shadow_s);
    }
}

fn nearby(out: &mut PlainLines, c: &Corridor, units: Units) {
    if !c.nearby.is_empty() {
        writeln!(out, "roads nearby, least time lost first ({} in all)", c.nearby.len());
    }
    for a in c.nearby.iter().take(LISTED) {
        writeln!(out, "  {:>10}  outage {:5.1} %  {}", units.road(a.length_m), 100.0 * a.outage_share, a.road);
    }
}
