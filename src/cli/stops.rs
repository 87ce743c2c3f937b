//! `stops`: places to stop near a place, along a track, or in all of a layer.
use std::path::PathBuf;

use clap::Args as ClapArgs;

use super::corridor::{asked, read_track, stops_beside};
use super::whole;
use crate::ask::matching::Options;
use crate::ask::stops::{StopNear, near};
use crate::base::error::{Error, Result};
use crate::base::geodesy::{LocalPlane, Point, Position, distance_m};
use crate::base::words::StopKind;
use crate::layer::{Bounds, Layer};
use crate::report::{self, Format, StopList};

/// Distance from a road driven when none is asked for, metres.
const ALONG_M: f64 = 1_000.0;
/// Distance from a place when none is asked for, metres.
const NEAR_M: f64 = 10_000.0;

/// Options of `stops`.
#[derive(Debug, ClapArgs)]
#[command(
    long_about = "Lists fuel stations, rest areas, services, camp sites and pitches, caravan sites, picnic sites, viewpoints and car \
                  parks: roofed or not, how much of the usable sky a panel on the vehicle sees there, and where within reach of a \
                  cable it sees most. Private places are left out unless asked for."
)]
pub struct Stops {
    /// A layer written by `waymask build`
    pub layer: PathBuf,
    /// Latitude and longitude of a place, degrees; nearest stops first
    #[arg(long, value_name = "LAT,LON", value_parser = super::args::place, allow_hyphen_values = true, conflicts_with_all = ["along", "bounds"])]
    pub near: Option<(f64, f64)>,
    /// GPX, GeoJSON or encoded polyline in a file, or waypoints such as "42.5,1.5 42.6,1.6"; in the order passed
    #[arg(long, value_name = "TRACK", allow_hyphen_values = true, conflicts_with = "bounds")]
    pub along: Option<String>,
    /// South, west, north and east of a box, degrees
    #[arg(long, value_name = "S,W,N,E", value_parser = bounds, allow_hyphen_values = true)]
    pub bounds: Option<Bounds>,
    /// How far from the place (10 km by default) or from the road driven (1 km): 500, 500m or 2.5km
    #[arg(long, value_name = "DISTANCE", value_parser = distance)]
    pub within: Option<f64>,
    /// Only these kinds, such as fuel,camp_site
    #[arg(long, value_name = "KINDS", value_delimiter = ',', value_parser = kind)]
    pub kind: Vec<StopKind>,
    /// Only where the vehicle stands under no roof
    #[arg(long)]
    pub no_roof: bool,
    /// The panel is set down at most this far from the vehicle, metres (0 to 60; the layer's profile by default)
    #[arg(long, value_name = "METRES", value_parser = reach)]
    pub reach: Option<f64>,
    /// Only where this share of the usable sky is open on the vehicle or within reach, 0 to 1
    #[arg(long, value_name = "SHARE", default_value_t = 0.0, value_parser = share)]
    pub min_open: f64,
    /// Private places too; not to be stopped at without being asked in
    #[arg(long)]
    pub private: bool,
    /// The whole answer as JSON
    #[arg(long, conflicts_with = "output")]
    pub json: bool,
    /// Write to a file instead; .geojson, .gpx (waypoints), .csv or .json
    #[arg(short, long, value_name = "FILE")]
    pub output: Option<PathBuf>,
    /// Replace the output if it exists
    #[arg(long)]
    pub overwrite: bool,
}

fn distance(text: &str) -> std::result::Result<f64, String> {
    let (number, unit_m) = match text.trim() {
        t if t.ends_with("km") => (t.trim_end_matches("km"), 1_000.0),
        t => (t.trim_end_matches('m'), 1.0),
    };
    let metres = number.trim().parse::<f64>().ok().map(|n| n * unit_m);
    metres.filter(|m| (0.0..=100_000.0).contains(m)).ok_or_else(|| "give 500, 500m or 2.5km, at most 100km".into())
}

fn kind(text: &str) -> std::result::Result<StopKind, String> {
    text.trim().parse()
}

fn reach(text: &str) -> std::result::Result<f64, String> {
    let metres = text.parse::<f64>().ok().filter(|m| (0.0..=60.0).contains(m));
    metres.ok_or_else(|| "give metres from 0 to 60: nothing farther was looked at".into())
}

fn share(text: &str) -> std::result::Result<f64, String> {
    text.parse::<f64>().ok().filter(|s| (0.0..=1.0).contains(s)).ok_or_else(|| "give a share from 0 to 1".into())
}

fn bounds(text: &str) -> std::result::Result<Bounds, String> {
    let sides: Vec<f64> = text.split(',').filter_map(|side| side.trim().parse().ok()).collect();
    match sides.as_slice() {
        [s, w, n, e] if s <= n && w <= e && (-90.0..=90.0).contains(s) && *n <= 90.0 && *w >= -180.0 && *e <= 180.0 => {
            Ok(Bounds::from_deg(*w, *s, *e, *n))
        }
        _ => Err("give south, west, north and east in degrees, such as 42.4,1.4,42.7,1.8".into()),
    }
}

/// The text for standard output; a file asked for is written.
pub fn answer(args: &Stops) -> Result<String> {
    let format = args.output.as_ref().map(|path| Ok((path, Format::of_file(path)?))).transpose()?;
    if args.within.is_some() && args.near.is_none() && args.along.is_none() {
        return Err(Error::usage("--within", "says from what only with --near or --along", "add one, or leave it out"));
    }
    let layer = Layer::open(&args.layer)?;
    let reach_m = args.reach.unwrap_or(layer.record().profile.stop.reach_m);
    let mut list = found(&layer, args, reach_m)?;
    let all = list.stops.len();
    list.stops.retain(|s| s.may_stop || args.private);
    list.private_left_out = all - list.stops.len();
    list.stops.retain(|s| {
        let kind = args.kind.is_empty() || args.kind.contains(&s.kind);
        kind && !(args.no_roof && s.roofed) && s.best_open_share >= args.min_open
    });
    if let Some((path, format)) = format {
        whole::write(path, report::stops_written(&list, format)?.as_bytes(), args.overwrite)?;
        return Ok(format!("written\n  {}\n{}\n", path.display(), report::STOP_CAUTION));
    }
    if args.json { report::stops_written(&list, Format::Json) } else { Ok(report::stops_table(&list)) }
}

fn found(layer: &Layer, args: &Stops, reach_m: f64) -> Result<StopList> {
    let mut list = StopList { reach_m, ..StopList::default() };
    if let Some(track) = &args.along {
        let track = read_track(track)?;
        let within_m = args.within.unwrap_or(ALONG_M);
        let corridor = asked(layer, &track, &Options::default(), 0, 0.0)?;
        let rows = stops_beside(layer, &corridor, within_m)?;
        list.stops = near(&corridor.pieces, &rows, within_m, reach_m);
        list.unmatched_m = Some(corridor.unmatched_m);
        return Ok(list);
    }
    if let Some((lat_deg, lon_deg)) = args.near {
        let place = Position::from_deg(lon_deg, lat_deg);
        let within_m = args.within.unwrap_or(NEAR_M);
        let rows = layer.stops_in(around(Bounds { min: place, max: place }, within_m))?;
        let from_place = |s: &crate::layer::model::StopRow| (distance_m(place, s.at), StopNear::of(s, reach_m));
        let mut near: Vec<(f64, StopNear)> = rows.iter().map(from_place).filter(|(m, _)| *m <= within_m).collect();
        near.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.stop_id.cmp(&b.1.stop_id)));
        list.stops = near.into_iter().map(|(m, s)| StopNear { from_place_m: Some(m), ..s }).collect();
        return Ok(list);
    }
    let rows = match args.bounds {
        Some(bounds) => layer.stops_in(bounds)?,
        None => layer.stops()?,
    };
    list.stops = rows.iter().map(|s| StopNear::of(s, reach_m)).collect();
    Ok(list)
}

/// A box grown by some metres.
fn around(bounds: Bounds, within_m: f64) -> Bounds {
    let corner = |at: Position, m: f64| LocalPlane::at_position(at).to_lon_lat(Point::new(m, m));
    let ((west, south), (east, north)) = (corner(bounds.min, -within_m), corner(bounds.max, within_m));
    Bounds::from_deg(west.max(-180.0), south.max(-90.0), east.min(180.0), north.min(90.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn distances_have_units_and_kinds_are_known() {
        assert_eq!((distance("500"), distance("500m"), distance("2.5 km")), (Ok(500.0), Ok(500.0), Ok(2_500.0)));
        assert!(["", "km", "-1", "NaN", "200km", "5 miles"].iter().all(|t| distance(t).is_err()));
        assert_eq!(kind("camp_site"), Ok(StopKind::CampSite));
        assert!(kind("harbour").unwrap_err().contains("picnic_site"));
        assert!(reach("61").is_err() && share("1.1").is_err() && share("0.5") == Ok(0.5));
        assert_eq!(bounds("42.4,1.4,42.7,1.8"), Ok(Bounds::from_deg(1.4, 42.4, 1.8, 42.7)));
        assert!(["42.7,1.4,42.4,1.8", "1,2,3", "a,b,c,d", "0,0,0,181"].iter().all(|t| bounds(t).is_err()));
    }
}
