//! From a layer and a question to ways and what the layer says about each.
use std::collections::hash_map::Entry;
use std::collections::{HashMap, HashSet};

use super::answer::{PlaceTaken, RouteAnswer, RouteWay, way_told};
use super::chance::TellingWays;
use super::journey::EdgePath;
use super::places::{RoutePlaces, of_edge};
use super::question::{MOST_PLACES, RouteQuestion};
use super::snap::RouteSpot;
use super::steps::{Segments, matched};
use super::table::{EdgeTable, RouteRules};
use super::ways::Limits;
use crate::ask::corridor::{Corridor, of_matched};
use crate::ask::matching::Matched;
use crate::ask::search::Towns;
use crate::base::error::{Error, Result};
use crate::base::geodesy::Position;
use crate::base::words::Units;
use crate::layer::Layer;
use crate::layer::model::SegmentRow;

/// How far from a place roads are looked for, metres, and the most ways that are listed, unless the question says otherwise.
const WITHIN_M: f64 = 200.0;
const MOST_WAYS: usize = 5;
/// A place moved by less than this is where it was typed, metres.
const BESIDE_M: f64 = 0.5;

/// Asks a layer for ways.
///
/// # Errors
/// A place has no road near it that may be used, or no way joins the places: the error says which rule is in the way.
pub fn route(layer: &Layer, question: &RouteQuestion) -> Result<RouteAnswer> {
    let mut table = EdgeTable::default();
    for row in layer.edges() {
        table.add(&row?);
    }
    let places = RoutePlaces::new(layer, &table, question)?;
    let spots = places.spots()?;
    let Some(journey) = places.journey(&spots) else { return Err(places.not_joined()?) };
    let taken: Vec<&RouteSpot> = spots.iter().zip(journey.taken()).map(|(s, nth)| &s[nth]).collect();
    let telling = TellingWays::of(&table, journey.ways(question.limits), layer.record().profile.link.drives);
    let paths = &telling.paths;
    let segments = segments(layer, &table, paths)?;
    let told = |(nth, path): (usize, &EdgePath)| {
        let matched = matched(&table, path, &taken, &segments);
        let corridor = corridor_of(layer, &matched, &segments, question.worst)?;
        Ok(way_told(&table, (nth, paths), &segments, matched, corridor))
    };
    let mut ways = paths.iter().enumerate().map(told).collect::<Result<Vec<RouteWay>>>()?;
    let driven = |way: &RouteWay| -> Vec<Position> {
        way.corridor.pieces.iter().flat_map(|p| p.line.first().into_iter().chain(p.line.last()).copied()).collect()
    };
    let towns = Towns::around(layer, ways.iter().flat_map(driven))?;
    ways.iter_mut().for_each(|way| way.towns = towns.through(driven(way)));
    let (places, mut notes) = places.told(&spots, &taken);
    notes.extend(telling.note());
    Ok(RouteAnswer { places, ways, notes })
}

/// The way of a name or number through places, on every road a vehicle may use.
pub(in crate::ask) fn one_way(
    layer: &Layer,
    places: Vec<Position>,
    name: &str,
    worst: usize,
    units: Units,
) -> Result<Corridor> {
    if places.len() > MOST_PLACES {
        let fact =
            format!("would go through all {} points of the track, but only {MOST_PLACES} are allowed", places.len());
        return Err(Error::usage("--way", fact, "leave it out for a track that was driven, or give fewer places"));
    }
    let limits = Limits { ways: MOST_WAYS, longer_ms: None };
    let question = RouteQuestion { places, within_m: WITHIN_M, rules: RouteRules::all(layer), limits, worst, units };
    let mut found = route(layer, &question)?;
    let nth = found.nth(name)?;
    let mut corridor = found.ways.swap_remove(nth).corridor;
    corridor.notes.extend(found.places.iter().filter(|p| p.distance_m >= BESIDE_M).map(|p| taken_words(p, units)));
    corridor.notes.extend(found.notes);
    Ok(corridor)
}

/// Where a place was moved to.
fn taken_words(p: &PlaceTaken, units: Units) -> String {
    format!(
        "{} {:.5},{:.5} was moved to {}, {:.5},{:.5}, {} away",
        p.label,
        p.asked_lat_deg,
        p.asked_lon_deg,
        p.road,
        p.lat_deg,
        p.lon_deg,
        units.near(p.distance_m)
    )
}

/// Segments of every edge used.
fn segments(layer: &Layer, table: &EdgeTable, paths: &[EdgePath]) -> Result<Segments> {
    let mut segments = Segments::new();
    for index in paths.iter().flat_map(|p| p.legs.iter().flatten()) {
        let id = table.edge(*index).id;
        if let Entry::Vacant(free) = segments.entry(id) {
            free.insert(of_edge(layer, id)?);
        }
    }
    Ok(segments)
}

/// The corridor of a way.
fn corridor_of(layer: &Layer, matched: &Matched, segments: &Segments, worst: usize) -> Result<Corridor> {
    let driven: HashSet<i64> = matched.steps.iter().map(|s| s.segment_id).collect();
    let rows = segments.values().flatten().filter(|r| driven.contains(&r.segment_id));
    let rows: HashMap<i64, SegmentRow> = rows.map(|r| (r.segment_id, r.clone())).collect();
    of_matched(layer, matched, &rows, worst)
}
