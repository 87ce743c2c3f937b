//! Tracks and places that people give: opened and read, or typed.
use std::path::Path;

use crate::ask::search::{NameFit, PlaceTyped, find, legs, place_typed};
use crate::ask::track::{Track, read_bytes, read_with};
use crate::base::error::{Error, Result};
use crate::base::files::ending;
use crate::base::geodesy::Position;
use crate::base::input::{self, InputKind};
use crate::layer::Layer;

/// What may be typed for a track.
const GIVE: &str =
    "give a file, waypoints such as \"42.5,1.5 42.51,1.5\", or places such as \"Harrow Quay to Eastmark\"";

/// Whether words name a file: there is one, or they look like the path of one and like no place. `St. Moritz` and
/// `Biel/Bienne` look like places.
pub(crate) fn names_file(words: &str) -> bool {
    let path = Path::new(words);
    let has_ending = |end: String| {
        end.starts_with(|c: char| c.is_ascii_alphabetic())
            && end.len() < 9
            && end.bytes().all(|b| b.is_ascii_alphanumeric())
    };
    let begins = ["/", "./", "../", "~"].iter().any(|begin| words.starts_with(begin));
    path.exists() || !words.contains([',', ';']) && (begins || has_ending(ending(path)))
}

/// A track from a file, a pipe or standard input (`/dev/stdin`), or waypoints; `polyline_decimals` is the precision of an
/// encoded polyline where it is told. For commands that have no layer in which names are found.
pub fn track(track: &str, polyline_decimals: Option<u8>) -> Result<Track> {
    let path = Path::new(track);
    if names_file(track) {
        let next = "give a file (GPX, GeoJSON or encoded polyline), or waypoints such as \"42.5,1.5 42.51,1.5\"";
        let bytes = input::bytes(path, InputKind::Track, next)?;
        return read_bytes(bytes, polyline_decimals).map_err(|fact| Error::file(path, fact, next));
    }
    let next = "give a file, or waypoints such as \"42.5,1.5 42.51,1.5\"";
    read_with(track, polyline_decimals).map_err(|fact| Error::usage("track", fact, next))
}

/// The same, or places by their names: `Harrow Quay to Eastmark`. What was taken for each name is a note of the track.
pub fn track_in(layer: &Layer, text: &str, polyline_decimals: Option<u8>) -> Result<Track> {
    let places = legs(text);
    if names_file(text) {
        return track(text, polyline_decimals);
    }
    if places.len() > 1 {
        let found = places_on_road(layer, &places)?;
        let (at, notes) = (found.iter().map(|p| p.at).collect::<Vec<_>>(), told(&found));
        return Track::through(&at, notes).map_err(|fact| Error::usage("track", fact, GIVE));
    }
    // Letters alone may be an encoded polyline, too: a name that the layer has is one.
    let is_name = || Ok(text.len() < 100 && find(layer, text)?.best.iter().any(|place| place.fit == NameFit::Exact));
    let typed = if is_name()? { Err("is a name".to_owned()) } else { read_with(text, polyline_decimals) };
    typed.map_err(|fact| match place_typed(layer, text) {
        Ok(_) => Error::usage(
            "track",
            "is one place; a drive needs two",
            "add where it goes, as in \"Harrow Quay to Eastmark\"",
        ),
        // A name that nobody knows is what is wrong; other text was meant as waypoints or as a polyline.
        Err(error) if text.chars().all(|c| c.is_alphabetic() || c.is_whitespace()) => error,
        Err(_) => Error::usage("track", fact, GIVE),
    })
}

/// One place: coordinates or a name.
pub fn place_in(layer: &Layer, text: &str) -> Result<PlaceTyped> {
    place_typed(layer, text)
}

/// One place to drive to: where a name is given, the road nearest to it.
pub fn place_on_road(layer: &Layer, text: &str) -> Result<PlaceTyped> {
    place_typed(layer, text)?.on_road(layer)
}

/// The same of places in their order.
pub fn places_on_road<T: AsRef<str>>(layer: &Layer, texts: &[T]) -> Result<Vec<PlaceTyped>> {
    texts.iter().map(|text| place_on_road(layer, text.as_ref())).collect()
}

/// What was taken for names, of places in the order driven: `from Wether Harbour (town, ...)`.
pub fn told(places: &[PlaceTyped]) -> Vec<String> {
    let label = |nth: usize| match nth {
        0 => "from".to_owned(),
        n if n + 1 == places.len() => "to".to_owned(),
        n => format!("via {n}"),
    };
    let named = places.iter().enumerate().filter_map(|(nth, p)| Some((nth, p.told.as_ref()?)));
    named.map(|(nth, place)| format!("{} {place}", label(nth))).collect()
}

/// Where places are.
pub fn positions(places: &[PlaceTyped]) -> Vec<Position> {
    places.iter().map(|p| p.at).collect()
}
