//! Places to stop as a table, JSON, GeoJSON, GPX waypoints and CSV.
use serde::Serialize;
use serde_json::{Value, json};

use super::formats::Format;
use super::gpx::Gpx;
use super::rows::{Fixed, Quoted, table};
use super::words::{ROSE, roof_words};
use crate::ask::stops::{StopNear, StopsAnswer};
use crate::base::caution::{self, Caution};
use crate::base::count::counted;
use crate::base::error::{Error, Result};
use crate::base::geodesy::eighth;
use crate::base::plain::PlainLines;
use crate::base::words::{Roofed, Units};

/// The table for people.
pub fn stops_table(list: &StopsAnswer, units: Units) -> String {
    let mut out = PlainLines::new();
    let places = counted(list.stops.len(), "place");
    writeln!(out, "{places} to stop, panel at most {} from the vehicle", units.near(list.reach_m));
    rows(&mut out, &list.stops, units);
    if list.stops.is_empty() {
        out.own(if list.roof_not_known.is_empty() { NOTHING } else { NO_KNOWN });
    }
    if !list.roof_not_known.is_empty() {
        let places = counted(list.roof_not_known.len(), "place");
        writeln!(out, "roof not known at {places}: not known is not open; most fuel stations have a roof");
        rows(&mut out, &list.roof_not_known, units);
    }
    if !(list.stops.is_empty() && list.roof_not_known.is_empty()) {
        out.own(
            "shares of open sky are based on what the map and rasters show: what is not mapped next to a place \
                 is not in them",
        );
    }
    if list.private_left_out > 0 {
        writeln!(out, "{} left out (--private lists them)", counted(list.private_left_out, "private place"));
    }
    if let Some(m) = list.unmatched_m.filter(|m| *m > 0.0) {
        writeln!(out, "{} of the track is off the layer's roads: stops there are not listed", units.road(m));
    }
    list.notes.iter().for_each(|n| writeln!(out, "note: {n}"));
    out.own(&caution::on_terminal(&Caution::STOPS));
    out.text()
}

/// Said where nothing is listed.
const NOTHING: &str = "the layer covers this area and has no such place in it: look farther away (--within), or \
                       ask for other kinds or for less open sky";
/// Said where nothing is listed but places whose roof is not known.
const NO_KNOWN: &str = "the map does not say of any that it has no roof";

/// The places, two lines each.
fn rows(out: &mut PlainLines, stops: &[StopNear], units: Units) {
    if !stops.is_empty() {
        writeln!(out, "  where          off road  kind          roof       access     vehicle  best   at");
    }
    for s in stops {
        let where_km = match (s.at_km, s.from_place_m) {
            (Some(km), _) => format!("{} {}", units.at(km), s.side),
            (None, Some(m)) => format!("{} off", units.road(m)),
            (None, None) => format!("stop {}", s.stop_id),
        };
        let roof = match s.roofed {
            Roofed::Yes => "roofed",
            Roofed::No => "",
            Roofed::Unknown => "not known",
        };
        writeln!(
            out,
            "  {where_km:15} {:>7}  {:12}  {roof:9}  {:9}  {:5.0} %  {:3.0} %  {}",
            units.near(s.off_road_m),
            s.kind,
            s.access,
            100.0 * s.open_share,
            100.0 * s.best_open_share,
            best(s, units)
        );
        writeln!(
            out,
            "                 {:.5},{:.5}  {}{}{}",
            s.lat_deg,
            s.lon_deg,
            called(s),
            s.town.as_ref().map_or(String::new(), |town| format!(", {}", town.words(units))),
            if s.may_stop { "" } else { "  (private: not a place to stop unless you are invited)" }
        );
    }
}

/// Where the panel sees most.
fn best(s: &StopNear, units: Units) -> String {
    match s.best_distance_m {
        0.0 if s.open_share == 0.0 => "no place found".into(),
        0.0 => "the vehicle".into(),
        m => format!("{} towards {:.0}\u{b0} ({})", units.near(m), s.best_bearing_deg, compass(s.best_bearing_deg)),
    }
}

/// One of eight winds.
fn compass(bearing_deg: f64) -> &'static str {
    ROSE[eighth(bearing_deg)]
}

/// Name and road of a place.
fn called(s: &StopNear) -> String {
    match &s.name {
        Some(name) => format!("{name}, {}", s.road),
        None => s.road.clone(),
    }
}

/// The list in a format; the cautions are kept with it where the format has a place for them.
///
/// # Errors
/// A figure that cannot be written, which is a fault of the program.
pub fn stops_written(list: &StopsAnswer, format: Format) -> Result<String> {
    let failed = |e: serde_json::Error| Error::failed("stops", e.to_string(), "report this with the layer");
    match format {
        Format::Json => {
            let mut value = serde_json::to_value(list).map_err(failed)?;
            value["cautions"] = caution::texts(&Caution::STOPS).into();
            Ok(serde_json::to_string_pretty(&value).map_err(failed)? + "\n")
        }
        Format::GeoJson => Ok(geojson(list).to_string() + "\n"),
        Format::Gpx => Ok(gpx(list)),
        Format::Csv => csv(list),
    }
}

/// All places, those whose roof is not known last; formats of one list say so of each.
fn all(list: &StopsAnswer) -> impl Iterator<Item = &StopNear> {
    list.stops.iter().chain(&list.roof_not_known)
}

/// Vehicles as points; where the panel is better off, a point for it too.
fn geojson(list: &StopsAnswer) -> Value {
    let point = |lon_deg: f64, lat_deg: f64, properties: Value| json!({"type": "Feature", "properties": properties, "geometry": {"type": "Point", "coordinates": [lon_deg, lat_deg]}});
    let mut features = Vec::new();
    for s in all(list) {
        features.push(point(s.lon_deg, s.lat_deg, json!(s)));
        if s.best_distance_m > 0.0 {
            let panel = json!({"stop_id": s.stop_id, "panel": true, "open_share": s.best_open_share});
            features.push(point(s.best_lon_deg, s.best_lat_deg, panel));
        }
    }
    json!({"type": "FeatureCollection", "cautions": caution::texts(&Caution::STOPS), "features": features})
}

/// Vehicles as waypoints.
fn gpx(list: &StopsAnswer) -> String {
    let mut gpx = Gpx::new(&caution::joined(&Caution::STOPS));
    for s in all(list) {
        let sentence = format!(
            "{}{}, {}: {:.0} % of the usable sky open on the vehicle, {:.0} % at best: {}",
            s.kind,
            roof_words(s.roofed),
            s.access,
            100.0 * s.open_share,
            100.0 * s.best_open_share,
            best(s, Units::Metric)
        );
        // A device may show the name alone.
        let unknown = if s.roofed == Roofed::Unknown { roof_words(s.roofed) } else { "" };
        gpx.waypoint((s.lat_deg, s.lon_deg), &(called(s) + unknown), &sentence);
    }
    gpx.finish()
}

/// A stop as a row.
#[derive(Serialize, Default)]
struct StopLine<'a> {
    stop_id: i64,
    osm_type: String,
    osm_id: i64,
    kind: String,
    name: Quoted<'a>,
    road: Quoted<'a>,
    town: Quoted<'a>,
    access: String,
    may_stop: bool,
    roofed: String,
    stands_on: String,
    at_km: Option<Fixed<3>>,
    side: String,
    off_road_m: Fixed<1>,
    lat_deg: Fixed<7>,
    lon_deg: Fixed<7>,
    open_share: Fixed<4>,
    main_cause: String,
    best_distance_m: Fixed<1>,
    best_bearing_deg: Fixed<0>,
    best_open_share: Fixed<4>,
    gain: Fixed<4>,
    best_lat_deg: Fixed<7>,
    best_lon_deg: Fixed<7>,
}

impl<'a> StopLine<'a> {
    fn of(s: &'a StopNear) -> Self {
        Self {
            stop_id: s.stop_id,
            osm_type: s.osm_type.to_string(),
            osm_id: s.osm_id,
            kind: s.kind.to_string(),
            name: Quoted(s.name.as_deref().unwrap_or_default()),
            road: Quoted(&s.road),
            town: Quoted(s.town.as_ref().map_or("", |town| &town.name)),
            access: s.access.to_string(),
            may_stop: s.may_stop,
            roofed: s.roofed.to_string(),
            stands_on: s.stands_on.to_string(),
            at_km: s.at_km.map(Fixed),
            side: s.side.to_string(),
            off_road_m: Fixed(s.off_road_m),
            lat_deg: Fixed(s.lat_deg),
            lon_deg: Fixed(s.lon_deg),
            open_share: Fixed(s.open_share),
            main_cause: s.main_cause.to_string(),
            best_distance_m: Fixed(s.best_distance_m),
            best_bearing_deg: Fixed(s.best_bearing_deg),
            best_open_share: Fixed(s.best_open_share),
            gain: Fixed(s.gain),
            best_lat_deg: Fixed(s.best_lat_deg),
            best_lon_deg: Fixed(s.best_lon_deg),
        }
    }
}

fn csv(list: &StopsAnswer) -> Result<String> {
    table(&all(list).map(StopLine::of).collect::<Vec<_>>())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::layer::model::{PanelPlace, StopRow};

    fn list() -> StopsAnswer {
        let place = |distance_m, open_share| PanelPlace { distance_m, bearing_deg: 90.0, open_share };
        let row = StopRow {
            name: Some("=<b>&\"x\"\u{1}".into()),
            kind: crate::base::words::StopKind::CampSite,
            access: crate::base::words::StopAccess::Open,
            roofed: crate::base::words::Roofed::Yes,
            open_share: 0.25,
            places: vec![place(0.0, 0.25), place(20.0, 0.75)],
            ..StopRow::default()
        };
        StopsAnswer { reach_m: 30.0, stops: vec![StopNear::of(&row, 30.0)], ..StopsAnswer::default() }
    }

    #[test]
    fn text_of_the_map_is_harmless_and_cautions_go_along() {
        let of = |format| stops_written(&list(), format).unwrap();
        assert!(of(Format::Gpx).contains("=&lt;b&gt;&amp;&quot;x&quot;\u{FFFD}, </name>"), "{}", of(Format::Gpx));
        assert!(of(Format::Csv).contains("\"'=<b>&\"\"x\"\"\u{FFFD}\""), "{}", of(Format::Csv));
        assert!(of(Format::GeoJson).parse::<geojson::GeoJson>().is_ok());
        for text in [of(Format::Gpx), of(Format::GeoJson), of(Format::Json), stops_table(&list(), Units::Metric)] {
            for part in [
                "private ground",
                "calling for help",
                "thunderstorm",
                "where others drive or walk",
                "licensed practice",
            ] {
                assert!(text.contains(part), "{part}: {text}");
            }
        }
    }

    #[test]
    fn the_panel_is_a_point_of_its_own_where_it_is_better_off() {
        let json: Value = serde_json::from_str(&stops_written(&list(), Format::GeoJson).unwrap()).unwrap();
        let panel = &json["features"][1];
        // Twenty metres east of 0 N 0 E; a degree has 111.32 km there (WGS 84).
        let lon_deg = panel["geometry"]["coordinates"][0].as_f64().unwrap();
        assert!((lon_deg - 20.0 / 111_320.0).abs() < 1e-7, "{panel}");
        assert!(
            stops_table(&list(), Units::Metric).contains("20 m towards 90\u{b0} (E)"),
            "{}",
            stops_table(&list(), Units::Metric)
        );
    }
}
