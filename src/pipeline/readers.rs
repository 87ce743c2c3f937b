//! Open elevation handles, lent to whichever worker needs one.
use std::sync::Mutex;

use crate::error::Result;
use crate::geodesy::LocalPlane;
use crate::terrain::grid::Elevation;
use crate::terrain::{Reader, Sources};

/// As many handles as workers ever needed at once: opening one may mean unpacking an archive.
pub struct Readers<'a> {
    sources: &'a Sources,
    idle: Mutex<Vec<Reader<'a>>>,
}

impl<'a> Readers<'a> {
    /// No handle open yet.
    pub fn new(sources: &'a Sources) -> Self {
        Self { sources, idle: Mutex::new(Vec::new()) }
    }
    /// Whether there is any elevation at all.
    pub fn is_empty(&self) -> bool {
        self.sources.is_empty()
    }
    /// Lends a handle to some work.
    pub fn with<T>(&self, work: impl FnOnce(&Reader<'a>) -> Result<T>) -> Result<T> {
        let idle = self.idle.lock().ok().and_then(|mut idle| idle.pop());
        let reader = match idle {
            Some(reader) => reader,
            None => self.sources.reader()?,
        };
        let out = work(&reader);
        if let Ok(mut idle) = self.idle.lock() {
            idle.push(reader);
        }
        out
    }
    /// Elevation around a plane's origin; empty without sources.
    pub fn window(&self, plane: &LocalPlane, half_m: f64, halo_m: f64) -> Result<Elevation> {
        if self.is_empty() {
            return Ok(Elevation::default());
        }
        self.with(|r| r.window(plane, half_m, halo_m))
    }
}
