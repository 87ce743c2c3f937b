//! What stands over every lane, cell by cell.
use rayon::prelude::*;

use super::cells::Cell;
use super::lanes::Lanes;
use super::readers::Readers;
use super::run::Run;
use crate::base::error::Result;
use crate::base::geodesy::{Point, Position};
use crate::base::index::{LaneIndex, SegmentIndex};
use crate::base::progress::Progress;
use crate::base::words::Direction;
use crate::map::network::model::Station;
use crate::map::network::station::stations;
use crate::physics::scene::overheads::cell::CellOverheads;
use crate::physics::scene::overheads::covers::LaneOf;
use crate::physics::scene::overheads::decks::DeckIndex;
use crate::physics::scene::overheads::overhead::Overhead;
use crate::rating::lanes::directions;

/// Beyond a cell, decks and roofs are looked for this far, and ground under their ends, metres.
const HALO_M: f64 = 500.0;

/// What stands over the lanes of a network.
pub struct Overheads {
    /// Per lane, in its own coordinate.
    pub own: Vec<Vec<Overhead>>,
    /// Per lane, where the middle of each stands.
    pub at: Vec<Vec<Position>>,
    /// Names of what crosses, by id.
    pub names: std::collections::BTreeMap<i64, String>,
}

/// Overheads of one lane and where they stand.
type Found = (LaneIndex, Vec<Overhead>, Vec<Position>);

/// Finds what stands over every lane.
pub fn find(run: &Run, lanes: &Lanes, readers: &Readers, progress: &dyn Progress) -> Result<Overheads> {
    let index = DeckIndex::new(run.extract);
    let of_cell = |cell: &Cell| {
        let found = in_cell(run, lanes, readers, &index, cell);
        progress.advance(1);
        found
    };
    let by_cell: Vec<Result<Vec<Found>>> = run.cells.par_iter().map(of_cell).collect();
    let n = 2 * run.network.segments.len();
    let mut all = Overheads { own: vec![Vec::new(); n], at: vec![Vec::new(); n], names: names(run) };
    for found in by_cell {
        for (lane, overheads, at) in found? {
            (all.own[lane.at()], all.at[lane.at()]) = (overheads, at);
        }
    }
    Ok(all)
}

fn names(run: &Run) -> std::collections::BTreeMap<i64, String> {
    let roads = run.extract.roads.iter().filter(|r| r.bridge || r.tunnel.is_some() || r.covered);
    let roads = roads.map(|r| (r.id, r.name.as_ref().or(r.reference.as_ref())));
    let decks = run.extract.decks.iter().map(|d| (d.id, d.name.as_ref()));
    decks.chain(roads).filter_map(|(id, name)| Some((id, name?.to_string()))).collect()
}

fn in_cell(run: &Run, lanes: &Lanes, readers: &Readers, index: &DeckIndex, cell: &Cell) -> Result<Vec<Found>> {
    if cell.segments.is_empty() {
        return Ok(Vec::new());
    }
    let elevation = readers.window(&cell.plane, cell.half_size_m, HALO_M)?;
    let reach_m = cell.half_size_m + HALO_M;
    let (west, south) = cell.plane.to_lon_lat(Point::new(-reach_m, -reach_m));
    let (east, north) = cell.plane.to_lon_lat(Point::new(reach_m, reach_m));
    let antenna_m = run.profile.vehicle.antenna_height_m;
    let above = CellOverheads::new(index, cell.plane, [west, south], [east, north], antenna_m);
    let ground_m = |p: Point| elevation.height_m(p);
    let mut out = Vec::new();
    for id in &cell.segments {
        let segment = &run.network.segments[id.at()];
        for direction in directions(segment) {
            let stations = stations(segment, direction, &cell.plane, &run.heights[id.at()]);
            let lane_of = lane_of(run, lanes, *id, direction, &stations);
            let own = above.own(&lane_of, &ground_m);
            if own.is_empty() {
                continue;
            }
            let middle = cell.plane.to_position(stations[stations.len() / 2].at);
            let at = own.iter().map(|o| above.centre(&lane_of, o).unwrap_or(middle)).collect();
            out.push((id.lane(direction), own, at));
        }
    }
    Ok(out)
}

/// A lane as the scene wants it.
fn lane_of<'a>(
    run: &'a Run,
    lanes: &Lanes,
    segment_id: SegmentIndex,
    direction: Direction,
    stations: &'a [Station],
) -> LaneOf<'a> {
    let segment = &run.network.segments[segment_id.at()];
    let (before_m, after_m) = lanes.cover_runs_m[segment_id.lane(direction).at()];
    LaneOf {
        road: &run.extract.roads[segment.road.at()],
        segment,
        direction,
        stations,
        cover_before_m: f64::from(before_m),
        cover_after_m: f64::from(after_m),
    }
}
