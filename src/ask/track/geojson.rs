//! GeoJSON (RFC 7946): lines, alone or in features and collections.
use geojson::{GeoJson, Geometry, Value};

use super::model::{Track, position};
use crate::ask::matching::TrackPoint;

/// Reads GeoJSON.
pub(super) fn read(text: &str) -> Result<Track, String> {
    let json: GeoJson = text.parse().map_err(|e| format!("is not valid GeoJSON: {e}"))?;
    let mut track = Track::default();
    match &json {
        GeoJson::Geometry(g) => add(&mut track, g)?,
        GeoJson::Feature(f) => f.geometry.iter().try_for_each(|g| add(&mut track, g))?,
        GeoJson::FeatureCollection(c) => {
            c.features.iter().flat_map(|f| &f.geometry).try_for_each(|g| {
                track.begin_track();
                add(&mut track, g)
            })?;
        }
    }
    if track.points() == 0 { Err("is GeoJSON, but holds no line".into()) } else { Ok(track) }
}

fn add(track: &mut Track, geometry: &Geometry) -> Result<(), String> {
    match &geometry.value {
        Value::LineString(line) => add_line(track, line),
        Value::MultiLineString(lines) => lines.iter().try_for_each(|l| add_line(track, l)),
        Value::GeometryCollection(parts) => parts.iter().try_for_each(|g| add(track, g)),
        _ => Ok(()),
    }
}

fn add_line(track: &mut Track, line: &[Vec<f64>]) -> Result<(), String> {
    track.cut();
    for (i, place) in line.iter().enumerate() {
        let [lon_deg, lat_deg, ..] = place[..] else {
            return Err(format!("position {} of a line has fewer than two numbers", i + 1));
        };
        let at = position(lat_deg, lon_deg).map_err(|e| format!("{e} (position {} of a line)", i + 1))?;
        track.add(TrackPoint { at, time_s: None });
    }
    Ok(())
}
