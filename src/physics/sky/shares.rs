//! How much of the usable sky a segment sees, and what blocks the rest.
//!
//! In: the masks of a segment driven in one direction, the expected satellites per cell, and what stands overhead.
//! Out: [`Shares`] of the usable sky, length-weighted along the segment, each blocked part put down to one cause: cover, deck, solid,
//! terrain, canopy, in this order. Overheads count exactly, as intervals of the lane; horizons count by the solid angle of a row they hide.
use super::leaves::LeafOdds;
use super::mask::{AZIMUTH_BINS, Mask, SkyGrid, azimuth_deg};
use super::plates::Plated;
use crate::physics::scene::overheads::overhead::Overhead;

/// Shares of the usable sky, 0..=1; open and blocked ones sum to 1.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Shares {
    /// Not blocked, mean over the segment.
    pub open: f64,
    /// Not blocked, at the station (with the road halfway to its neighbours) that sees least.
    pub open_min: f64,
    /// Blocked by a tunnel, passage, gallery or roof.
    pub cover: f64,
    /// Blocked by a deck.
    pub deck: f64,
    /// Blocked by buildings, walls and cliffs.
    pub solid: f64,
    /// Blocked by terrain.
    pub terrain: f64,
    /// Blocked by canopy.
    pub canopy: f64,
}

/// The usable sky, and what leaves do to it.
#[derive(Debug, Clone, Copy)]
pub struct SeenThrough<'a> {
    /// Grid of masks and weights.
    pub grid: SkyGrid,
    /// Probability that leaves block.
    pub odds: &'a LeafOdds,
    /// Expected satellites per cell, zero outside the cone.
    pub weights: &'a [f32],
}

/// Shares of one segment in one direction of travel.
///
/// `masks` belong to stations evenly spaced from start to end, each holding until halfway to the next; a single
/// mask holds everywhere. `None` without masks, without
/// length, or where no satellite is expected anywhere: there is no sky to take a share of.
pub fn shares(seen: &SeenThrough, masks: &[Mask], length_m: f64, overheads: &[Overhead]) -> Option<Shares> {
    let SeenThrough { grid, odds, weights } = *seen;
    let total: f64 = usable(weights).map(|(_, w)| w).sum();
    let all_fit = weights.len() == grid.cells() && masks.iter().all(|m| m.canopy.len() == grid.cells());
    if masks.is_empty() || !all_fit || total <= 0.0 || length_m <= 0.0 {
        return None;
    }
    let rows = RowSines::new(grid);
    let stations: Vec<StationPiece> = (0..masks.len()).map(|i| StationPiece::new(i, masks.len(), length_m)).collect();
    let mut by_station = vec![Shares::default(); masks.len()];
    let mut shadows = Shadows::default();
    let horizons: Vec<HorizonSines> = masks.iter().map(HorizonSines::of).collect();
    for (cell, weight) in usable(weights) {
        let (bin, row) = (cell / grid.rows(), cell % grid.rows());
        shadows.find(overheads, azimuth_deg(bin), grid.row_deg(row));
        for (((mask, sines), held), sum) in masks.iter().zip(&horizons).zip(&stations).zip(&mut by_station) {
            let horizons = (rows.below(sines.solid[bin], row), rows.below(sines.terrain[bin], row));
            sum.add(weight / total, shadows.shares_of(held), horizons, odds.blocked(mask.canopy[cell]));
        }
    }
    Some(mean(&by_station, &stations, length_m))
}

/// Share of the usable sky of a segment that higher horizons would hide besides what terrain and solid things hide; horizons by mask,
/// `None` where they are no higher. `weights` as in [`shares`].
pub fn raised_share(
    grid: SkyGrid,
    masks: &[Mask],
    raised_deg: &[Option<Box<[f32; AZIMUTH_BINS]>>],
    weights: &[f32],
) -> f64 {
    let total: f64 = usable(weights).map(|(_, w)| w).sum();
    if raised_deg.iter().all(Option::is_none) || total <= 0.0 {
        return 0.0;
    }
    let rows = RowSines::new(grid);
    // Each station holds halfway to its neighbours, the outermost to the ends.
    let stations: Vec<StationPiece> = (0..masks.len()).map(|i| StationPiece::new(i, masks.len(), 1.0)).collect();
    let mut sum = 0.0;
    for ((mask, raised), held) in masks.iter().zip(raised_deg).zip(&stations) {
        let Some(raised) = raised else { continue };
        let of_station = usable(weights).map(|(cell, weight)| {
            let (bin, row) = (cell / grid.rows(), cell % grid.rows());
            let hidden = rows.hidden(mask.solid_deg[bin].max(mask.terrain_deg[bin]), row);
            weight * (rows.hidden(raised[bin], row) - hidden).max(0.0)
        });
        sum += (held.to_m - held.from_m) * of_station.sum::<f64>() / total;
    }
    sum
}

/// Shares at one place, with what stands above it.
///
/// `None` where no satellite is expected anywhere.
pub(crate) fn shares_at(seen: &SeenThrough, mask: &Mask, above: &Plated) -> Option<Shares> {
    let SeenThrough { grid, odds, weights } = *seen;
    let total: f64 = usable(weights).map(|(_, w)| w).sum();
    if weights.len() != grid.cells() || mask.canopy.len() != grid.cells() || total <= 0.0 {
        return None;
    }
    let rows = RowSines::new(grid);
    let hidden = |by: &[f32], cell: usize| by.get(cell).map_or(0.0, |h| f64::from(*h));
    let mut sum = Shares::default();
    for (cell, weight) in usable(weights) {
        let (bin, row) = (cell / grid.rows(), cell % grid.rows());
        let horizons = (rows.hidden(mask.solid_deg[bin], row), rows.hidden(mask.terrain_deg[bin], row));
        let overhead = (hidden(&above.cover, cell), hidden(&above.deck, cell));
        sum.add(weight / total, overhead, horizons, odds.blocked(mask.canopy[cell]));
    }
    sum.open_min = sum.open;
    Some(sum)
}

impl Shares {
    /// Adds one cell that weighs `part` of the usable sky: what is overhead, horizons and canopy each hide of it.
    fn add(&mut self, part: f64, (cover, deck): (f64, f64), (solid, terrain): (f64, f64), canopy: f64) {
        let free = (1.0 - cover - deck).max(0.0);
        let horizon = solid.max(terrain);
        self.cover += part * cover;
        self.deck += part * deck;
        self.solid += part * free * solid;
        self.terrain += part * free * (horizon - solid);
        self.canopy += part * free * (1.0 - horizon) * canopy;
        self.open += part * free * (1.0 - horizon) * (1.0 - canopy);
    }
}

/// Cells with a weight above zero.
fn usable(weights: &[f32]) -> impl Iterator<Item = (usize, f64)> {
    weights.iter().enumerate().map(|(i, w)| (i, f64::from(*w))).filter(|(_, w)| *w > 0.0 && w.is_finite())
}

fn mean(by_station: &[Shares], stations: &[StationPiece], length_m: f64) -> Shares {
    let mut all = Shares { open_min: f64::INFINITY, ..Shares::default() };
    for (s, held) in by_station.iter().zip(stations) {
        let part = (held.to_m - held.from_m) / length_m;
        all.open += part * s.open;
        all.cover += part * s.cover;
        all.deck += part * s.deck;
        all.solid += part * s.solid;
        all.terrain += part * s.terrain;
        all.canopy += part * s.canopy;
        all.open_min = all.open_min.min(s.open);
    }
    all
}

/// The piece of the lane one station stands for, metres.
struct StationPiece {
    from_m: f64,
    to_m: f64,
}

impl StationPiece {
    fn new(station: usize, stations: usize, length_m: f64) -> Self {
        if stations < 2 {
            return Self { from_m: 0.0, to_m: length_m };
        }
        let spacing_m = length_m / (stations - 1) as f64;
        let middle_m = station as f64 * spacing_m;
        Self { from_m: (middle_m - spacing_m / 2.0).max(0.0), to_m: (middle_m + spacing_m / 2.0).min(length_m) }
    }
}

/// Sines of the edges of the rows, so that a horizon hides by solid angle.
struct RowSines(Vec<(f64, f64)>);

impl RowSines {
    fn new(grid: SkyGrid) -> Self {
        let sines = |row| {
            let (low, high) = grid.row_edges_deg(row);
            (low.to_radians().sin(), high.to_radians().sin())
        };
        Self((0..grid.rows()).map(sines).collect())
    }
    /// Share of a row's solid angle below a horizon.
    fn hidden(&self, horizon_deg: f32, row: usize) -> f64 {
        self.below(sine(horizon_deg), row)
    }
    /// The same of a horizon given by its sine.
    fn below(&self, horizon_sine: f64, row: usize) -> f64 {
        let (low, high) = self.0[row];
        ((horizon_sine - low) / (high - low)).clamp(0.0, 1.0)
    }
}

/// Sine of a horizon; where nothing rises it is below every row.
fn sine(horizon_deg: f32) -> f64 {
    if horizon_deg <= -90.0 { f64::NEG_INFINITY } else { f64::from(horizon_deg).min(90.0).to_radians().sin() }
}

/// Sines of the horizons of a mask: a row asks for each of them again.
struct HorizonSines {
    solid: [f64; AZIMUTH_BINS],
    terrain: [f64; AZIMUTH_BINS],
}

impl HorizonSines {
    fn of(mask: &Mask) -> Self {
        Self { solid: mask.solid_deg.map(sine), terrain: mask.terrain_deg.map(sine) }
    }
}

/// Shadowed intervals of the lane for one direction, merged.
#[derive(Default)]
struct Shadows {
    cover: Vec<(f64, f64)>,
    any: Vec<(f64, f64)>,
}

impl Shadows {
    fn find(&mut self, overheads: &[Overhead], azimuth_deg: f64, elevation_deg: f64) {
        self.cover.clear();
        self.any.clear();
        for overhead in overheads {
            let Some((from_m, to_m)) = overhead.shadow(azimuth_deg, elevation_deg) else {
                continue;
            };
            if from_m < to_m {
                self.any.push((from_m, to_m));
                if overhead.kind.is_cover() {
                    self.cover.push((from_m, to_m));
                }
            }
        }
        merge(&mut self.any);
        merge(&mut self.cover);
    }
    /// Shares of a piece of the lane shadowed by covers, and by decks outside covers.
    fn shares_of(&self, held: &StationPiece) -> (f64, f64) {
        let cover = overlap(&self.cover, held);
        (cover, (overlap(&self.any, held) - cover).max(0.0))
    }
}

/// Joins intervals that touch, in place.
fn merge(intervals: &mut Vec<(f64, f64)>) {
    intervals.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut kept = 0;
    for i in 0..intervals.len() {
        let next = intervals[i];
        if kept > 0 && next.0 <= intervals[kept - 1].1 {
            intervals[kept - 1].1 = intervals[kept - 1].1.max(next.1);
        } else {
            intervals[kept] = next;
            kept += 1;
        }
    }
    intervals.truncate(kept);
}

/// Share of a piece of the lane inside merged intervals.
fn overlap(intervals: &[(f64, f64)], held: &StationPiece) -> f64 {
    let inside_m: f64 =
        intervals.iter().map(|(from_m, to_m)| (to_m.min(held.to_m) - from_m.max(held.from_m)).max(0.0)).sum();
    let length_m = held.to_m - held.from_m;
    if length_m > 0.0 { (inside_m / length_m).min(1.0) } else { 0.0 }
}

/// Share of the cone's solid angle above the floor that a horizon hides, uniformly weighted: the plain
/// geometric figure, `(1/2 pi) integral of max(0, sin h - sin e0) / (1 - sin e0)`.
pub fn hidden_share(grid: SkyGrid, horizon_deg: &[f32; AZIMUTH_BINS]) -> f64 {
    let floor = grid.floor_deg.to_radians().sin();
    let over = |h: &f32| (f64::from(*h).clamp(-90.0, 90.0).to_radians().sin() - floor).max(0.0);
    horizon_deg.iter().map(over).sum::<f64>() / AZIMUTH_BINS as f64 / (1.0 - floor)
}
