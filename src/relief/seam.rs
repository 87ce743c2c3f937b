//! Where one source ends and the next goes on: their offset is faded out, so that no wall stands at the seam.
//!
//! Two sources differ by datum, by date and by error. The offset between a source and the better ones is estimated
//! where both have heights, block by block, and added to the source beside the seam. Away from the seam it fades along a
//! slope too gentle to matter, so a larger offset fades over a longer way. A cliff stands in both sources at its place and
//! is not an offset: medians and trimmed fits over more than a kilometre pass over what few pixels say.
//!
//! The shift is a function of the place in the source's own pixels and of nothing else, whatever window is read.
use std::cell::RefCell;
use std::collections::HashMap;
use std::rc::Rc;

use super::kind::ElevationKind;
use super::plane_fit::{Sample, level_of, offset_at_centre};
use super::source::{OpenSource, Pixels};
use crate::base::error::Result;

/// Side of a block, metres, and the least number of pixels of it.
const BLOCK_M: f64 = 1000.0;
const LEAST_BLOCK_PIXELS: f64 = 8.0;
/// Samples per side of a block.
const SAMPLES: usize = 8;
/// Fewer samples than this around a block tell no offset.
const LEAST_SAMPLES: usize = 4;
/// Larger offsets do not come from a datum (heights above the ellipsoid and above the sea differ by some 106 m at most: the geoid
/// EGM2008 of the NGA, the figure from memory); they are not faded but stop a build.
pub(super) const MOST_OFFSET_M: f64 = 120.0;
/// Pixels per side of the read a block's samples are taken from.
const MOST_READ: f64 = 128.0;
/// Blocks kept before they are made anew.
const MOST_KEPT: usize = 50_000;
/// Between a surface and bare earth the offset is what open land shows: this share of samples lies below it.
const OPEN_LAND: f64 = 0.1;

/// A block of pixels by its number along and down.
type BlockNumber = (i64, i64);

/// Offsets of one source from the better ones, found when asked for.
#[derive(Default)]
pub(super) struct Seam {
    samples: RefCell<HashMap<BlockNumber, Rc<Vec<Sample>>>>,
    offsets: RefCell<HashMap<BlockNumber, Option<f64>>>,
    shifts: RefCell<HashMap<BlockNumber, f64>>,
}

/// All sources of a thread with their seams, best first.
pub(super) struct Seams<'a> {
    pub sources: &'a [OpenSource],
    pub seams: &'a [Seam],
    /// The shift fades by at most this, rise over run.
    pub slope: f64,
}

impl Seams<'_> {
    /// Side of a block in pixels of a source.
    fn block_pixels(&self, source: usize) -> f64 {
        (BLOCK_M / self.sources[source].mosaic.first.rough_pixel_m).round().max(LEAST_BLOCK_PIXELS)
    }
    /// How far from a seam heights may be shifted, metres.
    pub fn reach_m(&self) -> f64 {
        MOST_OFFSET_M / self.slope + 2.0 * BLOCK_M
    }
    /// What is added to the heights of a source at a place in its pixels, metres.
    pub fn shift_m(&self, source: usize, (column, row): (f64, f64)) -> Result<f64> {
        if source == 0 {
            return Ok(0.0);
        }
        let side = self.block_pixels(source);
        let at = |v: f64| (v + 0.5) / side - 0.5;
        let (x, y) = (at(column), at(row));
        let (i, j) = (x.floor(), y.floor());
        let (u, v) = (x - i, y - j);
        let node = |di: i64, dj: i64| self.node_m(source, (i as i64 + di, j as i64 + dj));
        let north = (1.0 - u) * node(0, 0)? + u * node(1, 0)?;
        let south = (1.0 - u) * node(0, 1)? + u * node(1, 1)?;
        Ok((1.0 - v) * north + v * south)
    }
    /// The shift in the middle of a block: its offset where one is known, else the offsets around it, faded.
    fn node_m(&self, source: usize, block: BlockNumber) -> Result<f64> {
        if let Some(found) = self.seams[source].shifts.borrow().get(&block) {
            return Ok(*found);
        }
        let shift_m = match self.offset_m(source, block)? {
            Some(offset_m) => offset_m,
            None => self.faded_m(source, block)?,
        };
        keep(&self.seams[source].shifts, block, shift_m);
        Ok(shift_m)
    }
    fn faded_m(&self, source: usize, block: BlockNumber) -> Result<f64> {
        let block_m = self.block_pixels(source) * self.sources[source].mosaic.first.rough_pixel_m;
        let reach = (MOST_OFFSET_M / self.slope / block_m).ceil() as i64;
        let (mut above, mut below) = (0.0_f64, 0.0_f64);
        for dj in -reach..=reach {
            for di in -reach..=reach {
                if let Some(offset_m) = self.offset_m(source, (block.0 + di, block.1 + dj))? {
                    let fade_m = self.slope * block_m * (di as f64).hypot(dj as f64);
                    above = above.max(offset_m - fade_m);
                    below = below.min(offset_m + fade_m);
                }
            }
        }
        Ok(above + below)
    }
    /// Offset of the better sources in the middle of a block, from samples in it and in its neighbours.
    fn offset_m(&self, source: usize, block: BlockNumber) -> Result<Option<f64>> {
        if let Some(found) = self.seams[source].offsets.borrow().get(&block) {
            return Ok(*found);
        }
        let mut pooled = Vec::new();
        for (dj, di) in (-1..=1).flat_map(|dj| (-1..=1).map(move |di| (dj, di))) {
            for sample in self.samples(source, (block.0 + di, block.1 + dj))?.iter() {
                pooled.push(Sample { x: sample.x + di as f64, y: sample.y + dj as f64, ..*sample });
            }
        }
        let offset_m = self.of_samples(source, pooled).filter(|m| m.abs() <= MOST_OFFSET_M);
        keep(&self.seams[source].offsets, block, offset_m);
        Ok(offset_m)
    }
    fn of_samples(&self, source: usize, mut pooled: Vec<Sample>) -> Option<f64> {
        if pooled.len() < LEAST_SAMPLES {
            return None;
        }
        let own = self.sources[source].kind == ElevationKind::Surface;
        // Where kinds differ what stands on the land is in one source alone.
        let share = |s: &Sample| match (s.surface, own) {
            (true, false) => Some(OPEN_LAND),
            (false, true) => Some(1.0 - OPEN_LAND),
            _ => None,
        };
        match share(&pooled[0]) {
            Some(share) => Some(level_of(&mut pooled, share)),
            None => {
                let block_m = self.block_pixels(source) * self.sources[source].mosaic.first.rough_pixel_m;
                Some(offset_at_centre(&mut pooled, self.slope * block_m))
            }
        }
    }
    /// Differences to the best of the better sources at places spread over a block.
    fn samples(&self, source: usize, block: BlockNumber) -> Result<Rc<Vec<Sample>>> {
        if let Some(found) = self.seams[source].samples.borrow().get(&block) {
            return Ok(Rc::clone(found));
        }
        let found = Rc::new(self.compared(source, block)?);
        keep(&self.seams[source].samples, block, Rc::clone(&found));
        Ok(found)
    }
    fn compared(&self, source: usize, block: BlockNumber) -> Result<Vec<Sample>> {
        let (open, side) = (&self.sources[source], self.block_pixels(source));
        let first = (block.0 as f64 * side, block.1 as f64 * side);
        let (columns, rows) = (open.mosaic.columns as f64, open.mosaic.rows as f64);
        let step = side / SAMPLES as f64;
        let at = |i: usize, from: f64| (from + (i as f64 + 0.5) * step - 0.5).round();
        let places: Vec<(f64, f64)> = (0..SAMPLES * SAMPLES)
            .map(|i| (at(i % SAMPLES, first.0), at(i / SAMPLES, first.1)))
            .filter(|(c, r)| *c >= 0.0 && *r >= 0.0 && *c < columns && *r < rows)
            .collect();
        let Some(lon_lat) = (!places.is_empty()).then(|| open.to_lon_lat(&places)).flatten() else {
            return Ok(Vec::new());
        };
        let mut better: Vec<Option<(f64, bool)>> = vec![None; places.len()];
        for (k, other) in self.sources[..source].iter().enumerate() {
            let Some(in_other) = other.to_pixels(&lon_lat, 0.0) else { continue };
            let heights = averaged_at(other, &in_other)?;
            for ((slot, z), place) in better.iter_mut().zip(heights).zip(in_other) {
                if let (None, Some(z)) = (&slot, z) {
                    let shift_m = self.shift_m(k, place)?;
                    *slot = Some((f64::from(z) + shift_m, other.kind == ElevationKind::Surface));
                }
            }
        }
        if better.iter().all(Option::is_none) {
            return Ok(Vec::new());
        }
        let own = averaged_at(open, &places)?;
        let off = |v: f64, from: f64| (v + 0.5 - from) / side - 0.5;
        let mut samples = Vec::new();
        for ((place, better), own_m) in places.iter().zip(better).zip(own) {
            if let (Some((better_m, surface)), Some(own_m)) = (better, own_m) {
                let (x, y) = (off(place.0, first.0), off(place.1, first.1));
                samples.push(Sample { x, y, z_m: better_m - f64::from(own_m), surface });
            }
        }
        Ok(samples)
    }
}

/// Heights of a source at places in its pixels, read at once and averaged down where they lie far apart.
fn averaged_at(source: &OpenSource, places: &[(f64, f64)]) -> Result<Vec<Option<f32>>> {
    let span = |values: &mut dyn Iterator<Item = f64>, size: usize| {
        let (low, high) = values.fold((f64::MAX, f64::MIN), |(l, h), v| (l.min(v), h.max(v)));
        let (first, last) = (low.round().max(0.0), high.round().min((size - 1) as f64));
        // A raster has two pixels a side at least.
        (last >= first).then(|| ((first as usize).min(size - 2), (last - first) as usize + 1))
    };
    let none = || Ok(vec![None; places.len()]);
    let Some((column, columns)) = span(&mut places.iter().map(|p| p.0), source.mosaic.columns) else { return none() };
    let Some((row, rows)) = span(&mut places.iter().map(|p| p.1), source.mosaic.rows) else { return none() };
    let pixels = Pixels { column, row, columns: columns.max(2), rows: rows.max(2) };
    let factor = (pixels.columns.max(pixels.rows) as f64 / MOST_READ).max(1.0);
    let (size, values_m) = source.values_m(pixels, factor)?;
    let height = |(c, r): &(f64, f64)| {
        let of = |v: f64, first: usize, native: usize, read: usize| {
            let at = ((v + 0.5 - first as f64) * read as f64 / native as f64).floor();
            (at >= 0.0 && at < read as f64).then_some(at as usize)
        };
        let (c, r) = (of(*c, column, pixels.columns, size.0)?, of(*r, row, pixels.rows, size.1)?);
        Some(values_m[r * size.0 + c]).filter(|z| !z.is_nan())
    };
    Ok(places.iter().map(height).collect())
}

/// Keeps what was found; all of it is made anew where there is too much.
fn keep<T>(kept: &RefCell<HashMap<BlockNumber, T>>, block: BlockNumber, value: T) {
    let mut kept = kept.borrow_mut();
    if kept.len() >= MOST_KEPT {
        kept.clear();
    }
    kept.insert(block, value);
}
