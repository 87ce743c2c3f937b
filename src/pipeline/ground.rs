//! The ground under every station, cell by cell, and whether elevation covers the roads.
use rayon::prelude::*;

use super::BuildOptions;
use super::cells::Cell;
use super::readers::Readers;
use crate::error::{Error, Result};
use crate::geodesy::Point;
use crate::network::grade::Heights;
use crate::network::model::Network;
use crate::network::station::spaced;
use crate::progress::Progress;

/// Around a cell, so that bilinear heights at its rim have their neighbours, metres.
const RIM_M: f64 = 200.0;

/// Ground heights at the stations of every segment on the centre line, in node order; NaN without elevation.
pub fn heights(readers: &Readers, network: &Network, cells: &[Cell], progress: &dyn Progress) -> Result<Heights> {
    let mut out: Heights = vec![Vec::new(); network.segments.len()];
    let of_cell = |cell: &Cell| -> Result<Vec<Vec<f32>>> {
        let elevation = readers.window(&cell.plane, cell.half_size_m, RIM_M)?;
        let heights = cell.segments.iter().map(|id| {
            let segment = &network.segments[*id as usize];
            let line: Vec<Point> = segment.line.iter().map(|p| cell.plane.to_plane(*p)).collect();
            let stations = spaced(&line, segment.stations);
            stations.iter().map(|s| elevation.height_m(s.at).unwrap_or(f32::NAN)).collect()
        });
        let heights = heights.collect();
        progress.advance(1);
        Ok(heights)
    };
    let by_cell: Vec<Result<Vec<Vec<f32>>>> = cells.par_iter().map(of_cell).collect();
    for (cell, heights) in cells.iter().zip(by_cell) {
        for (id, z) in cell.segments.iter().zip(heights?) {
            out[*id as usize] = z;
        }
    }
    Ok(out)
}

/// Elevation that was given but covers no road is an error; where it covers a part the user is told.
pub fn check_cover(options: &BuildOptions, ground: &Heights, progress: &dyn Progress) -> Result<()> {
    let Some(first) = options.elevation.first() else {
        progress.warn("no --elevation: terrain is unknown, not clear; every row says so");
        return Ok(());
    };
    let all = ground.iter().map(Vec::len).sum::<usize>();
    let covered = ground.iter().flatten().filter(|z| !z.is_nan()).count();
    if covered == 0 {
        let next = "give rasters of the extract's region, or leave out --elevation to rate without terrain";
        return Err(Error::file(first, "the elevation covers none of the roads", next));
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
