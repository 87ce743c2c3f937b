//! What the page shows, packed: a header of four bytes (its length, low byte first), JSON, and the lines.
use serde::Serialize;

use super::columns::{RoadColumns, StopColumns, place, shown_tenths, tenths};
use super::lists;
use super::model::MapPage;
use super::packed::{PackedLines, text_of};
use super::strings::PageStrings;
use super::words::{self, PageWords};
use crate::ask::corridor::{Corridor, DrivenOutage};
use crate::ask::portion::Portion;
use crate::base::geodesy::{Position, unwrapped_deg};
use crate::base::ramp::{hex, look, look_at_night};
use crate::base::words::{Cause, Evidence, Highway, Rating, Units};
use crate::layer::{RoadGroup, WIDTH_BY_SCALE, rating_width_mm};

/// Everything but lines.
#[derive(Serialize)]
struct Payload {
    credit: String,
    words: PageWords,
    looks: Looks,
    strings: Vec<String>,
    roads: RoadColumns,
    stops: StopColumns,
    places: PlaceColumns,
    /// What the numbered outages are called; those of the drive where the page is made for one.
    outages: Vec<i64>,
    /// How many lines of each kind follow, in this order: roads, stops, places, outages, water lines, pieces of the drive, gaps
    /// of the drive. Then come the rings of water.
    lines: [usize; 7],
    /// How many rings each water area has, its outline first.
    rings: Vec<usize>,
    /// Kinds of the water lines.
    shores: Vec<&'static str>,
    trip: Option<TripColumns>,
    /// `metric` or `imperial`.
    units: Units,
    /// Kilometres of road in this part that are not on the page.
    left_out_km: f64,
    /// West, south, east, north; beyond 180 degrees where the part reaches over it.
    around_deg: [f64; 4],
}

/// How ratings and groups of roads are drawn.
#[derive(Serialize)]
struct Looks {
    day: Vec<String>,
    night: Vec<String>,
    width_mm: Vec<f64>,
    group_of_class: Vec<usize>,
    group_width: Vec<f64>,
    group_from_scale: Vec<u32>,
    width_by_scale: [(u32, f64); 4],
}

const GROUPS: [RoadGroup; 5] =
    [RoadGroup::Main, RoadGroup::Through, RoadGroup::Local, RoadGroup::Lesser, RoadGroup::Boarded];

impl Looks {
    fn all() -> Self {
        let each = |of: fn(Rating) -> String| Rating::ALL.iter().map(|r| of(*r)).collect();
        Self {
            day: each(|r| hex(look(r).colour)),
            night: each(|r| hex(look_at_night(r))),
            width_mm: Rating::ALL.iter().map(|r| rating_width_mm(*r)).collect(),
            group_of_class: Highway::ALL.iter().map(|h| place(&GROUPS, RoadGroup::of(*h))).collect(),
            group_width: GROUPS.iter().map(|g| g.look().width).collect(),
            group_from_scale: GROUPS.iter().map(|g| g.look().from_scale).collect(),
            width_by_scale: WIDTH_BY_SCALE,
        }
    }
}

/// Named places.
#[derive(Default, Serialize)]
struct PlaceColumns {
    name: Vec<i64>,
    other_name: Vec<i64>,
    kind: Vec<&'static str>,
    rank: Vec<i64>,
}

/// The drive.
#[derive(Default, Serialize)]
struct TripColumns {
    likely: Vec<u8>,
    best: Vec<u8>,
    worst: Vec<i64>,
    p95_ds: Vec<i64>,
    cause: Vec<usize>,
    evidence: Vec<usize>,
    time_ds: Vec<i64>,
    length_dm: Vec<i64>,
    road: Vec<i64>,
    /// Numbered outages: first piece, one after the last.
    outages: Vec<[usize; 2]>,
    outage_p95_ds: Vec<i64>,
}

/// The text that the page holds.
pub(super) fn packed(page: &MapPage) -> Result<String, String> {
    let portion = page.portion;
    let (mut strings, mut lines) = (PageStrings::default(), PackedLines::new(reference_deg(portion)));
    let mut roads = RoadColumns::default();
    for segment in &portion.segments {
        roads.add(segment, &mut strings);
        lines.line(&segment.line);
    }
    let mut stops = StopColumns::default();
    for stop in &portion.stops {
        stops.add(stop, &mut strings);
        lines.place(stop.at);
    }
    let mut places = PlaceColumns::default();
    for named in &portion.places {
        places.name.push(strings.number(Some(&named.name)));
        places.other_name.push(strings.number(named.name_en.as_deref()));
        places.kind.push(named.kind.name());
        places.rank.push(i64::from(named.rank));
        lines.place(named.at);
    }
    let mut outages = Vec::new();
    for (title, line) in numbered(portion, page.units) {
        outages.push(strings.number(Some(&title)));
        lines.line(&line);
    }
    portion.ground_lines.iter().for_each(|shore| lines.line(&shore.line));
    let pieces = portion.trip.as_ref().map_or(&[][..], |trip| &trip.pieces);
    pieces.iter().for_each(|piece| lines.line(&piece.line));
    let gaps: Vec<[Position; 2]> = portion.trip.iter().flat_map(|trip| &trip.unmatched).map(gap_line).collect();
    gaps.iter().for_each(|gap| lines.line(gap));
    let mut rings = Vec::new();
    for water in &portion.ground {
        rings.push(water.rings.len());
        water.rings.iter().for_each(|ring| lines.line(ring));
    }
    let payload = Payload {
        credit: words::credit(&portion.source),
        words: PageWords::all(),
        looks: Looks::all(),
        lines: [
            portion.segments.len(),
            portion.stops.len(),
            portion.places.len(),
            outages.len(),
            portion.ground_lines.len(),
            pieces.len(),
            gaps.len(),
        ],
        roads,
        stops,
        places,
        outages,
        rings,
        shores: portion.ground_lines.iter().map(|shore| shore.kind.name()).collect(),
        trip: portion.trip.as_ref().map(|trip| of_trip(trip, &mut strings)),
        units: page.units,
        left_out_km: portion.left_out.iter().map(|left| left.km).sum(),
        around_deg: around(portion),
        strings: strings.all(),
    };
    let json = serde_json::to_vec(&payload).map_err(|e| e.to_string())?;
    let length = u32::try_from(json.len()).map_err(|_| "is longer than four gigabytes".to_owned())?;
    text_of(&[&length.to_le_bytes()[..], &json, &lines.bytes()].concat())
}

/// A stretch of track without a road, straight across.
fn gap_line(gap: &crate::ask::corridor::Gap) -> [Position; 2] {
    [Position::from_deg(gap.lon_deg, gap.lat_deg), Position::from_deg(gap.to_lon_deg, gap.to_lat_deg)]
}

/// Outages with numbers, from 1: the worst of the drive in the order driven, else those of the region.
fn numbered(portion: &Portion, units: Units) -> Vec<(String, Vec<Position>)> {
    let Some(trip) = &portion.trip else {
        return portion.outages.iter().map(|o| (lists::title(o, units), o.line.clone())).collect();
    };
    let line = |o: &DrivenOutage| trip.pieces[o.first..o.end].iter().flat_map(|p| p.line.iter().copied()).collect();
    lists::of_drive(trip).map(|o| (lists::driven_title(o, units), line(o))).collect()
}

fn of_trip(trip: &Corridor, strings: &mut PageStrings) -> TripColumns {
    let mut columns = TripColumns {
        outages: lists::of_drive(trip).map(|o| [o.first, o.end]).collect(),
        outage_p95_ds: lists::of_drive(trip).map(|o| shown_tenths(o.outage_p95_s)).collect(),
        ..TripColumns::default()
    };
    for piece in &trip.pieces {
        columns.likely.push(piece.rating.code());
        columns.best.push(piece.rating_best.code());
        columns.worst.push(piece.rating_worst.map_or(-1, |r| i64::from(r.code())));
        columns.p95_ds.push(shown_tenths(piece.outage_p95_s));
        columns.cause.push(place(Cause::ALL, piece.cause));
        columns.evidence.push(place(Evidence::ALL, piece.evidence));
        columns.time_ds.push(tenths(piece.time_s));
        columns.length_dm.push(tenths(piece.length_m));
        columns.road.push(strings.number(Some(&words::road(&piece.road))));
    }
    columns
}

/// What the page opens at: the drive, else all roads.
fn around(portion: &Portion) -> [f64; 4] {
    let all: Vec<Position> = match &portion.trip {
        Some(trip) => trip.pieces.iter().flat_map(|p| p.line.iter().copied()).collect(),
        None => portion.segments.iter().flat_map(|s| s.line.iter().copied()).collect(),
    };
    let from_deg = reference_deg(portion);
    let start = [f64::INFINITY, f64::INFINITY, f64::NEG_INFINITY, f64::NEG_INFINITY];
    all.iter().fold(start, |[west, south, east, north], at| {
        let (lon, lat) = (unwrapped_deg(from_deg, at.lon_deg()), at.lat_deg());
        [west.min(lon), south.min(lat), east.max(lon), north.max(lat)]
    })
}

/// The longitude that all others of the page are counted from, so that a part over 180 degrees stays in one piece.
fn reference_deg(portion: &Portion) -> f64 {
    portion.segments.first().and_then(|s| s.line.first()).map_or(0.0, |at| at.lon_deg())
}
