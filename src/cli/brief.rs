//! The brief of `plan`: reads the roads near the trip, says what the layer says about itself.
use std::path::Path;

use super::args::Plan;
use crate::ask::source::Source;
use crate::ask::trip::{Trip, TripDay};
use crate::base::error::Result;
use crate::base::geodesy::{LocalPlane, Point, Position};
use crate::layer::{Bounds, Layer};
use crate::report::brief::{Brief, NearRoad, page as written};

/// The page.
pub fn page(args: &Plan, trip: &Trip) -> Result<String> {
    let layer = Layer::open(&args.layer)?;
    let nearby = trip.days.iter().map(|day| nearby(&layer, day)).collect::<Result<Vec<_>>>()?;
    let title = args.title.clone().unwrap_or_else(|| title_of(&args.track));
    Ok(written(&Brief { title: &title, trip, nearby: &nearby }))
}

/// What a layer says about itself.
pub fn source(layer: &Layer) -> Source {
    let record = layer.record();
    let told = |what: fn(&crate::layer::model::InputRecord) -> Option<&String>| {
        let all: std::collections::BTreeSet<String> = record.inputs.iter().filter_map(what).cloned().collect();
        all.into_iter().collect()
    };
    Source {
        credits: told(|i| i.attribution.as_ref()),
        data_of: told(|i| i.data_time.as_ref().filter(|_| i.role == "extract")),
        built_by: record.waymask_version.clone(),
        assumed: record.assumed.clone(),
        profile: record.profile.clone(),
    }
}

/// The name of a track's file without its ending, else plain words.
fn title_of(track: &str) -> String {
    let path = Path::new(track);
    let stem = path.file_stem().and_then(|s| s.to_str()).filter(|_| path.is_file());
    let words = stem.unwrap_or("trip").replace(['-', '_'], " ");
    let mut chars = words.chars();
    chars.next().map_or(String::new(), |c| c.to_uppercase().chain(chars).collect())
}

/// Half the side of the square whose roads may come on the map, as a share of the trip's larger side, and what is added,
/// metres: the map is up to twice as wide as high, or higher than wide, with room for its signs.
const HALF: f64 = 0.62;
const MORE_M: f64 = 500.0;

/// Roads near a day; those driven are left out.
fn nearby(layer: &Layer, day: &TripDay) -> Result<Vec<NearRoad>> {
    let line: Vec<Position> = day.corridor.pieces.iter().flat_map(|p| p.line.iter().copied()).collect();
    let Some(bounds) = Bounds::around(&line) else { return Ok(Vec::new()) };
    let plane = LocalPlane::at_position(bounds.min);
    let far = plane.to_plane(bounds.max);
    let half_m = HALF * far.x_m.max(far.y_m) + MORE_M;
    let corner = |by_m: f64| plane.to_lon_lat(Point::new(far.x_m / 2.0 + by_m, far.y_m / 2.0 + by_m));
    let ((west, south), (east, north)) = (corner(-half_m), corner(half_m));
    let driven: std::collections::HashSet<i64> = day.corridor.pieces.iter().map(|p| p.segment_id).collect();
    let rows = layer.segments_in(Bounds::from_deg(west, south, east, north))?.into_iter();
    let others = rows.filter(|s| !driven.contains(&s.segment_id));
    Ok(others.map(|s| NearRoad { class: s.highway.class(), rating: s.rating.code(), line: s.line }).collect())
}
