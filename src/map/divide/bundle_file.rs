//! The file of one district's bundle. What is in it depends on the features alone, not on how the extract held them.
use std::path::Path;

use serde::Deserialize;

use super::chunk_file::{self, ChunkForm, damaged};
use super::sheet::{BundleKind, Sheet};
use crate::base::error::Result;
use crate::base::spill::Records;
use crate::map::extract::model::Extract;

/// The format, and the version of what is kept of a feature.
const BUNDLE: ChunkForm = ChunkForm {
    magic: b"waymask bundle",
    version: 1,
    word: "bundle",
    of: "a district",
    kinds: BundleKind::ALL.len() as u8,
};

/// Writes a bundle of sheets in order; its sum, lower-case hexadecimal, and its bytes.
///
/// # Errors
/// The disk is full or fails.
pub(super) fn write(path: &Path, sheets: &[Sheet]) -> Result<(String, u64)> {
    chunk_file::write(path, &BUNDLE, |sink| sheets.iter().try_for_each(|sheet| sink.put(sheet.kind as u8, sheet.body)))
}

/// Reads the bundle of a district. Nothing of it is looked at before its sum is found to be right.
///
/// # Errors
/// The file cannot be read, is damaged, cut off or of another version.
pub fn read_bundle(path: &Path) -> Result<Extract> {
    read_if(path, |_| true)
}

/// Reads a bundle that must be the one of a plan, by its sum.
///
/// # Errors
/// As of [`read_bundle`]; or it is another one.
pub fn read_planned_bundle(path: &Path, sha256: &str) -> Result<Extract> {
    read_if(path, |sum| sum == sha256)
}

fn read_if(path: &Path, wanted: impl Fn(&str) -> bool) -> Result<Extract> {
    let mut extract = Extract::default();
    chunk_file::read(path, &BUNDLE, wanted, |kind, chunk| {
        let Some(kind) = BundleKind::ALL.get(usize::from(kind)) else { return Ok(()) };
        take(&mut extract, *kind, chunk).map_err(|_| damaged(path, "is damaged: a feature in it cannot be read"))
    })?;
    Ok(extract)
}

fn take(extract: &mut Extract, kind: BundleKind, chunk: &[u8]) -> Result<()> {
    fn all<'b, T: Deserialize<'b>>(into: &mut Vec<T>, chunk: &'b [u8]) -> Result<()> {
        Records::of(chunk).try_for_each(|record| {
            into.push(record?);
            Ok(())
        })
    }
    match kind {
        BundleKind::Road => all(&mut extract.roads, chunk),
        BundleKind::Canopy => all(&mut extract.canopy, chunk),
        BundleKind::Building => all(&mut extract.buildings, chunk),
        BundleKind::Barrier => all(&mut extract.barriers, chunk),
        BundleKind::Deck => all(&mut extract.decks, chunk),
        BundleKind::Stop => all(&mut extract.stops, chunk),
        BundleKind::Barred => all(&mut extract.barred, chunk),
        BundleKind::GroundCover => all(&mut extract.covers, chunk),
        BundleKind::TollBooth => all(&mut extract.toll_booths, chunk),
    }
}
