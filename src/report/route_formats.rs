//! Ways for programs and devices.
use serde_json::{Value, json};

use super::formats::{Format, quoted};
use super::route::trade;
use crate::ask::corridor::Piece;
use crate::ask::route::{RouteAnswer, RouteWay};
use crate::base::error::{Error, Result};
use crate::base::geodesy::Position;
use crate::base::markup::escape;

/// All ways in a format; `caution` is kept with them where the format has a place for it.
pub fn written(answers: &RouteAnswer, format: Format, caution: &str) -> Result<String> {
    let failed = |e: serde_json::Error| Error::failed("route", e.to_string(), "report this with the places");
    match format {
        Format::Json => {
            let mut value = serde_json::to_value(answers).map_err(failed)?;
            for (i, way) in answers.ways.iter().enumerate() {
                value["ways"][i]["trade"] = trade(way).into();
                value["ways"][i]["line"] = json!(lines(way));
            }
            value["caution"] = caution.into();
            Ok(serde_json::to_string_pretty(&value).map_err(failed)? + "\n")
        }
        Format::GeoJson => Ok(geojson(answers, caution).to_string() + "\n"),
        Format::Gpx => Ok(gpx(answers, caution)),
        Format::Csv => Ok(csv(answers)),
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

fn geojson(answers: &RouteAnswer, caution: &str) -> Value {
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
    json!({"type": "FeatureCollection", "caution": caution, "features": features})
}

/// One track per way, one piece of it per leg (GPX 1.1).
fn gpx(answers: &RouteAnswer, caution: &str) -> String {
    let mut out = format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<gpx version=\"1.1\" creator=\"waymask\" \
         xmlns=\"http://www.topografix.com/GPX/1/1\">\n<metadata><desc>{}</desc></metadata>\n",
        escape(caution)
    );
    for way in &answers.ways {
        let summary = format!("{:.0} min, {:.0} s without a link", way.time_s / 60.0, way.outage_s);
        out += &format!(
            "<trk><name>{}</name><desc>{}</desc>\n",
            escape(&format!("{} {}", way.number, way.name)),
            escape(&summary)
        );
        for leg in legs(way) {
            out += "<trkseg>\n";
            for p in leg {
                let (lat, lon) = (f64::from(p.lat_e7) / 1e7, f64::from(p.lon_e7) / 1e7);
                out += &format!("<trkpt lat=\"{lat:.7}\" lon=\"{lon:.7}\"/>\n");
            }
            out += "</trkseg>\n";
        }
        out += "</trk>\n";
    }
    out + "</gpx>\n"
}

/// One row per way.
fn csv(answers: &RouteAnswer) -> String {
    let mut out = String::from(
        "number,name,time_s,outage_s,length_m,outage_p95_s,unpaved_m,boarded_m,destination_m,private_m,trade\r\n",
    );
    for w in &answers.ways {
        out += &format!(
            "{},{},{:.3},{:.3},{:.1},{:.3},{:.1},{:.1},{:.1},{:.1},{}\r\n",
            w.number,
            quoted(w.name),
            w.time_s,
            w.outage_s,
            w.length_m,
            w.outage_p95_s,
            w.unpaved_m,
            w.boarded_m,
            w.destination_m,
            w.private_m,
            quoted(&trade(w).unwrap_or_default())
        );
    }
    out
}
