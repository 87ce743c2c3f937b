//! Ways for programs and devices.
use serde::Serialize;
use serde_json::{Value, json};

use super::formats::Format;
use super::gpx::Gpx;
use super::route::trade;
use super::rows::{Fixed, Quoted, table};
use crate::ask::corridor::Piece;
use crate::ask::route::{RouteAnswer, RouteWay};
use crate::base::caution::{self, Caution};
use crate::base::error::{Error, Result};
use crate::base::geodesy::Position;

/// All ways in a format; their cautions are kept with them where the format has a place for them.
pub fn written(answers: &RouteAnswer, format: Format) -> Result<String> {
    let failed = |e: serde_json::Error| Error::failed("route", e.to_string(), "report this with the places");
    match format {
        Format::Json => {
            let mut value = serde_json::to_value(answers).map_err(failed)?;
            for (i, way) in answers.ways.iter().enumerate() {
                value["ways"][i]["trade"] = trade(way).into();
                value["ways"][i]["line"] = json!(lines(way));
            }
            value["cautions"] = caution::texts(&Caution::ROAD).into();
            Ok(serde_json::to_string_pretty(&value).map_err(failed)? + "\n")
        }
        Format::GeoJson => Ok(geojson(answers).to_string() + "\n"),
        Format::Gpx => Ok(gpx(answers)),
        Format::Csv => csv(answers),
    }
}

/// Vertices of each leg.
fn legs(way: &RouteWay) -> Vec<Vec<Position>> {
    let leg = |pieces: &[Piece]| {
        let mut line: Vec<Position> = pieces.iter().flat_map(|p| p.line.iter().copied()).collect();
        line.dedup();
        line
    };
    // A leg between two places at one spot has no line.
    way.corridor.pieces.chunk_by(|a, b| a.drive == b.drive).map(leg).filter(|line| line.len() > 1).collect()
}

fn lines(way: &RouteWay) -> Vec<Vec<[f64; 2]>> {
    let pair = |p: &Position| [f64::from(p.lon_e7) / 1e7, f64::from(p.lat_e7) / 1e7];
    legs(way).iter().map(|line| line.iter().map(pair).collect()).collect()
}

fn geojson(answers: &RouteAnswer) -> Value {
    let feature = |way: &RouteWay| {
        let properties = json!({
            "number": way.number, "name": way.name, "time_s": way.time_s, "outage_s": way.outage_s, "length_m": way.length_m,
            "outage_p95_s": way.outage_p95_s, "unpaved_m": way.unpaved_m, "boarded_m": way.boarded_m,
            "destination_m": way.destination_m, "private_m": way.private_m, "trade": trade(way),
        });
        json!({"type": "Feature", "properties": properties,
               "geometry": {"type": "MultiLineString", "coordinates": lines(way)}})
    };
    let features: Vec<Value> = answers.ways.iter().map(feature).collect();
    json!({"type": "FeatureCollection", "cautions": caution::texts(&Caution::ROAD), "features": features})
}

/// One track per way, one piece of it per leg.
fn gpx(answers: &RouteAnswer) -> String {
    let mut gpx = Gpx::new(&caution::joined(&Caution::ROAD));
    for way in &answers.ways {
        let summary = format!("{:.0} min, {:.0} s without a link", way.time_s / 60.0, way.outage_s);
        gpx.track(&format!("{} {}", way.number, way.name), &summary, &legs(way));
    }
    gpx.finish()
}

/// A way as a row.
#[derive(Serialize, Default)]
struct RouteRow<'a> {
    number: usize,
    name: Quoted<'a>,
    time_s: Fixed<3>,
    outage_s: Fixed<3>,
    length_m: Fixed<1>,
    outage_p95_s: Fixed<3>,
    unpaved_m: Fixed<1>,
    boarded_m: Fixed<1>,
    destination_m: Fixed<1>,
    private_m: Fixed<1>,
    trade: Quoted<'a>,
}

impl<'a> RouteRow<'a> {
    fn of(w: &'a RouteWay, trade: &'a str) -> Self {
        Self {
            number: w.number,
            name: Quoted(w.name.name()),
            time_s: Fixed(w.time_s),
            outage_s: Fixed(w.outage_s),
            length_m: Fixed(w.length_m),
            outage_p95_s: Fixed(w.outage_p95_s),
            unpaved_m: Fixed(w.unpaved_m),
            boarded_m: Fixed(w.boarded_m),
            destination_m: Fixed(w.destination_m),
            private_m: Fixed(w.private_m),
            trade: Quoted(trade),
        }
    }
}

fn csv(answers: &RouteAnswer) -> Result<String> {
    let trades: Vec<String> = answers.ways.iter().map(|w| trade(w).unwrap_or_default()).collect();
    let rows = answers.ways.iter().zip(&trades).map(|(w, trade)| RouteRow::of(w, trade));
    table(&rows.collect::<Vec<_>>())
}
