//! The corridor for programs and devices.
use std::path::Path;

use serde::Serialize;
use serde_json::{Value, json};

use super::gpx::Gpx;
use super::rows::{Fixed, Quoted, table};
use super::words::sentence;
use crate::ask::corridor::{Corridor, Piece};
use crate::base::caution::{self, Caution};
use crate::base::error::{Error, Result};
use crate::base::files::{ending, unknown_ending};
use crate::base::words::{Rating, Units};

/// A format, by the ending of a file's name.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Format {
    /// RFC 8259.
    Json,
    /// Pieces as lines and outages as points (RFC 7946).
    GeoJson,
    /// Outages as waypoints (GPX 1.1).
    Gpx,
    /// Pieces as rows (RFC 4180).
    Csv,
}

impl Format {
    /// The format of a file by its name.
    ///
    /// # Errors
    /// Its ending is not a known one.
    pub(crate) fn of_file(path: &Path) -> Result<Self> {
        Self::of_ending(&ending(path)).ok_or_else(|| unknown_ending(path, &["geojson", "gpx", "csv", "json"]))
    }
    /// The format of a file with this ending, in small letters.
    pub(crate) fn of_ending(ending: &str) -> Option<Self> {
        match ending {
            "json" => Some(Self::Json),
            "geojson" => Some(Self::GeoJson),
            "gpx" => Some(Self::Gpx),
            "csv" => Some(Self::Csv),
            _ => None,
        }
    }
}

/// The corridor in a format; its cautions are kept with it where the format has a place for them.
pub fn written(c: &Corridor, format: Format) -> Result<String> {
    let failed = |e: serde_json::Error| Error::failed("corridor", e.to_string(), "report this with the track");
    match format {
        Format::Json => {
            let mut value = serde_json::to_value(c).map_err(failed)?;
            value["cautions"] = caution::texts(&Caution::ROAD).into();
            Ok(serde_json::to_string_pretty(&value).map_err(failed)? + "\n")
        }
        Format::GeoJson => Ok(geojson(c).to_string() + "\n"),
        Format::Gpx => Ok(gpx(c)),
        Format::Csv => csv(c),
    }
}

fn geojson(c: &Corridor) -> Value {
    let lines = c.pieces.iter().filter(|p| p.line.len() > 1).map(|p| {
        let line: Vec<[f64; 2]> =
            p.line.iter().map(|q| [f64::from(q.lon_e7) / 1e7, f64::from(q.lat_e7) / 1e7]).collect();
        feature("piece", Some(p.rating), json!(p), json!({"type": "LineString", "coordinates": line}))
    });
    let point = |lon_deg: f64, lat_deg: f64| json!({"type": "Point", "coordinates": [lon_deg, lat_deg]});
    let points = c.outages.iter().map(|k| feature("outage", Some(k.rating), json!(k), point(k.lon_deg, k.lat_deg)));
    let gaps = c.unmatched.iter().map(|u| feature("unmatched", None, json!(u), point(u.lon_deg, u.lat_deg)));
    let joined = c.joined.iter().map(|j| {
        let line = [[j.from_lon_deg, j.from_lat_deg], [j.to_lon_deg, j.to_lat_deg]];
        feature("joined", None, json!(j), json!({"type": "LineString", "coordinates": line}))
    });
    let features: Vec<Value> = lines.chain(points).chain(gaps).chain(joined).collect();
    json!({"type": "FeatureCollection", "cautions": caution::texts(&Caution::ROAD), "features": features})
}

/// A feature that says what it is, and its rating by name.
fn feature(kind: &str, rating: Option<Rating>, mut properties: Value, geometry: Value) -> Value {
    if let Some(rating) = rating {
        properties["rating_name"] = rating.name().into();
    }
    properties["kind"] = kind.into();
    json!({"type": "Feature", "properties": properties, "geometry": geometry})
}

/// Outages as waypoints.
fn gpx(c: &Corridor) -> String {
    let mut gpx = Gpx::new(&caution::joined(&Caution::ROAD));
    for k in &c.outages {
        gpx.waypoint((k.lat_deg, k.lon_deg), &format!("{} {}", Units::Metric.at(k.at_km), k.road), &sentence(k));
    }
    gpx.finish()
}

/// A piece as a row.
#[derive(Serialize, Default)]
struct PieceRow<'a> {
    at_km: Fixed<3>,
    lat_deg: Fixed<7>,
    lon_deg: Fixed<7>,
    segment_id: i64,
    forward: bool,
    road: Quoted<'a>,
    length_m: Fixed<1>,
    time_s: Fixed<2>,
    outage_s: Fixed<3>,
    outage_p95_s: Fixed<3>,
    rating: u8,
    rating_name: Rating,
    cause: String,
}

impl<'a> PieceRow<'a> {
    fn of(p: &'a Piece) -> Self {
        Self {
            at_km: Fixed(p.at_km),
            lat_deg: Fixed(p.lat_deg),
            lon_deg: Fixed(p.lon_deg),
            segment_id: p.segment_id,
            forward: p.forward,
            road: Quoted(&p.road),
            length_m: Fixed(p.length_m),
            time_s: Fixed(p.time_s),
            outage_s: Fixed(p.outage_s),
            outage_p95_s: Fixed(p.outage_p95_s),
            rating: p.rating.code(),
            rating_name: p.rating,
            cause: p.cause.to_string(),
        }
    }
}

fn csv(c: &Corridor) -> Result<String> {
    table(&c.pieces.iter().map(PieceRow::of).collect::<Vec<_>>())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ask::corridor::DrivenOutage;

    fn hostile() -> Corridor {
        let name = "=<b>&\"x\"\u{1}";
        let piece = Piece {
            segment_id: 1,
            forward: true,
            at_km: 0.0,
            lon_deg: 1.5,
            lat_deg: 42.5,
            road: name.into(),
            length_m: 10.0,
            time_s: 1.0,
            outage_s: 0.5,
            beyond: [0.0; 3],
            outage_p95_s: 3.0,
            rating: Rating::Gaps,
            cause: crate::base::words::Cause::Deck,
            drive: 0,
            line: vec![
                crate::base::geodesy::Position::from_deg(1.5, 42.5),
                crate::base::geodesy::Position::from_deg(1.6, 42.5),
            ],
            ..Piece::default()
        };
        let outage = DrivenOutage {
            at_km: 0.0,
            lon_deg: 1.5,
            lat_deg: 42.5,
            road: name.into(),
            length_m: 10.0,
            time_s: 1.0,
            outage_s: 0.5,
            outage_p95_s: 3.0,
            rating: Rating::Gaps,
            cause: crate::base::words::Cause::Deck,
            ..DrivenOutage::default()
        };
        Corridor { pieces: vec![piece], outages: vec![outage], ..Corridor::default() }
    }

    #[test]
    fn text_of_the_map_is_harmless_in_every_format() {
        let of = |f| written(&hostile(), f).unwrap();
        assert!(of(Format::Gpx).contains("=&lt;b&gt;&amp;&quot;x&quot;\u{FFFD}</name>"), "{}", of(Format::Gpx));
        assert!(of(Format::Csv).contains("\"'=<b>&\"\"x\"\"\u{FFFD}\""), "{}", of(Format::Csv));
        let json: Value = serde_json::from_str(&of(Format::GeoJson)).unwrap();
        assert_eq!(json["features"].as_array().map(Vec::len), Some(2));
        let kinds = [0, 1].map(|i| json["features"][i]["properties"]["kind"].clone());
        assert_eq!(kinds, ["piece", "outage"]);
        assert_eq!(json["features"][0]["properties"]["rating_name"], "gaps");
        assert!(of(Format::GeoJson).parse::<geojson::GeoJson>().is_ok());
    }

    #[test]
    fn what_is_written_as_gpx_is_read_as_waypoints() {
        let two = Corridor { outages: [hostile().outages, hostile().outages].concat(), ..Corridor::default() };
        let error = crate::ask::track::read(&written(&two, Format::Gpx).unwrap()).unwrap_err();
        assert!(error.contains("1 place;"), "one place twice is not a drive: {error}");
    }
}
