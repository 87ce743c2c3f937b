//! Outputs that this program writes byte by byte.
use std::fs::File;
use std::io::{self, BufWriter, Write};
use std::path::Path;

use super::replacement::{Replacement, cannot_write};
use crate::base::error::Result;

/// Writes a file whole or not at all; an existing one stays unless it may be replaced.
///
/// # Errors
/// The file exists, or its folder cannot be written to.
pub(crate) fn write(path: &Path, bytes: &[u8], overwrite: bool) -> Result<()> {
    stream(path, overwrite, |out| out.write_all(bytes).map_err(|e| cannot_write(path, &e)))
}

/// The same for what is made while it is written; nothing appears where `fill` fails.
///
/// # Errors
/// See [`write`], and those of `fill`.
pub(crate) fn stream(path: &Path, overwrite: bool, fill: impl FnOnce(&mut dyn Write) -> Result<()>) -> Result<()> {
    fill_and_publish(path, Replacement::begin(path, overwrite, "out")?, fill)
}

/// The same for a part of the work, which replaces what is there and of which an interrupt tells nothing.
///
/// # Errors
/// See [`stream`].
pub(crate) fn stream_part(path: &Path, fill: impl FnOnce(&mut dyn Write) -> Result<()>) -> Result<()> {
    fill_and_publish(path, Replacement::begin_part(path, "out")?, fill)
}

fn fill_and_publish(path: &Path, begun: Replacement, fill: impl FnOnce(&mut dyn Write) -> Result<()>) -> Result<()> {
    let failed = |e: &io::Error| cannot_write(path, e);
    let file = File::create_new(begun.temporary()).map_err(|e| failed(&e))?;
    let mut out = BufWriter::new(file);
    fill(&mut out)?;
    out.into_inner().map_err(|e| failed(e.error()))?;
    begun.publish(|_| Ok(()))
}
