//! The brief: a whole trip as one page to print or to keep on a telephone.
//!
//! One HTML file that loads nothing and runs nothing: figures are SVG drawn here, what a pointer shows is their `<title>`, and a
//! policy in its head forbids the rest even if a text had slipped through. All text from maps, calendars and files is escaped.
//! The same input gives the same bytes.
mod about;
mod answer;
mod cards;
mod day;
mod drive;
mod fallbacks;
mod late;
mod map;
mod marks;
mod model;
mod strip;
mod style;
mod tables;

use std::fmt::Write;

use crate::ask::trip::Trip;
use crate::base::markup::escape;
use crate::report::plan::plan_cautions;
pub use model::Brief;

/// Nothing may be loaded, no script may run.
const POLICY: &str = "default-src 'none'; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'";

/// The page.
pub fn page(brief: &Brief) -> String {
    let title = escape(brief.title);
    let mut out = format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta http-equiv=\"Content-Security-Policy\" content=\"{POLICY}\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
         <meta name=\"color-scheme\" content=\"light dark\">\n\
         <title>{title}</title>\n<style>\n{}</style>\n</head>\n<body>\n",
        style::css()
    );
    about::head(&mut out, brief);
    out += "<main>\n";
    for (i, day) in brief.trip.days.iter().enumerate() {
        let nearby = brief.nearby.get(i).map_or(&[][..], Vec::as_slice);
        let places = brief.places.get(i).map_or(&[][..], Vec::as_slice);
        day::section(&mut out, &model::DayOf { number: i + 1, day, nearby, places, trip: brief.trip });
    }
    if let Some(spending) = &brief.trip.spending {
        tables::spent::section(&mut out, spending, brief.trip.shown);
    }
    about::assumptions(&mut out, brief.trip);
    cautions(&mut out, brief.trip);
    out += "</main>\n";
    about::foot(&mut out, brief.trip);
    out + "</body>\n</html>\n"
}

fn cautions(out: &mut String, trip: &Trip) {
    *out += "<section class=\"cautions\" id=\"cautions\">\n<h2>Before you rely on it</h2>\n<ul>\n";
    for caution in plan_cautions(trip) {
        let _ = writeln!(out, "<li>{}</li>", escape(caution.text()));
    }
    *out += "</ul>\n</section>\n";
}
