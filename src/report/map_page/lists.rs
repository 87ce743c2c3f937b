//! What the page says without scripts: the worst outages, the legend, what it rests on, cautions.
use std::fmt::Write;

use super::words;
use crate::ask::corridor::{Corridor, DrivenOutage, numbered_outages};
use crate::ask::portion::{NumberedOutage, Portion};
use crate::base::count::counted;
use crate::base::geodesy::WINDS;
use crate::base::markup::escape;
use crate::base::measure::duration;
use crate::base::ramp::{hex, look};
use crate::base::words::{Evidence, Rating, Units};
use crate::layer::{RoadGroup, rating_width_mm, rating_words};
use crate::profile::RatingEdges;
use crate::report::words::{WORST, unbroken};

/// How many outages of a region are seen before one asks for more.
const AT_ONCE: usize = 6;
/// Pixels of a screen per millimetre (CSS: 96 to an inch).
const PX_PER_MM: f64 = 96.0 / 25.4;

/// Items of a list.
pub(super) fn items(texts: impl Iterator<Item = &'static str>) -> String {
    texts.fold(String::new(), |mut out, text| {
        let _ = writeln!(out, "<li>{}</li>", escape(text));
        out
    })
}

/// A numbered outage of a region, in a line.
pub(super) fn title(o: &NumberedOutage, units: Units) -> String {
    let ways = if o.both_ways { "both directions".to_owned() } else { format!("towards {}", WINDS[o.towards % 8]) };
    let (cause, length, longest) = (o.cause.phrase(), units.length(o.length_m), duration(o.outage_p95_s));
    unbroken(&format!("{}: {cause}, {length}, {ways}, to {longest}", words::road(&o.road)))
}

/// A numbered outage of a drive, in a line.
pub(super) fn driven_title(o: &DrivenOutage, units: Units) -> String {
    let (cause, length, longest) = (o.cause.phrase(), units.length(o.length_m), duration(o.outage_p95_s));
    unbroken(&format!("{}, {}: {cause}, {length}, to {longest}", units.at(o.at_km), words::road(&o.road)))
}

/// The numbered outages of a drive: the first has number 1.
pub(super) fn of_drive(trip: &Corridor) -> impl Iterator<Item = &DrivenOutage> {
    numbered_outages(trip, WORST).into_iter().map(|nth| &trip.outages[nth])
}

/// What the times of the lists are.
const TIMES: &str =
    "<p class=\"small\">Cause, length of road, longest outage: 95 of 100 drives meet none that is longer.</p>\n";

/// The worst outages. Their numbers are those on the map.
pub(super) fn outages(portion: &Portion, units: Units) -> String {
    let mut out = String::new();
    if let Some(trip) = &portion.trip {
        let all: Vec<_> = of_drive(trip).map(|o| (o.rating, driven_title(o, units))).collect();
        out += "<h2>The worst outages of the drive</h2>\n";
        out += TIMES;
        list(&mut out, 1, &all);
        return out;
    }
    out += "<h2>Where the link is out</h2>\n";
    out += TIMES;
    let great = |o: &&NumberedOutage| matches!(o.group, RoadGroup::Main | RoadGroup::Through);
    let of = |list: Vec<&NumberedOutage>| list.into_iter().map(|o| (o.rating, title(o, units))).collect::<Vec<_>>();
    let (through, small): (Vec<_>, Vec<_>) = portion.outages.iter().partition(great);
    let (through, small) = (of(through), of(small));
    let first = through.len() + 1;
    out += "<h3>On main and through roads</h3>\n";
    let seen = through.len().min(AT_ONCE);
    list(&mut out, 1, &through[..seen]);
    folded(&mut out, &format!("{} more", through.len() - seen), seen + 1, &through[seen..]);
    folded(&mut out, &format!("On smaller roads: {}", small.len()), first, &small);
    out
}

/// A list under a heading that opens it; nothing where it is empty.
fn folded(out: &mut String, heading: &str, first: usize, all: &[(Rating, String)]) {
    if !all.is_empty() {
        let _ = writeln!(out, "<details><summary>{heading}</summary>");
        list(out, first, all);
        *out += "</details>\n";
    }
}

fn list(out: &mut String, first: usize, all: &[(Rating, String)]) {
    if all.is_empty() {
        *out += "<p>None that is known.</p>\n";
        return;
    }
    let _ = writeln!(out, "<ol class=\"numbered\" start=\"{first}\">");
    for (number, (rating, title)) in (first..).zip(all) {
        let _ = writeln!(
            out,
            "<li data-outage=\"{number}\"><span class=\"number\" aria-hidden=\"true\">{number}</span><span class=\"words\">{} <span class=\"sign rating-{}\">{rating}</span></span></li>",
            escape(title),
            rating.code()
        );
    }
    *out += "</ol>\n";
}

/// What colours, widths and patterns mean. The program of the page turns it into filters.
pub(super) fn legend(edges: &RatingEdges) -> String {
    let mut out = String::from("<ul class=\"legend\" id=\"legend\">\n");
    for &rating in Rating::ALL {
        let (colour, width) = (hex(look(rating).colour), rating_width_mm(rating) * PX_PER_MM * 1.3);
        let dashes = match rating {
            Rating::Drops => "9 5",
            Rating::Dark => "2 4",
            Rating::Steady | Rating::Blips | Rating::Gaps => "0 9",
        };
        let _ = writeln!(
            out,
            "<li data-rating=\"{}\"><svg viewBox=\"0 0 44 14\" width=\"44\" height=\"14\" aria-hidden=\"true\"><path class=\"rating-{}\" d=\"M2 7h40\" \
             stroke=\"{colour}\" stroke-width=\"{width:.1}\"/><path d=\"M2 7h40\" class=\"dash\" stroke-dasharray=\"{dashes}\"/></svg> <span>{}</span></li>",
            rating.code(),
            rating.code(),
            escape(&rating_words(rating, edges))
        );
    }
    out += "</ul>\n";
    out
}

/// Kilometres by what their rating rests on, and what is in the layer.
pub(super) fn rests_on(portion: &Portion, units: Units) -> String {
    let road = |word: Evidence| {
        let of = portion.segments.iter().filter(|s| s.evidence == word);
        units.road_about(of.map(|s| s.length_m).sum::<f64>() + 0.0)
    };
    let mut out = String::new();
    let mut item = |text: String| {
        let _ = writeln!(out, "<li>{}</li>", escape(&text));
    };
    item(format!(
        "On this page: {}. The ratings of {} rest on data, of {} on assumptions about the roadside; for {} a cause \
         could not be known. Unknown is not clear.",
        counted(portion.segments.len() as u64, "segment"),
        road(Evidence::Data),
        road(Evidence::Default),
        road(Evidence::Unknown)
    ));
    for word in Evidence::ALL {
        item(format!("What “{}” means: the rating rests on {}.", word.name(), words::evidence(*word)));
    }
    item(
        "Best and worst are the rating with what is assumed about trees, buildings and banks at the favourable and the unfavourable \
         end of its range. They say nothing of satellites, link and speed."
            .to_owned(),
    );
    item("Water and names of places are drawn for orientation only; they decide no rating.".to_owned());
    out
}
