//! Which part of an extract is wanted: options that several commands take.
use std::path::{Path, PathBuf};

use clap::{Args as ClapArgs, ValueHint};

use super::read;
use super::values::{box_sides, length};
use crate::base::error::{Error, Result};
use crate::base::input::{self, InputKind};
use crate::map::district::region::Region;

/// Options of commands that take a part of a bigger extract.
#[derive(Debug, ClapArgs)]
pub(crate) struct RegionArgs {
    /// Only what lies in a box: south, west, north and east in degrees, such as 42.4,1.4,42.7,1.8
    ///
    /// Whole districts are taken, squares of a quarter of a degree: those that the box touches. West may lie east of east,
    /// for a box across 180 degrees.
    #[arg(long, value_name = "S,W,N,E", allow_hyphen_values = true, value_parser = box_sides, conflicts_with_all = ["area", "along"])]
    pub bounds: Option<[f64; 4]>,
    /// Only what lies in the polygons of a GeoJSON file; whole districts, those that they touch
    #[arg(long, value_name = "FILE", value_hint = ValueHint::FilePath, conflicts_with = "along")]
    pub area: Option<PathBuf>,
    /// Only what lies along a track: a file (GPX, GeoJSON or encoded polyline); whole districts, those near to it
    #[arg(long, value_name = "TRACK", requires = "buffer")]
    pub along: Option<String>,
    /// How near to the track districts are taken, such as 20km
    #[arg(long, value_name = "DISTANCE", requires = "along", value_parser = length(0.0..=500_000.0))]
    pub buffer: Option<f64>,
}

impl RegionArgs {
    /// Whether a part is asked for.
    pub fn is_given(&self) -> bool {
        self.bounds.is_some() || self.area.is_some() || self.along.is_some()
    }
    /// What they say.
    ///
    /// # Errors
    /// A file cannot be read or is not what it should be.
    pub fn region(&self) -> Result<Region> {
        if let Some([south, west, north, east]) = self.bounds {
            return Region::bounds(west, south, east, north).map_err(|fact| {
                Error::usage("--bounds", fact, "give south, west, north and east, such as 42.4,1.4,42.7,1.8")
            });
        }
        if let Some(path) = &self.area {
            return area(path);
        }
        let Some(track) = &self.along else { return Ok(Region::Whole) };
        let track = read::track(track, None)?;
        let lines = track.pieces.iter().map(|piece| piece.iter().map(|p| p.at).collect()).collect();
        Ok(Region::along(lines, self.buffer.unwrap_or(0.0)))
    }
}

/// The polygons of a GeoJSON file.
///
/// # Errors
/// It cannot be read or holds none.
pub(crate) fn area(path: &Path) -> Result<Region> {
    let next = "give a GeoJSON file with a polygon, longitude before latitude";
    let text = input::text(path, InputKind::Area, next)?;
    Region::area(&text).map_err(|fact| Error::file(path, fact, next))
}
