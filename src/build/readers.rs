//! Open raster handles: one set per worker, since GDAL's must not be shared between threads.
use std::cell::RefCell;
use std::rc::Rc;
use std::sync::atomic::{AtomicU64, Ordering};

use crate::base::error::Result;
use crate::base::geodesy::LocalPlane;
use crate::base::window::Elevation;
use crate::relief::{ElevationKind, Reader, Sources};

thread_local! {
    /// Handles of this worker and the sources they belong to. Opening may mean unpacking an archive, so
    /// they are kept from cell to cell; they go with the worker.
    static OPEN: RefCell<Vec<(u64, Rc<Reader>)>> = const { RefCell::new(Vec::new()) };
}
static NEXT: AtomicU64 = AtomicU64::new(0);
/// Handles of more sources than a run has are left over from an earlier run.
const MOST_OPEN: usize = 3;

/// Rasters of one kind as workers read them.
pub(crate) struct Readers<'a> {
    sources: &'a Sources,
    number: u64,
}

/// All rasters of a run.
pub struct Rasters<'a> {
    /// Elevation: bare earth, or a surface where nothing else is known.
    pub elevation: Readers<'a>,
    /// Canopy heights.
    pub canopy: Readers<'a>,
    /// A surface over bare earth.
    pub surface: Readers<'a>,
}

impl Rasters<'_> {
    /// Whether any elevation is that of a surface: trees and buildings are in it already.
    pub(crate) fn any_surface(&self) -> bool {
        self.elevation.sources.has(ElevationKind::Surface)
    }
}

impl<'a> Readers<'a> {
    /// No handle open yet.
    pub fn new(sources: &'a Sources) -> Self {
        Self { sources, number: NEXT.fetch_add(1, Ordering::Relaxed) }
    }
    /// Whether there is any elevation at all.
    pub fn is_empty(&self) -> bool {
        self.sources.is_empty()
    }
    /// The handles of the worker that asks.
    ///
    /// # Errors
    /// A raster cannot be opened any more.
    pub fn mine(&self) -> Result<Rc<Reader>> {
        OPEN.with_borrow_mut(|open| {
            if let Some((_, reader)) = open.iter().find(|(number, _)| *number == self.number) {
                return Ok(Rc::clone(reader));
            }
            let reader = Rc::new(self.sources.reader()?);
            if open.len() == MOST_OPEN {
                open.remove(0);
            }
            open.push((self.number, Rc::clone(&reader)));
            Ok(reader)
        })
    }
    /// The window around a plane's origin; empty without sources.
    ///
    /// # Errors
    /// A raster cannot be read.
    pub fn window(&self, plane: &LocalPlane, half_m: f64, halo_m: f64) -> Result<Elevation> {
        if self.is_empty() {
            return Ok(Elevation::default());
        }
        self.mine()?.window(plane, half_m, halo_m)
    }
}
