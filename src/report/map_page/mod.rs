//! The map page: a part of a layer as one file that a browser opens from the disk.
//!
//! It loads nothing: the map library, the program of the page and what it shows are in it, and a policy in its head lets only
//! these run. Text from maps is data: packed, and shown as text. Without scripts, or where a browser cannot draw the map, the
//! worst outages are there as a list, on a drawn overview. The same input gives the same bytes.
mod columns;
mod library;
mod lists;
mod model;
mod overview;
mod packed;
mod payload;
mod policy;
mod strings;
mod words;

use crate::ask::portion::Portion;
use crate::base::caution::Caution;
use crate::base::error::{Error, Result};
use crate::base::markup::escape;
use crate::base::words::Units;
use crate::layer::REPORT;
use library::library;
pub use model::MapPage;
use policy::PageParts;

/// The program of the page, in the order in which its parts use each other.
const PROGRAM: [&str; 11] = [
    include_str!("web/data.js"),
    include_str!("web/words.js"),
    include_str!("web/looks.js"),
    include_str!("web/icons.js"),
    include_str!("web/layers.js"),
    include_str!("web/view.js"),
    include_str!("web/card.js"),
    include_str!("web/filters.js"),
    include_str!("web/search.js"),
    include_str!("web/strip.js"),
    include_str!("web/main.js"),
];
const STYLE: &str = include_str!("web/page.css");
const PAGE: &str = include_str!("web/page.html");
const VERSION: &str = env!("CARGO_PKG_VERSION");

pub use policy::{is_map_of, layer_mark};
pub use words::{group as group_words, stops_words};

/// The page.
///
/// # Errors
/// What it holds cannot be packed.
pub fn map_page(page: &MapPage) -> Result<String> {
    let failed = |what: &str| Error::failed("the map page", what.to_owned(), REPORT);
    let portion = page.portion;
    let data = payload::packed(page).map_err(|e| failed(&e))?;
    let program = format!("(() => {{\n\"use strict\";\n{}}})();\n", PROGRAM.concat());
    let parts = PageParts { style: STYLE, library: library(), program: &program };
    let title = escape(&strings::cut(page.title));
    let mut head = String::new();
    parts.head(&mut head, &title, page.mark);
    let mut scripts = String::new();
    parts.scripts(&mut scripts, &data);
    let fill: [(&str, String); 11] = [
        ("head", head),
        ("title", title),
        ("about", escape(&words::about(&portion.source, page.units))),
        ("left-out", [left_out(portion, page.units), off_road(portion, page.units)].concat()),
        ("overview", overview::figure(portion, page.units)),
        ("outages", lists::outages(portion, page.units)),
        ("legend", lists::legend(&portion.source.profile.rating)),
        ("rests-on", lists::rests_on(portion, page.units)),
        ("cautions", lists::items(cautions(portion).map(Caution::text))),
        ("foot", escape(&words::foot(&portion.source, VERSION))),
        ("scripts", scripts),
    ];
    filled(PAGE, &fill).ok_or_else(|| failed("its frame has a place that nothing fills"))
}

/// The frame of the page with its places `{{name}}` filled, each once and in one go: what fills them is not looked into.
fn filled(frame: &str, fill: &[(&str, String)]) -> Option<String> {
    let mut out = String::with_capacity(frame.len() + fill.iter().map(|(_, text)| text.len()).sum::<usize>());
    let mut rest = frame;
    while let Some((before, after)) = rest.split_once("{{") {
        let (name, behind) = after.split_once("}}")?;
        out += before;
        out += &fill.iter().find(|(of, _)| *of == name)?.1;
        rest = behind;
    }
    Some(out + rest)
}

/// What was left out, said first: a road that is not drawn is not a clear one.
fn left_out(portion: &Portion, units: Units) -> String {
    if portion.left_out.is_empty() {
        return String::new();
    }
    let all: Vec<String> = portion
        .left_out
        .iter()
        .map(|left| {
            let long = units.road_about(left.km * 1e3);
            format!("{} ({} segments, {long})", words::group(left.group), left.segments)
        })
        .collect();
    format!(
        "<p class=\"warn\"><b>Not on this map:</b> {}. There are too many roads for one page; ask for a smaller part to see them. Their \
         worst outages are numbered all the same.</p>",
        escape(&all.join("; "))
    )
}

/// Track without a road, said first: what is not known is not clear.
fn off_road(portion: &Portion, units: Units) -> String {
    let off_m = portion.trip.as_ref().map_or(0.0, |trip| trip.unmatched_m);
    if off_m <= 0.0 {
        return String::new();
    }
    format!(
        "<p class=\"warn\"><b>Not known:</b> {} of the track is off the layer's roads, and in no figure here.</p>",
        units.length(off_m)
    )
}

fn cautions(portion: &Portion) -> impl Iterator<Item = Caution> {
    let has_stops = !portion.stops.is_empty();
    let of_stops = Caution::STOPS.into_iter().filter(move |c| has_stops && !Caution::ROAD.contains(c));
    Caution::ROAD.into_iter().chain(of_stops)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn places_are_filled_once_and_not_looked_into() {
        let fill = [("a", "{{b}}".to_owned()), ("b", "<i>".to_owned())];
        assert_eq!(filled("1{{a}}2{{b}}3", &fill).as_deref(), Some("1{{b}}2<i>3"));
        assert_eq!(filled("1{{c}}", &fill), None);
        assert_eq!(filled("1{{a", &fill), None);
    }

    #[test]
    fn the_library_comes_without_a_name_of_another_file() {
        assert!(!library().contains("sourceMappingURL") && library().contains("maplibregl"));
        // It would end the element it is in.
        for script in PROGRAM.into_iter().chain([library()]) {
            assert!(!script.contains("</script") && !script.contains("<!--"));
        }
    }
}
