//! The ground under every station, cell by cell, and whether elevation covers the roads.
use std::path::Path;

use rayon::prelude::*;

use super::cells::Cell;
use super::ids::RowIds;
use super::readers::Rasters;
use crate::base::error::{Error, Result};
use crate::base::geodesy::Point;
use crate::base::index::SegmentIndex;
use crate::base::progress::Progress;
use crate::base::window::Elevation;
use crate::map::network::grade::Heights;
use crate::map::network::model::{Network, Segment};
use crate::map::network::station::{LinePoint, spaced};

/// Around a cell, so that bilinear heights at its rim have their neighbours, metres.
const RIM_M: f64 = 200.0;
/// No road climbs steeper than this, rise over run: the steepest street has 34.8 % (Guinness World Records, 2020, Baldwin
/// Street in Dunedin).
const STEEPEST: f32 = 0.35;

/// Ground heights at the stations of every segment on the centre line, in node order; NaN without elevation.
///
/// A surface is highest where crowns, decks and vehicles stand on the road: there it is taken across the
/// carriageway, and no higher than the road can climb from either side.
pub fn heights(rasters: &Rasters, network: &Network, cells: &[Cell], progress: &dyn Progress) -> Result<Heights> {
    let surface = rasters.any_surface();
    let mut out: Heights = vec![Vec::new(); network.segments.len()];
    let of_cell = |cell: &Cell| -> Result<Vec<Vec<f32>>> {
        if cell.segments.is_empty() {
            progress.advance(1);
            return Ok(Vec::new());
        }
        let elevation = rasters.elevation.window(&cell.plane, cell.half_size_m, RIM_M)?;
        let heights = cell.segments.iter().map(|id| {
            let segment = &network.segments[id.at()];
            let line: Vec<Point> = segment.line.iter().map(|p| cell.plane.to_plane(*p)).collect();
            let stations = spaced(&line, segment.stations);
            if surface && stations.iter().any(|s| elevation.is_surface(s.at)) {
                return below_crowns(&elevation, segment, &stations);
            }
            stations.iter().map(|s| elevation.height_m(s.at).unwrap_or(f32::NAN)).collect()
        });
        let heights = heights.collect();
        progress.advance(1);
        Ok(heights)
    };
    let by_cell: Vec<Result<Vec<Vec<f32>>>> = cells.par_iter().map(of_cell).collect();
    for (cell, heights) in cells.iter().zip(by_cell) {
        for (id, z) in cell.segments.iter().zip(heights?) {
            out[id.at()] = z;
        }
    }
    Ok(out)
}

/// Heights along a segment in a surface model: the lowest across the carriageway, then the upper bound that the
/// steepest grade allows from every other station.
fn below_crowns(elevation: &Elevation, segment: &Segment, stations: &[LinePoint]) -> Vec<f32> {
    let half_m = f64::from(segment.section.width_m.value) / 2.0;
    let lowest_across = |s: &LinePoint| {
        let half_m = if elevation.is_surface(s.at) { half_m } else { 0.0 };
        let aside = [-half_m, 0.0, half_m].map(|m| s.at.moved(s.heading_deg + 90.0, m));
        aside.iter().filter_map(|p| elevation.height_m(*p)).reduce(f32::min).unwrap_or(f32::NAN)
    };
    let z_m: Vec<f32> = stations.iter().map(lowest_across).collect();
    let step_m = (segment.length_m / (stations.len().max(2) - 1) as f64) as f32;
    let bound = |i: usize| {
        let reached = z_m.iter().enumerate().filter(|(_, z)| !z.is_nan());
        reached.map(|(j, z)| z + STEEPEST * step_m * i.abs_diff(j) as f32).reduce(f32::min)
    };
    let height = |(i, s): (usize, &LinePoint)| match z_m[i] {
        z if z.is_nan() || !elevation.is_surface(s.at) => z,
        _ => bound(i).unwrap_or(f32::NAN),
    };
    stations.iter().enumerate().map(height).collect()
}

/// Between the ends of segments at least this long, metres, no road rises more steeply than this, rise over run: twice the
/// steepest street. A raster that is off by a few metres, and roads that cross a slope it does not resolve, may pretend it here
/// and there, but not for a tenth of the roads.
const TOLD_BY_M: f64 = 60.0;
const BEYOND_ROADS: f64 = 0.6;
const MOST_BEYOND: f64 = 0.1;

/// Fewer segments than this say nothing of the unit before all are known.
const ENOUGH: u64 = 500;

/// Segments of the district whose grade tells the unit of heights, and those of them steeper than any road.
pub(crate) fn grades(network: &Network, ground: &Heights, ids: &RowIds) -> [u64; 2] {
    let grade = |id: SegmentIndex| {
        let (segment, z_m) = (&network.segments[id.at()], &ground[id.at()]);
        let (first, last) = (z_m.first()?, z_m.last()?);
        let told = segment.length_m >= TOLD_BY_M && !segment.bridge && segment.tunnel.is_none();
        (told && first.is_finite() && last.is_finite()).then(|| f64::from((last - first).abs()) / segment.length_m)
    };
    let grades: Vec<f64> = ids.own().filter_map(grade).collect();
    [grades.len() as u64, grades.iter().filter(|g| **g > BEYOND_ROADS).count() as u64]
}

/// Roads as steep as no road is tell heights in another unit; few of them say so only when they are all.
pub(crate) fn check_grades(elevation: Option<&Path>, grades: [u64; 2]) -> Result<()> {
    if grades[0] < ENOUGH { Ok(()) } else { check_all_grades(elevation, grades) }
}

/// The same for those of a whole build.
pub(crate) fn check_all_grades(elevation: Option<&Path>, [told, steep]: [u64; 2]) -> Result<()> {
    let beyond = steep as f64 / told.max(1) as f64;
    match elevation {
        Some(first) if beyond > MOST_BEYOND => Err(Error::file(
            first,
            format!("in it, {:.0} % of the roads are steeper than {:.0} %", 100.0 * beyond, 100.0 * BEYOND_ROADS),
            "if its values are not metres, give their unit with --elevation-scale (0.1 for decimetres), or give \
             another raster",
        )),
        _ => Ok(()),
    }
}

/// Stations of the district, and those of them with elevation.
pub(crate) fn covered(ground: &Heights, ids: &RowIds) -> [u64; 2] {
    let own = || ids.own().flat_map(|id| &ground[id.at()]);
    [own().count() as u64, own().filter(|z| !z.is_nan()).count() as u64]
}

/// Elevation that was given but covers no road is an error; where it covers a part the user is told.
pub(crate) fn check_cover(elevation: Option<&Path>, [all, covered]: [u64; 2], progress: &dyn Progress) -> Result<()> {
    let Some(first) = elevation else { return Ok(()) };
    if covered == 0 {
        return Err(covers_none(first));
    }
    if covered < all {
        let share = 100.0 * (all - covered) as f64 / all as f64;
        progress.warn(&format!(
            "{} of {all} stations ({share:.1} %) have no elevation; they are rated without terrain and their rows say so",
            all - covered
        ));
    }
    Ok(())
}

/// The error of elevation for another region.
pub(crate) fn covers_none(first: &Path) -> Error {
    let next = "give rasters for the extract's region, or leave out --elevation to rate without terrain";
    Error::file(first, "the elevation covers none of the roads looked at", next)
}
