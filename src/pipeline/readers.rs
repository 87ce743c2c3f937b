//! Open elevation handles: one set per worker, since GDAL's must not be shared between threads.
use std::cell::RefCell;
use std::rc::Rc;
use std::sync::atomic::{AtomicU64, Ordering};

use crate::error::Result;
use crate::geodesy::LocalPlane;
use crate::terrain::grid::Elevation;
use crate::terrain::{Reader, Sources};

thread_local! {
    /// Handles of this worker and the run they belong to. Opening may mean unpacking an archive, so
    /// they are kept from cell to cell; they go with the worker.
    static OPEN: RefCell<Option<(u64, Rc<Reader>)>> = const { RefCell::new(None) };
}
static RUNS: AtomicU64 = AtomicU64::new(0);

/// Elevation as workers read it.
pub struct Readers<'a> {
    sources: &'a Sources,
    run: u64,
}

impl<'a> Readers<'a> {
    /// No handle open yet.
    pub fn new(sources: &'a Sources) -> Self {
        Self { sources, run: RUNS.fetch_add(1, Ordering::Relaxed) }
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
        OPEN.with_borrow_mut(|open| match open {
            Some((run, reader)) if *run == self.run => Ok(Rc::clone(reader)),
            _ => {
                let reader = Rc::new(self.sources.reader()?);
                *open = Some((self.run, Rc::clone(&reader)));
                Ok(reader)
            }
        })
    }
    /// Elevation around a plane's origin; empty without sources.
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
