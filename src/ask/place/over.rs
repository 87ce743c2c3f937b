//! From a place to the lane near it, the mask of its station, and the sky cell by cell.
use std::path::Path;

use super::model::{SkyAnswer, SkyCell, SkyQuestion, SkyShares};
use super::passing::{all_passes, left_out};
use crate::ask::boxes::around;
use crate::ask::elsewhere::{Whereabouts, whereabouts};
use crate::base::error::{Error, Result};
use crate::base::geodesy::{LocalPlane, Point, Position, normal_deg};
use crate::base::words::{Case, Cause, Direction, Evidence, PerCase};
use crate::layer::model::{EndMaskRow, LaneRow, MaskRow, SegmentRow};
use crate::layer::schema::Row;
use crate::layer::{Layer, REBUILD, damaged_value};
use crate::physics::orbit::cone::Cone;
use crate::physics::orbit::weights::{cone_weights, expected_in_cone, sky_weights};
use crate::physics::scene::overheads::overhead::Overhead;
use crate::physics::scene::overheads::prisms;
use crate::physics::sky::leaves::LeafOdds;
use crate::physics::sky::mask::{AZIMUTH_BINS, Mask, SkyGrid, azimuth_deg};
use crate::physics::sky::pack;
use crate::profile::Profile;

/// What is said of a layer whose roads have a range and whose masks have none.
pub(crate) const NO_END_MASKS: &str = "says that roads are better or worse with other trees and buildings than \
                                       assumed, but holds no sky masks for these cases";

/// Where on a segment a place is.
struct NearestRoad {
    row: SegmentRow,
    distance_m: f64,
    along_m: f64,
    heading_deg: f64,
}

impl NearestRoad {
    /// The mask of the station nearest to the place; nothing where there are none.
    fn mask_of(&self, masks: Vec<Mask>) -> Option<Mask> {
        let last = masks.len().saturating_sub(1);
        let station = (self.along_m / self.row.length_m.max(1e-6) * last as f64).round() as usize;
        masks.into_iter().nth(station.min(last))
    }
}

/// What the sky over a place is like.
///
/// # Errors
/// The layer cannot be read, or no rated road is near.
pub fn sky(layer: &Layer, question: &SkyQuestion) -> Result<SkyAnswer> {
    let near = nearest(layer, question)?;
    let forward = !question.backward;
    let (grid, mask) = mask_at(layer, &near, forward)?;
    let lane = layer.lane(near.row.segment_id, forward)?;
    let overheads = lane.map_or(Ok(Vec::new()), |lane| overheads_of(layer.path(), &lane))?;
    let profile = &layer.record().profile;
    let weights = sky_weights(question.at_deg.0, &profile.constellation, &profile.link, grid);
    let shares_of_sky = cone_weights(&weights, grid, &profile.terminal, near.heading_deg);
    let odds = LeafOdds::of(profile);
    let over = Over { grid, mask: &mask, odds: &odds, overheads: &overheads, along_m: near.along_m };
    let cells = cells(&over, profile, &shares_of_sky, near.heading_deg);
    let as_stated = shares(&cells);
    let mut open_at = PerCase::of(|_| as_stated.open);
    for (case, mask) in end_masks_at(layer, &near, forward)? {
        let at_end = self::cells(&Over { mask: &mask, ..over }, profile, &shares_of_sky, near.heading_deg);
        open_at[case] = shares(&at_end).open;
    }
    let (passes, lost) = match &question.passes {
        Some(asked) => all_passes(asked, question.at_deg, &cells, grid),
        None => (Vec::new(), 0),
    };
    let row = &near.row;
    Ok(SkyAnswer {
        lat_deg: question.at_deg.0,
        lon_deg: question.at_deg.1,
        altitude_m: question.passes.as_ref().map(|asked| asked.altitude_m),
        segment_id: row.segment_id,
        way_id: row.way_id,
        road: row.name.clone().or_else(|| row.reference.clone()).unwrap_or_else(|| row.highway.name().to_owned()),
        forward,
        distance_m: near.distance_m,
        along_m: near.along_m,
        heading_deg: near.heading_deg,
        rating_name: row.rating,
        outage_p95_s: row.outage_p95_s,
        evidence_terrain: row.evidence_terrain,
        evidence_canopy: row.evidence_canopy,
        evidence_building: row.evidence_building,
        evidence: row.evidence,
        expected_satellites: expected_in_cone(&weights, grid, &profile.terminal),
        shares: as_stated,
        open_best: open_at.best.max(open_at.likely),
        open_worst: (row.evidence != Evidence::Unknown).then_some(open_at.worst.min(open_at.likely)),
        cells,
        passes,
        lost,
        left_out: question.passes.as_ref().map(|asked| left_out(&asked.elements)).unwrap_or_default(),
    })
}

/// Usable satellites expected at a latitude where all of the sky that the profile's panel can use is open.
pub(crate) fn expected_under_open_sky(layer: &Layer, latitude_deg: f64) -> f64 {
    let profile = &layer.record().profile;
    let grid = SkyGrid { floor_deg: layer.record().mask_floor_deg };
    let weights = sky_weights(latitude_deg, &profile.constellation, &profile.link, grid);
    expected_in_cone(&weights, grid, &profile.terminal)
}

/// The road nearest to the place.
fn nearest(layer: &Layer, question: &SkyQuestion) -> Result<NearestRoad> {
    let (lat_deg, lon_deg) = question.at_deg;
    let plane = LocalPlane::at(lon_deg, lat_deg);
    let mut rows = Vec::new();
    let at = Position::from_deg(lon_deg, lat_deg);
    for bounds in around(at, question.within_m) {
        rows.extend(layer.segments_in(bounds)?);
    }
    let found = rows.into_iter().filter_map(|row| along(&plane, row, !question.backward));
    let best = found.min_by(|a, b| a.distance_m.total_cmp(&b.distance_m)).filter(|n| n.distance_m <= question.within_m);
    if let Some(best) = best {
        return Ok(best);
    }
    let none = format!("holds no road within {} m of {lat_deg}, {lon_deg}", question.within_m);
    Err(match whereabouts(layer, at)? {
        Whereabouts::Within => Error::file(layer.path(), none, "ask for a place on a road, or raise --snap"),
        Whereabouts::Off { fact, next_step } => Error::file(layer.path(), format!("{none}: {fact}"), next_step),
    })
}

/// Where a segment comes nearest to the plane's origin; nothing where it is not driven this way.
fn along(plane: &LocalPlane, row: SegmentRow, forward: bool) -> Option<NearestRoad> {
    row.driven[Direction::of(forward)]?;
    let line: Vec<Point> = row.line.iter().map(|p: &Position| plane.to_plane(*p)).collect();
    let whole_m: f64 = line.windows(2).map(|w| w[0].distance_m(w[1])).sum();
    let mut best: Option<(f64, f64, f64)> = None;
    let mut start_m = 0.0;
    for w in line.windows(2) {
        let piece_m = w[0].distance_m(w[1]);
        let (ex, ey) = (w[1].x_m - w[0].x_m, w[1].y_m - w[0].y_m);
        let t =
            if piece_m > 0.0 { (-(w[0].x_m * ex + w[0].y_m * ey) / (piece_m * piece_m)).clamp(0.0, 1.0) } else { 0.0 };
        let distance_m = w[0].towards(w[1], t).distance_m(Point::default());
        if best.is_none_or(|b| distance_m < b.0) {
            best = Some((distance_m, start_m + t * piece_m, w[0].azimuth_deg(w[1])));
        }
        start_m += piece_m;
    }
    let (distance_m, along_m, heading_deg) = best?;
    let (along_m, heading_deg) =
        if forward { (along_m, heading_deg) } else { (whole_m - along_m, normal_deg(heading_deg + 180.0)) };
    Some(NearestRoad { row, distance_m, along_m, heading_deg: normal_deg(heading_deg) })
}

/// The mask of the station nearest to the place.
fn mask_at(layer: &Layer, near: &NearestRoad, forward: bool) -> Result<(SkyGrid, Mask)> {
    let (id, highway) = (near.row.segment_id, near.row.highway);
    let none = || {
        let fact = format!("has no sky mask for segment {id} ({highway})");
        match highway.is_boarded() {
            true => Error::file(layer.path(), fact, "ferries and shuttle trains have none; ask for a place on a road"),
            false => no_masks(layer, &fact),
        }
    };
    let row = layer.masks(id, forward)?.ok_or_else(none)?;
    let grid = SkyGrid { floor_deg: layer.record().mask_floor_deg };
    let masks = masks_of(layer.path(), grid, &row)?;
    Ok((grid, near.mask_of(masks).ok_or_else(none)?))
}

/// Masks of that station at either end of what is assumed about the roadside; none where these are the same.
fn end_masks_at(layer: &Layer, near: &NearestRoad, forward: bool) -> Result<Vec<(Case, Mask)>> {
    if !layer.has_end_masks()? {
        return Err(no_masks(layer, NO_END_MASKS));
    }
    let grid = SkyGrid { floor_deg: layer.record().mask_floor_deg };
    let mut found = Vec::new();
    for row in layer.end_masks(near.row.segment_id, forward)? {
        let damaged = |fact: &str| damaged_value(layer.path(), &EndMaskRow::TABLE, row.end_mask_id, "packed", fact);
        let masks = unpacked_masks(grid, &row.packed, row.stations).map_err(|fact| damaged(&fact))?;
        found.extend(near.mask_of(masks).map(|mask| (row.at, mask)));
    }
    Ok(found)
}

/// The error of a layer without the masks that a question needs.
pub(crate) fn no_masks(layer: &Layer, fact: &str) -> Error {
    let next = format!(
        "{REBUILD}, which writes them; `sky` and `sensitivity` need masks, `corridor`, `route`, `stops` and `plan` do not"
    );
    Error::file(layer.path(), fact, next)
}

/// The masks of a row, of the number and the grid that the layer at `path` says.
///
/// # Errors
/// They are damaged.
pub(crate) fn masks_of(path: &Path, grid: SkyGrid, row: &MaskRow) -> Result<Vec<Mask>> {
    let damaged = |fact: String| damaged_value(path, &MaskRow::TABLE, row.mask_id, "packed", &fact);
    unpacked_masks(grid, &row.packed, row.stations).map_err(damaged)
}

/// Masks of a number and a grid, or what is wrong with them.
pub(crate) fn unpacked_masks(grid: SkyGrid, packed: &[u8], stations: u32) -> std::result::Result<Vec<Mask>, String> {
    let (own, masks) = pack::unpack(packed)?;
    if own != grid {
        return Err(format!("its masks begin at {} degrees, those of the layer at {}", own.floor_deg, grid.floor_deg));
    }
    if masks.len() != stations as usize {
        return Err(format!("it holds {} masks, but stations says {stations}", masks.len()));
    }
    Ok(masks)
}

/// What stands over a lane of the layer at `path`.
///
/// # Errors
/// It is damaged.
pub(crate) fn overheads_of(path: &Path, lane: &LaneRow) -> Result<Vec<Overhead>> {
    let damaged = |fact: String| damaged_value(path, &LaneRow::TABLE, lane.lane_id, "overheads", &fact);
    lane.overheads.as_ref().map_or(Ok(Vec::new()), |packed| prisms::unpack(packed).map_err(damaged))
}

/// What stands over one station.
struct Over<'a> {
    grid: SkyGrid,
    mask: &'a Mask,
    odds: &'a LeafOdds,
    overheads: &'a [Overhead],
    along_m: f64,
}

impl Over<'_> {
    /// Probability that a direction is blocked, and the first cause in the order of the layer.
    fn blocked(&self, bin: usize, row: usize) -> (f64, Cause) {
        let (azimuth, elevation) = (azimuth_deg(bin), self.grid.row_deg(row));
        let over = |cover: bool| {
            let mut there = self.overheads.iter().filter(|o| o.kind.is_cover() == cover);
            there.any(|o| o.hides(self.along_m, azimuth, elevation))
        };
        let canopy = self.odds.blocked(self.mask.canopy[self.grid.cell(bin, row)]);
        match () {
            () if over(true) => (1.0, Cause::Cover),
            () if over(false) => (1.0, Cause::Deck),
            () if f64::from(self.mask.solid_deg[bin]) > elevation => (1.0, Cause::Building),
            () if f64::from(self.mask.terrain_deg[bin]) > elevation => (1.0, Cause::Terrain),
            () if canopy > 0.0 => (canopy, Cause::Canopy),
            () => (0.0, Cause::None),
        }
    }
}

fn cells(over: &Over, profile: &Profile, weights: &[f32], heading_deg: f64) -> Vec<SkyCell> {
    let (grid, cone) = (over.grid, Cone::new(&profile.terminal));
    let cell = |(bin, row): (usize, usize)| {
        let (blocked, cause) = over.blocked(bin, row);
        let (low_deg, high_deg) = grid.row_edges_deg(row);
        SkyCell {
            azimuth_deg: azimuth_deg(bin),
            low_deg,
            high_deg,
            usable: cone.sees(heading_deg, azimuth_deg(bin), grid.row_deg(row)),
            weight: f64::from(weights[grid.cell(bin, row)]),
            blocked,
            cause,
        }
    };
    (0..AZIMUTH_BINS).flat_map(|bin| (0..grid.rows()).map(move |row| (bin, row))).map(cell).collect()
}

/// Shares of the usable sky.
fn shares(cells: &[SkyCell]) -> SkyShares {
    let causes = Cause::ALL.iter().filter(|c| **c != Cause::None);
    let mut shares = SkyShares { open: 0.0, blocked: causes.map(|c| (*c, 0.0)).collect() };
    for cell in cells {
        shares.open += cell.weight * (1.0 - cell.blocked);
        if cell.blocked > 0.0 {
            *shares.blocked.entry(cell.cause).or_default() += cell.weight * cell.blocked;
        }
    }
    shares
}
