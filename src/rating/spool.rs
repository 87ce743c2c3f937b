//! Packed masks on disk between the sky and the link stage, so that memory does not grow with the region.
use std::fs::File;
use std::io::Write;
use std::os::unix::fs::FileExt;

use crate::base::error::{Error, Result};
use crate::base::input::reason;

/// Where one blob lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(crate) struct Slot {
    offset: u64,
    bytes: u32,
}

/// An unnamed temporary file that blobs are appended to and read back from.
#[derive(Debug)]
pub(crate) struct Spool {
    file: File,
    end: u64,
}

fn failed(e: std::io::Error) -> Error {
    let where_to = "free some space in the temporary folder or point TMPDIR elsewhere";
    Error::failed(format!("temporary file in {}", std::env::temp_dir().display()), reason(&e), where_to)
}

impl Spool {
    /// An empty spool in the temporary folder; the system removes it when the run ends, however it ends.
    ///
    /// # Errors
    /// The temporary folder cannot be written.
    pub fn new() -> Result<Self> {
        Ok(Self { file: tempfile::tempfile().map_err(failed)?, end: 0 })
    }
    /// Appends a blob.
    ///
    /// # Errors
    /// The disk is full or fails.
    pub fn push(&mut self, blob: &[u8]) -> Result<Slot> {
        self.file.write_all(blob).map_err(failed)?;
        let slot = Slot { offset: self.end, bytes: blob.len() as u32 };
        self.end += blob.len() as u64;
        Ok(slot)
    }
    /// Reads a blob back; any thread may.
    ///
    /// # Errors
    /// The disk fails.
    pub fn get(&self, slot: Slot) -> Result<Vec<u8>> {
        let mut blob = vec![0; slot.bytes as usize];
        self.file.read_exact_at(&mut blob, slot.offset).map_err(failed)?;
        Ok(blob)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn blobs_come_back_in_any_order() {
        let mut spool = Spool::new().unwrap();
        let slots: Vec<Slot> = (0u8..50).map(|i| spool.push(&vec![i; usize::from(i)]).unwrap()).collect();
        for i in [49u8, 0, 7, 7, 30] {
            assert_eq!(spool.get(slots[usize::from(i)]).unwrap(), vec![i; usize::from(i)]);
        }
    }
}
