//! `stops`: places to stop near a place, along a track, or in all of a layer.
use std::path::PathBuf;

use clap::{Args as ClapArgs, ValueHint};

use super::notes::{HelpExample, HelpNotes};
use super::output::{Forms, Output};
use super::read;
use super::shown::{UnitsOption, shown};
use super::terminal::Said;
use super::values::{bounds, length, share};
use super::with_layers::{AskedLayer, WithLayers};
use crate::ask;
use crate::ask::stops::{ALONG_M, StopsIn, StopsQuestion};
use crate::base::caution::Caution;
use crate::base::error::{Error, Result};
use crate::base::words::StopKind;
use crate::layer::Bounds;
use crate::report::{self, Format};

/// What the help of `stops` ends with.
pub(crate) const NOTES: HelpNotes = HelpNotes {
    reads: "a layer; a track if given",
    writes: "with -o the list (.geojson, .gpx, .csv, .json); else nothing",
    examples: &[
        HelpExample {
            does: "Places around one, the nearest first",
            line: "waymask stops out/varrow.gpkg --near 46.97542,-28.03299 --within 5km",
        },
        HelpExample {
            does: "Fuel and camp sites along a track, as waypoints",
            line: "waymask stops out/varrow.gpkg --along data-samples/varrow-circuit.gpx --kind fuel,camp_site \
                   -o out/stops.gpx",
        },
    ],
};

/// Options of `stops`.
#[derive(Debug, ClapArgs)]
pub(crate) struct StopsArgs {
    /// A layer written by `waymask build`
    pub layer: PathBuf,
    /// Layers asked as one with it.
    #[command(flatten)]
    pub neighbours: WithLayers,
    /// Places to stop around this one, the nearest first: coordinates such as 46.99,-28.01, or a name such as Eastmark
    #[arg(long, value_name = "PLACE", value_hint = ValueHint::Other, allow_hyphen_values = true, conflicts_with_all = ["along", "bounds"])]
    pub near: Option<String>,
    /// Only what lies along a track, in the order passed: a file, waypoints such as "42.5,1.5 42.51,1.5", or places by name
    #[arg(long, value_name = "TRACK", allow_hyphen_values = true, conflicts_with = "bounds")]
    pub along: Option<String>,
    /// Only what lies in a box: south, west, north and east, degrees
    #[arg(long, value_name = "S,W,N,E", value_parser = bounds, allow_hyphen_values = true)]
    pub bounds: Option<Bounds>,
    /// Answers lie within this distance of the place or the road driven, such as 500m or 2.5km
    ///
    /// 10 km from a place (--near) and 1 km from a road (--along) by default.
    #[arg(long, value_name = "DISTANCE", value_parser = length(0.0..=100_000.0))]
    pub within: Option<f64>,
    /// List only these kinds, such as fuel,camp_site
    #[arg(long, value_name = "KINDS", value_delimiter = ',', value_parser = kind)]
    pub kind: Vec<StopKind>,
    /// List only places known to have no roof over the vehicle
    ///
    /// Places of which it is not known are listed apart.
    #[arg(long)]
    pub no_roof: bool,
    /// How far from the vehicle the panel may be set down, 0 to 60 m; that of the layer's profile by default
    ///
    /// Nothing farther than 60 m was looked at.
    #[arg(long, value_name = "DISTANCE", value_parser = length(0.0..=60.0))]
    pub reach: Option<f64>,
    /// List only places where this share of the usable sky is open on the vehicle or within reach, 0 to 1
    #[arg(long, value_name = "SHARE", default_value_t = 0.0, value_parser = share)]
    pub min_open: f64,
    /// List private places, too; do not stop there unless you are asked in
    #[arg(long)]
    pub private: bool,
    /// Units of lengths.
    #[command(flatten)]
    pub units: UnitsOption,
    /// Where the answer goes.
    #[command(flatten)]
    pub output: Output,
}

fn kind(text: &str) -> Result<StopKind, String> {
    text.trim().parse()
}

/// What goes to standard output; a file asked for is written.
pub fn run(args: &StopsArgs) -> Result<Said> {
    let format = args.output.file_format()?;
    if args.within.is_some() && args.near.is_none() && args.along.is_none() {
        return Err(Error::usage("--within", "says from what only with --near or --along", "add one, or leave it out"));
    }
    let units = shown(&args.units, None)?.units;
    let (layer, place, told) = place_asked(args)?;
    let question = StopsQuestion {
        place,
        within_m: args.within,
        reach_m: args.reach,
        kinds: args.kind.clone(),
        no_roof: args.no_roof,
        min_open: args.min_open,
        private: args.private,
    };
    let mut found = ask::stops(&layer, &question)?;
    if args.along.is_none() {
        found.notes.splice(0..0, layer.told.iter().cloned());
    }
    found.notes.extend(layer.of_stops.iter().cloned());
    found.notes.extend(told.map(|place| format!("near {place}")));
    args.output.deliver(&Forms {
        file: format.map(|format| report::stops_written(&found, format)).transpose()?,
        table: &|| report::stops_table(&found, units),
        json: &|| report::stops_written(&found, Format::Json),
        notes: &found.notes,
        cautions: &Caution::STOPS,
    })
}

/// What is asked, where stops are looked for, and what was taken for a name.
fn place_asked(args: &StopsArgs) -> Result<(AskedLayer, StopsIn, Option<String>)> {
    if let Some(track) = &args.along {
        let within_m = args.within.unwrap_or(ALONG_M);
        let (layer, track) = args.neighbours.open_along(&args.layer, (track, None), within_m)?;
        return Ok((layer, StopsIn::Beside(track), None));
    }
    let boxes = args.bounds.map(|bounds| vec![bounds]);
    let layer = args.neighbours.open(&args.layer, boxes.as_deref())?;
    Ok(match (&args.near, args.bounds) {
        (Some(near), _) => {
            let place = read::place_in(&layer, near)?;
            (layer, StopsIn::Around(place.at), place.told)
        }
        (None, Some(bounds)) => (layer, StopsIn::Box(bounds), None),
        (None, None) => (layer, StopsIn::Layer, None),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn kinds_are_known() {
        assert_eq!(kind("camp_site"), Ok(StopKind::CampSite));
        assert!(kind("camp-site").unwrap_err().ends_with("; did you mean `camp_site`?"));
        assert!(kind("harbour").unwrap_err().contains("picnic_site"));
    }
}
