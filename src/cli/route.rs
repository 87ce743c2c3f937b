//! `route`: reads the edges of a layer and the segments near the places, writes the ways between them.
use std::collections::HashMap;
use std::path::Path;

use super::args::Route;
use super::corridor::{format_of, read_track};
use super::show::CAUTION;
use super::whole;
use crate::ask::corridor::{self, Question};
use crate::ask::matching::Matched;
use crate::ask::route::{
    self, Answers, At, Directions, Journey, Limits, Near, Obstacle, RouteAnswer, Rules, Segments, Spot, Table, Way,
};
use crate::ask::track;
use crate::base::error::{Error, Result};
use crate::base::geodesy::Position;
use crate::layer::model::SegmentRow;
use crate::layer::{Bounds, Layer};
use crate::report::{self, Format};

/// Most places to go through.
const MOST_PLACES: usize = 100;
/// Roads are looked for this far from a place, metres, and so many ways at most, where nobody says otherwise.
const WITHIN_M: f64 = 200.0;
const MOST_WAYS: usize = 5;
/// Most roads near a place that are tried.
const TRIED: usize = 12;

/// What is asked of a layer.
#[derive(Debug, Clone)]
pub struct Asked {
    /// Places in the order visited, at least two.
    pub places: Vec<Position>,
    /// Roads are looked for this far from a place, metres.
    pub within_m: f64,
    /// Roads that are not used.
    pub rules: Rules,
    /// How many ways, and how much longer than the fastest.
    pub limits: Limits,
    /// How many of the worst segments each corridor lists.
    pub worst: usize,
}

/// The text for standard output; a file asked for is written.
pub fn run(args: &Route) -> Result<String> {
    let format = args.output.as_ref().map(|path| Ok((path, format_of(path)?))).transpose()?;
    let layer = Layer::open(&args.layer)?;
    let height_m = args.height.unwrap_or(layer.record().profile.vehicle.vehicle_height_m);
    let asked = Asked {
        places: places(args)?,
        within_m: args.within,
        rules: Rules { unpaved: !args.no_unpaved, boarded: !args.no_ferry, private: !args.no_private, height_m },
        limits: Limits { ways: args.ways, longer_ms: args.longer.map(|minutes| (minutes * 60e3) as u64) },
        worst: 5,
    };
    let mut found = answers(&layer, &asked)?;
    let taken = args.take.as_deref().map(|name| take(&found, name, "--take")).transpose()?;
    if let Some(nth) = taken {
        found.ways = vec![found.ways.swap_remove(nth)];
    }
    let Some((path, format)) = format else {
        return if args.json {
            report::route_written(&found, Format::Json, CAUTION)
        } else {
            Ok(report::route_table(&found, CAUTION))
        };
    };
    let text = match (taken, format) {
        // One way in pieces, as `corridor` writes them.
        (Some(_), Format::GeoJson | Format::Csv) => report::written(&found.ways[0].corridor, format, CAUTION)?,
        _ => report::route_written(&found, format, CAUTION)?,
    };
    whole::write(path, text.as_bytes(), args.overwrite)?;
    Ok(format!("written\n  {}\n{CAUTION}\n", path.display()))
}

/// Places typed, or read from a file of waypoints.
fn places(args: &Route) -> Result<Vec<Position>> {
    let next = "give places such as 42.5,1.5 or a file of waypoints";
    let one = |text: &String| {
        let (lat, lon) = super::args::place(text).map_err(|fact| Error::usage(text.clone(), fact, next))?;
        Ok(Position::from_deg(lon, lat))
    };
    let typed: Vec<Position> = match &args.to {
        Some(to) => [&args.from].into_iter().chain(&args.via).chain([to]).map(one).collect::<Result<_>>()?,
        None if Path::new(&args.from).is_file() && args.via.is_empty() => of_file(&args.from)?,
        None => return Err(Error::usage("TO", "is missing", next)),
    };
    if let Some(i) = typed.windows(2).position(|w| w[0] == w[1]) {
        return Err(Error::usage(format!("place {}", i + 2), "is the same as the one before", next));
    }
    Ok(typed)
}

/// The way of a name or number through places, on every road a vehicle may use.
pub fn one_way(layer: &Layer, places: Vec<Position>, name: &str, worst: usize) -> Result<corridor::Corridor> {
    if places.len() > MOST_PLACES {
        let fact = format!("would go through all {} points of the track; at most {MOST_PLACES} can be", places.len());
        return Err(Error::usage("--way", fact, "leave it out for a track that was driven, or give fewer places"));
    }
    let height_m = layer.record().profile.vehicle.vehicle_height_m;
    let rules = Rules { unpaved: true, boarded: true, private: true, height_m };
    let limits = Limits { ways: MOST_WAYS, longer_ms: None };
    let mut found = answers(layer, &Asked { places, within_m: WITHIN_M, rules, limits, worst })?;
    let nth = take(&found, name, "--way")?;
    Ok(found.ways.swap_remove(nth).corridor)
}

/// Waypoints of a file; a track of hundreds of points is no list of places to go through.
fn of_file(path: &str) -> Result<Vec<Position>> {
    let track: track::Track = read_track(path)?;
    let places: Vec<Position> = track.pieces.iter().flatten().map(|p| p.at).collect();
    if places.len() > MOST_PLACES {
        let fact = format!("has {} points; places to go through are at most {MOST_PLACES}", places.len());
        return Err(Error::file(Path::new(path), fact, "use `waymask corridor` for a track that was driven"));
    }
    Ok(places)
}

/// Number of the way that a user names.
fn take(found: &Answers, name: &str, option: &str) -> Result<usize> {
    let wanted = |w: &RouteAnswer| w.name == name || name.parse() == Ok(w.number);
    found.ways.iter().position(wanted).ok_or_else(|| {
        let fact = format!("there is no way `{name}`");
        Error::usage(option, fact, format!("take fastest, steadiest or a number from 1 to {}", found.ways.len()))
    })
}

/// Asks a layer for ways.
///
/// # Errors
/// A place has no road near it that may be used, or no way joins the places: the error says which rule is in the way.
pub fn answers(layer: &Layer, asked: &Asked) -> Result<Answers> {
    let mut table = Table::default();
    for row in layer.edges() {
        table.add(&row?);
    }
    let nears: Vec<Vec<Near>> =
        asked.places.iter().map(|at| near(layer, *at, asked.within_m)).collect::<Result<_>>()?;
    let spots = all_spots(layer, &table, asked, &nears)?;
    let Some(journey) = Journey::new(&table, &asked.rules, Directions::Kept, &spots) else {
        return Err(not_joined(layer, &table, asked, &nears)?);
    };
    let taken: Vec<&Spot> = spots.iter().zip(journey.taken()).map(|(s, nth)| &s[nth]).collect();
    let ways = journey.ways(asked.limits);
    let segments = segments(layer, &table, &ways)?;
    let answer = |(nth, way): (usize, &Way)| {
        let matched = route::matched(&table, way, &taken, &segments);
        let corridor = along(layer, &matched, &segments, asked.worst)?;
        Ok(route::answer(&table, (nth, &ways), &segments, matched, corridor))
    };
    let ways = ways.iter().enumerate().map(answer).collect::<Result<Vec<RouteAnswer>>>()?;
    let (places, notes) = told(&table, asked, &nears, &spots, &taken);
    Ok(Answers { places, ways, notes })
}

/// Segments near a place, nearest first.
fn near(layer: &Layer, at: Position, within_m: f64) -> Result<Vec<Near>> {
    let mut rows = Vec::new();
    for bounds in super::corridor::widened(Bounds { min: at, max: at }, within_m) {
        rows.extend(layer.segments_in(bounds)?);
    }
    Ok(route::near(at, rows, within_m))
}

/// `from`, `via 1`, ..., `to`.
fn label(nth: usize, places: usize) -> String {
    match nth {
        0 => "from".to_owned(),
        n if n + 1 == places => "to".to_owned(),
        n => format!("via {n}"),
    }
}

/// Spots of every place; an error where one has none.
fn all_spots(layer: &Layer, table: &Table, asked: &Asked, nears: &[Vec<Near>]) -> Result<Vec<Vec<Spot>>> {
    let mut all = Vec::new();
    for (nth, (near, at)) in nears.iter().zip(&asked.places).enumerate() {
        let spots = spots(layer, table, &asked.rules, near)?;
        if spots.is_empty() {
            let what = format!("{} {:.5},{:.5}", label(nth, nears.len()), at.lat_deg(), at.lon_deg());
            return Err(no_road(what, table, asked, near));
        }
        all.push(spots);
    }
    Ok(all)
}

/// Spots on the nearest roads that may be used, one for each edge.
fn spots(layer: &Layer, table: &Table, rules: &Rules, nears: &[Near]) -> Result<Vec<Spot>> {
    let mut spots: Vec<Spot> = Vec::new();
    for near in nears.iter().filter(|n| n.refusal(table, rules).is_none()) {
        if spots.len() == TRIED {
            break;
        }
        let spot = near.spot(table, rules, &mut |edge| of_edge(layer, edge))?;
        let known = |l: &route::SpotLane| spots.iter().flat_map(|s| &s.lanes).any(|k| k.edge == l.edge);
        if !spot.lanes.is_empty() && !spot.lanes.iter().all(known) {
            spots.push(spot);
        }
    }
    Ok(spots)
}

fn of_edge(layer: &Layer, edge_id: i64) -> Result<Vec<SegmentRow>> {
    match layer.edge(edge_id)? {
        Some(edge) => layer.segments_of(&edge),
        None => Ok(Vec::new()),
    }
}

/// The error of a place without a road.
fn no_road(what: String, table: &Table, asked: &Asked, near: &[Near]) -> Error {
    let refusals: std::collections::BTreeSet<_> =
        near.iter().filter_map(|n| n.refusal(table, &asked.rules)).map(route::refused).collect();
    if refusals.is_empty() {
        let fact = format!("no road of the layer within {:.0} m", asked.within_m);
        return Error::failed(what, fact, "raise --within, or check that the place lies on the layer");
    }
    let whys: Vec<&str> = refusals.into_iter().collect();
    let fact = format!("every road within {:.0} m {}", asked.within_m, whys.join(" or "));
    Error::failed(what, fact, "raise --within, or allow such roads")
}

/// The error of places that no way joins.
fn not_joined(layer: &Layer, table: &Table, asked: &Asked, nears: &[Vec<Near>]) -> Result<Error> {
    for obstacle in Obstacle::ALL {
        let Some((rules, directions)) = obstacle.lifted(&asked.rules) else { continue };
        let spots: Vec<Vec<Spot>> =
            nears.iter().map(|near| spots(layer, table, &rules, near)).collect::<Result<_>>()?;
        if Journey::new(table, &rules, directions, &spots).is_some() {
            let next = "choose other places, or allow what is in the way if you may drive there";
            return Ok(Error::failed("route", format!("no way joins the places: {}", obstacle.text()), next));
        }
    }
    let fact = "no way joins the places, whatever the rules: the roads of the layer between them do not hang together";
    Ok(Error::failed("route", fact, "choose other places, or build a layer that covers the way"))
}

/// Segments of every edge used.
fn segments(layer: &Layer, table: &Table, ways: &[Way]) -> Result<Segments> {
    let mut segments = Segments::new();
    for index in ways.iter().flat_map(|w| w.legs.iter().flatten()) {
        let id = table.edges()[*index as usize].id;
        if let std::collections::hash_map::Entry::Vacant(free) = segments.entry(id) {
            free.insert(of_edge(layer, id)?);
        }
    }
    Ok(segments)
}

/// The corridor of a way.
fn along(layer: &Layer, matched: &Matched, segments: &Segments, worst: usize) -> Result<corridor::Corridor> {
    let driven: std::collections::HashSet<i64> = matched.steps.iter().map(|s| s.segment_id).collect();
    let rows = segments.values().flatten().filter(|r| driven.contains(&r.segment_id));
    let rows: HashMap<i64, SegmentRow> = rows.map(|r| (r.segment_id, r.clone())).collect();
    let mut ids: Vec<i64> = driven.into_iter().collect();
    ids.sort_unstable();
    let mut overheads = Vec::new();
    for id in ids {
        overheads.extend(layer.overheads(id)?);
    }
    Ok(corridor::corridor(&Question {
        matched,
        segments: &rows,
        overheads: &overheads,
        nearby: &[],
        worst,
        buffer_m: 0.0,
        steady_outage_s: layer.record().profile.rating.steady_outage_s,
    }))
}

/// Places as they were taken, and what is to be said of them.
fn told(
    table: &Table,
    asked: &Asked,
    nears: &[Vec<Near>],
    spots: &[Vec<Spot>],
    taken: &[&Spot],
) -> (Vec<At>, Vec<String>) {
    let (mut places, mut notes) = (Vec::new(), Vec::new());
    for (nth, (at, spot)) in asked.places.iter().zip(taken).enumerate() {
        let label = label(nth, taken.len());
        notes.extend(route::notes(&label, table, &asked.rules, &nears[nth], &spots[nth][0], spot));
        places.push(At {
            label,
            asked_lat_deg: at.lat_deg(),
            asked_lon_deg: at.lon_deg(),
            road: spot.road.clone(),
            lat_deg: spot.at.lat_deg(),
            lon_deg: spot.at.lon_deg(),
            distance_m: spot.distance_m,
        });
    }
    (places, notes)
}
