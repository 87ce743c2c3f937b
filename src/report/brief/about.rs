//! Head, foot and assumptions of the page: what it is based on and who is credited.
use std::fmt::Write;

use super::marks;
use super::model::Brief;
use crate::ask::corridor::Corridor;
use crate::ask::plan::DriveRisk;
use crate::ask::source::Source;
use crate::ask::trip::{Trip, TripDay};
use crate::base::count::counted;
use crate::base::markup::escape;
use crate::base::measure::{duration, minutes};
use crate::base::words::{Evidence, Units};
use crate::profile::presets::PRESETS;
use crate::report::words::data_of;

const VERSION: &str = env!("CARGO_PKG_VERSION");

/// Title, dates, zone.
pub(super) fn head(out: &mut String, brief: &Brief) {
    let trip = brief.trip;
    let _ = writeln!(out, "<header>\n<h1>{}</h1>", escape(brief.title));
    let (first, last) = (trip.days.first(), trip.days.last());
    if let (Some(first), Some(last)) = (first, last) {
        let length_km: f64 = trip.days.iter().map(|d| d.plan.chosen.length_km).sum();
        let date = |d: &crate::ask::trip::TripDay| d.plan.chosen.depart.0.strftime("%-d %B %Y").to_string();
        let dates = if trip.days.len() == 1 { date(first) } else { format!("{} to {}", date(first), date(last)) };
        let length = trip.shown.units.road(length_km * 1e3);
        let _ = writeln!(out, "<p><b>{}</b>, {length}. Times in {}.</p>", escape(&dates), escape(&trip.zone));
    }
    let _ = writeln!(out, "<p class=\"small\">{}</p>", escape(&data_words(&trip.source, trip.shown.units)));
    if trip.days.len() > 1 {
        days(out, trip);
    }
    for file in brief.map_pages {
        let _ = writeln!(out, "<p><a href=\"{}\">Map to look at: {}</a></p>", address(file), escape(file));
    }
    *out += "<p class=\"passenger\">For the passenger, never for the driver. <a href=\"#cautions\">Before you rely on it</a></p>\n</header>\n";
}

/// The days, each with the words for its meetings.
fn days(out: &mut String, trip: &Trip) {
    *out += "<nav aria-label=\"Days\"><ul class=\"days\">\n";
    for (nth, day) in trip.days.iter().enumerate() {
        let meetings = day.plan.chosen.meetings.iter().enumerate();
        let words: Vec<String> =
            meetings.map(|(n, m)| format!("{}\u{a0}{}", marks::meeting(n), m.verdict.name())).collect();
        let words = if words.is_empty() { "no meetings".to_owned() } else { words.join(", ") };
        let date = day.plan.chosen.depart.0.strftime("%a %-d %b");
        let _ = writeln!(out, "<li><a href=\"#day-{}\">{date}</a>: {words}</li>", nth + 1);
    }
    *out += "</ul></nav>\n";
}

/// The address of a file in the same folder (RFC 3986): all but letters, digits and `-._~` as bytes in hexadecimal. The
/// beginning says that it is not a scheme.
fn address(file: &str) -> String {
    let mut out = String::from("./");
    for byte in file.bytes() {
        match byte {
            b'A'..=b'Z' | b'a'..=b'z' | b'0'..=b'9' | b'-' | b'.' | b'_' | b'~' => out.push(byte.into()),
            other => {
                let _ = write!(out, "%{other:02X}");
            }
        }
    }
    out
}

/// Date and credit of the map data.
fn data_words(source: &Source, units: Units) -> String {
    let of = data_of(source);
    let credit = if source.credits.is_empty() { String::new() } else { format!(": {}", source.credits.join("; ")) };
    format!("{of}{credit}. {}", panel_words(source, units))
}

/// The panel and the vehicle, in one sentence.
fn panel_words(source: &Source, units: Units) -> String {
    let p = &source.profile;
    let ready = PRESETS.iter().find(|r| r.profile().is_ok_and(|ready| ready == *p));
    let name = ready.map_or("a custom profile".to_owned(), |r| format!("the profile “{}”", r.name));
    format!(
        "Rated for {name}: panel {} above the road, scanning {:.0}° to every side{}, vehicle {} high.",
        units.height(p.vehicle.antenna_height_m),
        p.terminal.scan_half_angle_deg,
        if p.terminal.tilt_deg > 0.0 { format!(", tilted by {:.0}°", p.terminal.tilt_deg) } else { String::new() },
        units.tall(p.vehicle.vehicle_height_m)
    )
}

/// What the figures are based on.
pub(super) fn assumptions(out: &mut String, trip: &Trip) {
    *out += "<section>\n<h2>What this is based on</h2>\n<ul>\n";
    let mut item = |text: &str| {
        let _ = writeln!(out, "<li>{}</li>", escape(text));
    };
    trip.source.assumed.iter().for_each(|a| item(a));
    item(&evidence_words(trip));
    spread_words(trip).iter().for_each(|words| item(words));
    let rules = &trip.settings.driving;
    item(&format!(
        "Rules of driving: {}, a break of {} after every {}, at most {} at the wheel, between {} \
         and {}.",
        counted(rules.drivers, "driver"),
        minutes(rules.break_min),
        minutes(60.0 * rules.break_after_h),
        minutes(60.0 * rules.day_h),
        trip.shown.dial.time(rules.from),
        trip.shown.dial.time(rules.to)
    ));
    item(
        "Ratings and outages come from simulated drives: of 100 drives, 95 meet no outage longer than the 95th \
         percentile. They are for the direction driven; the open share is that of the worse direction of the road.",
    );
    *out += "</ul>\n</section>\n";
}

/// Kilometres by what their rating is based on.
fn evidence_words(trip: &Trip) -> String {
    let units = trip.shown.units;
    let road = |word: Evidence| -> String {
        let pieces = trip.days.iter().flat_map(|d| &d.corridor.pieces);
        units.road(pieces.filter(|p| p.evidence == word).map(|p| p.length_m).sum::<f64>() + 0.0)
    };
    // Ground between the ends of two tracks is part of the drive too, as the notes of the day count it.
    let driving = &trip.settings.driving;
    let unknown_m = |d: &TripDay| d.corridor.unmatched_m.max(DriveRisk::of(&d.corridor, driving).unknown_m());
    let unmatched = units.length(trip.days.iter().map(unknown_m).sum::<f64>() + 0.0);
    format!(
        "Of the road driven, {} are based on data, {} on assumed heights of what blocks the sky there, \
         and for {} a cause could not be known; {unmatched} of the way is off the layer's roads. Unknown is \
         not clear.",
        road(Evidence::Data),
        road(Evidence::Default),
        road(Evidence::Unknown)
    )
}

/// Time without a link with other trees and buildings than assumed; nothing where that changes nothing.
fn spread_words(trip: &Trip) -> Option<String> {
    let sum = |of: fn(&Corridor) -> f64| trip.days.iter().map(|d| of(&d.corridor)).sum::<f64>();
    trip.days.iter().any(|d| d.corridor.is_spread()).then(|| {
        let or_more = if sum(|c| c.unknown_m) > 0.0 { " or more" } else { "" };
        format!(
            "Expected time without a link: {}; {} with trees, buildings, walls and banks at the favourable end of \
             what is assumed about them, {}{or_more} at the unfavourable end. This range does not cover satellites, \
             link and speed.",
            duration(sum(|c| c.outage_s)),
            duration(sum(|c| c.outage_best_s)),
            duration(sum(|c| c.outage_worst_s)),
        )
    })
}

/// Who made it from what.
pub(super) fn foot(out: &mut String, trip: &Trip) {
    let source = &trip.source;
    let built = if source.built_by.is_empty() || source.built_by == VERSION {
        String::new()
    } else {
        format!(" from a layer built by waymask {}", source.built_by)
    };
    let credit =
        if source.credits.is_empty() { String::new() } else { format!(" Map data: {}.", source.credits.join("; ")) };
    let _ =
        writeln!(out, "<footer>\n<p>{}</p>\n</footer>", escape(&format!("Made by waymask {VERSION}{built}.{credit}")));
}

#[cfg(test)]
mod tests {
    use super::address;

    #[test]
    fn a_name_of_a_file_is_an_address_and_nothing_more() {
        assert_eq!(address("varrow.html"), "./varrow.html");
        assert_eq!(address("a b?#\"é.html"), "./a%20b%3F%23%22%C3%A9.html");
        assert_eq!(address("javascript:x.html"), "./javascript%3Ax.html");
    }
}
