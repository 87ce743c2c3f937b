//! What is said where a layer knows nothing of the place asked about: where its roads lie, and what to try.
use super::boxes::widened;
use super::track::Track;
use crate::base::error::{Error, Result};
use crate::base::geodesy::{Position, distance_m};
use crate::layer::{Bounds, Layer};

/// Ground this near to the box around all roads still belongs to the layer, metres: a place off the last road is one near it.
const RIM_M: f64 = 1_000.0;

/// What to do where latitude and longitude are the wrong way round, and elsewhere.
const SWAP: &str = "swap latitude and longitude: latitude comes first in places and boxes that you type (south, \
                    west, north, east), longitude first in GeoJSON";
const OTHER_PLACE: &str = "ask for a place among these roads, or build a layer that covers yours (`waymask build`)";

/// Where a place lies that has nothing near it.
pub(in crate::ask) enum Whereabouts {
    /// Among the layer's roads.
    Within,
    /// Off them.
    Off {
        /// Where the roads lie, to be added to what was not found.
        fact: String,
        /// What to do.
        next_step: String,
    },
}

/// Whether a place with nothing near it is one that the layer covers.
///
/// # Errors
/// The layer holds no roads, or cannot be read.
pub(in crate::ask) fn whereabouts(layer: &Layer, at: Position) -> Result<Whereabouts> {
    let extent = extent(layer)?;
    let place = Bounds { min: at, max: at };
    Ok(if is_on(extent, place) { Whereabouts::Within } else { off(extent, place) })
}

/// The error of places that a layer does not cover; nothing where it covers one of them.
pub(in crate::ask) fn not_covered(layer: &Layer, what: &str, bounds: Bounds) -> Result<Option<Error>> {
    let extent = extent(layer)?;
    if is_on(extent, bounds) {
        return Ok(None);
    }
    let Whereabouts::Off { fact, next_step } = off(extent, bounds) else { return Ok(None) };
    Ok(Some(Error::file(layer.path(), format!("does not cover {what} ({}): {fact}", span(bounds)), next_step)))
}

/// The error of a track that is nowhere on the layer's roads. Points farther apart than `gap_m` are not joined,
/// roads farther than `radius_m` from one are not looked at.
pub(in crate::ask) fn nothing_driven(layer: &Layer, track: &Track, gap_m: f64, radius_m: f64) -> Error {
    nothing(layer, track, gap_m, radius_m).unwrap_or_else(|e| e)
}

fn nothing(layer: &Layer, track: &Track, gap_m: f64, radius_m: f64) -> Result<Error> {
    let points = track.places();
    let Some(bounds) = Bounds::around(&points) else {
        return Ok(Error::usage("track", "has no points", "give at least two"));
    };
    let extent = extent(layer)?;
    let on = |turn: fn(Position) -> Position| {
        let at = |p: &&Position| is_on(extent, Bounds { min: turn(**p), max: turn(**p) });
        points.iter().filter(at).count()
    };
    // A box around all of a track may reach over a layer on which none of its points lies.
    if on(|p| p) == 0 {
        let fact = format!("does not cover the track ({}): its roads lie at {}", span(bounds), span(extent));
        let swapped = 2 * on(turned) > points.len();
        return Ok(Error::file(layer.path(), fact, if swapped { SWAP } else { OTHER_PLACE }));
    }
    if let Some(fact) = too_far_apart(track, gap_m) {
        let next = format!(
            "give a point at least every {:.1} km, or ask for the way through these points: `waymask route`, or \
             `waymask plan --way fastest`",
            gap_m / 1e3
        );
        return Ok(Error::failed("track", fact, next));
    }
    let fact = format!(
        "is not on any road in {}: no road within {radius_m:.0} m of its points ({}) leads from one to the next; the \
         layer's roads lie at {}",
        shown(layer),
        span(bounds),
        span(extent)
    );
    let next = "raise --noise for a track with large errors, or build the layer from a newer extract";
    Ok(Error::failed("track", fact, next))
}

/// What is said of a track most of whose length lies between points farther apart than `gap_m`; nothing of another.
fn too_far_apart(track: &Track, gap_m: f64) -> Option<String> {
    let steps = track.pieces.iter().flat_map(|p| p.windows(2)).map(|w| distance_m(w[0].at, w[1].at));
    let (far, near): (Vec<f64>, Vec<f64>) = steps.partition(|m| *m > gap_m);
    if far.iter().sum::<f64>() <= near.iter().sum::<f64>() {
        return None;
    }
    let gap_km = gap_m / 1e3;
    let apart = if near.is_empty() {
        let shortest_m = far.iter().copied().fold(f64::INFINITY, f64::min);
        format!(
            "all its points are more than {gap_km:.1} km apart (the closest two are {:.1} km apart)",
            shortest_m / 1e3
        )
    } else {
        format!("{} of {} steps between its points are longer than {gap_km:.1} km", far.len(), far.len() + near.len())
    };
    let route = if track.is_route { "is a route through places, not a track that was driven: " } else { "" };
    Some(format!("{route}{apart}: the road between them is not known"))
}

fn shown(layer: &Layer) -> String {
    layer.path().display().to_string()
}

/// Refuses a layer without roads: it can answer nothing.
///
/// # Errors
/// The layer holds no roads, or cannot be read.
pub fn check_roads(layer: &Layer) -> Result<()> {
    extent(layer).map(|_| ())
}

/// The box around all roads.
fn extent(layer: &Layer) -> Result<Bounds> {
    let next = "build it from an extract that has roads (`waymask build`)";
    layer.extent()?.ok_or_else(|| Error::file(layer.path(), "holds no roads", next))
}

/// The box of the roads and the ground near it.
fn rim(extent: Bounds) -> Vec<Bounds> {
    widened(extent, RIM_M)
}

/// Whether a box meets the roads or the ground near them.
fn is_on(extent: Bounds, bounds: Bounds) -> bool {
    rim(extent).iter().any(|b| b.meets(bounds))
}

/// A place or a box off the roads: latitude and longitude may be the wrong way round.
fn off(extent: Bounds, bounds: Bounds) -> Whereabouts {
    let fact = format!("its roads lie at {}", span(extent));
    let swapped = is_on(extent, Bounds { min: turned(bounds.min), max: turned(bounds.max) });
    Whereabouts::Off { fact, next_step: if swapped { SWAP } else { OTHER_PLACE }.to_owned() }
}

/// A place with latitude and longitude the other way round.
fn turned(p: Position) -> Position {
    Position { lon_e7: p.lat_e7, lat_e7: p.lon_e7 }
}

/// A box for people.
fn span(bounds: Bounds) -> String {
    let [west, east, south, north] = bounds.degrees();
    if bounds.min == bounds.max {
        return format!("latitude {south:.5}, longitude {west:.5}");
    }
    format!("latitude {south:.4} to {north:.4}, longitude {west:.4} to {east:.4}")
}
