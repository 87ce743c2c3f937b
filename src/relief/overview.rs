//! A source in pixels of about 250 m, each with the highest of what it covers: for mountains far away.
//!
//! It is made in chunks when asked for and kept by the thread, so every pixel of a source is read for it once however many
//! cells look at it. Averages would lower summits; from 12 km on a summit is at most half a pixel off its place.
use std::cell::RefCell;
use std::collections::HashMap;
use std::rc::Rc;

use super::source::{OpenSource, Pixels};
use crate::base::error::Result;

/// Side of a pixel, metres, roughly.
const PIXEL_M: f64 = 250.0;
/// Pixels per side of a chunk.
pub(super) const CHUNK: usize = 32;
/// A pixel covers at most this many by this many pixels read; finer sources are averaged down to that first.
const MOST_PER_SIDE: usize = 16;
/// Chunks kept before they are made anew: 4 kB each.
const MOST_KEPT: usize = 8192;

/// The highest ground of part of a source; NaN where nothing is known.
pub(super) struct Chunk {
    values_m: Vec<f32>,
    pub highest_m: Option<f32>,
}

/// What has been made of one source.
#[derive(Default)]
pub(super) struct Overview {
    chunks: RefCell<HashMap<(usize, usize), Rc<Chunk>>>,
}

impl Overview {
    /// Pixels of the source per pixel of its overview, along each side.
    pub fn factor(source: &OpenSource) -> usize {
        (PIXEL_M / source.mosaic.first.rough_pixel_m).round().max(1.0) as usize
    }
    /// A chunk by its number along and down.
    pub fn chunk(&self, source: &OpenSource, at: (usize, usize)) -> Result<Rc<Chunk>> {
        if let Some(found) = self.chunks.borrow().get(&at) {
            return Ok(Rc::clone(found));
        }
        let made = Rc::new(Chunk::read(source, at)?);
        let mut chunks = self.chunks.borrow_mut();
        if chunks.len() >= MOST_KEPT {
            chunks.clear();
        }
        chunks.insert(at, Rc::clone(&made));
        Ok(made)
    }
    /// The pixels of the overview that hold a rectangle of the source's, and their heights, row by row.
    pub fn values_m(&self, source: &OpenSource, native: Pixels) -> Result<(Pixels, Vec<f32>)> {
        let factor = Self::factor(source);
        let span = |from: usize, count: usize| (from / factor, (from + count - 1) / factor - from / factor + 1);
        let ((column, columns), (row, rows)) = (span(native.column, native.columns), span(native.row, native.rows));
        let mut out = vec![f32::NAN; columns * rows];
        for j in row / CHUNK..=(row + rows - 1) / CHUNK {
            for i in column / CHUNK..=(column + columns - 1) / CHUNK {
                let chunk = self.chunk(source, (i, j))?;
                for r in (j * CHUNK).max(row)..((j + 1) * CHUNK).min(row + rows) {
                    let (from, to) = ((i * CHUNK).max(column), ((i + 1) * CHUNK).min(column + columns));
                    let values = &chunk.values_m[(r - j * CHUNK) * CHUNK..][from - i * CHUNK..to - i * CHUNK];
                    out[(r - row) * columns + from - column..][..to - from].copy_from_slice(values);
                }
            }
        }
        Ok((Pixels { column, row, columns, rows }, out))
    }
}

impl Chunk {
    fn read(source: &OpenSource, (i, j): (usize, usize)) -> Result<Self> {
        let factor = Overview::factor(source);
        let side = CHUNK * factor;
        // The last chunk may begin at the last pixel, and two a side are read at least.
        let span = |n: usize, size: usize| {
            let from = (n * side).min(size - 2);
            (from, side.min(size - from))
        };
        let ((column, columns), (row, rows)) = (span(i, source.mosaic.columns), span(j, source.mosaic.rows));
        let averaged = (factor as f64 / MOST_PER_SIDE as f64).max(1.0);
        let (size, read_m) = source.values_m(Pixels { column, row, columns, rows }, averaged)?;
        let mut values_m = vec![f32::NAN; CHUNK * CHUNK];
        let place = |n: usize, native: usize, read: usize, from: usize, chunk: usize| {
            let at = from as f64 + (n as f64 + 0.5) * native as f64 / read as f64;
            ((at / factor as f64) as usize).saturating_sub(chunk * CHUNK).min(CHUNK - 1)
        };
        for (k, z) in read_m.iter().enumerate().filter(|(_, z)| !z.is_nan()) {
            let (c, r) = (place(k % size.0, columns, size.0, column, i), place(k / size.0, rows, size.1, row, j));
            let slot = &mut values_m[r * CHUNK + c];
            // The maximum of a number and NaN is the number.
            *slot = slot.max(*z);
        }
        let highest_m = values_m.iter().copied().filter(|z| !z.is_nan()).reduce(f32::max);
        Ok(Self { values_m, highest_m })
    }
}
