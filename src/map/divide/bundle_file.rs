//! The file of one district's bundle: a magic, the version of the format, chunks of features of one kind each, and the SHA-256
//! of all of it. What is in it depends on the features alone, not on how the extract held them.
use std::fs::File;
use std::io::{self, BufReader, Read, Write};
use std::path::Path;

use serde::Deserialize;
use sha2::{Digest, Sha256};

use super::sheet::{BundleKind, Sheet};
use crate::base::error::{Error, Result};
use crate::base::files::{cannot_write, stream_part};
use crate::base::spill::Records;
use crate::map::extract::model::Extract;

/// What a bundle begins with.
const MAGIC: &[u8; 14] = b"waymask bundle";
/// Version of the format, and of what is kept of a feature.
const VERSION: u16 = 1;
/// A chunk ends with the feature that makes it this long, bytes.
const CHUNK_BYTES: usize = 1 << 20;
/// No chunk is longer, bytes: a feature has at most some million nodes.
const LONGEST_CHUNK: u32 = 1 << 30;
const SUM_BYTES: usize = 32;

/// Writes a bundle of sheets in order; its sum, lower-case hexadecimal, and its bytes.
///
/// # Errors
/// The disk is full or fails.
pub(super) fn write(path: &Path, sheets: &[Sheet]) -> Result<(String, u64)> {
    let mut told = (String::new(), 0);
    stream_part(path, |out| {
        let mut sink = Summed { out, hash: Sha256::new(), bytes: 0 };
        told = fill(&mut sink, sheets).map_err(|e| cannot_write(path, &e))?;
        Ok(())
    })?;
    Ok(told)
}

/// Sums up what it writes.
struct Summed<'a> {
    out: &'a mut dyn Write,
    hash: Sha256,
    bytes: u64,
}

impl Summed<'_> {
    fn put(&mut self, bytes: &[u8]) -> io::Result<()> {
        self.hash.update(bytes);
        self.bytes += bytes.len() as u64;
        self.out.write_all(bytes)
    }
}

fn fill(sink: &mut Summed, sheets: &[Sheet]) -> io::Result<(String, u64)> {
    sink.put(MAGIC)?;
    sink.put(&VERSION.to_le_bytes())?;
    for kind in sheets.chunk_by(|a, b| a.kind == b.kind) {
        let mut chunk = Vec::new();
        for sheet in kind {
            chunk.extend_from_slice(sheet.body);
            if chunk.len() >= CHUNK_BYTES {
                put_chunk(sink, sheet.kind, &std::mem::take(&mut chunk))?;
            }
        }
        if let Some(first) = kind.first().filter(|_| !chunk.is_empty()) {
            put_chunk(sink, first.kind, &chunk)?;
        }
    }
    sink.put(&0_u32.to_le_bytes())?;
    let sum = sink.hash.clone().finalize();
    sink.put(&sum)?;
    Ok((hexadecimal(&sum), sink.bytes))
}

fn hexadecimal(sum: &[u8]) -> String {
    sum.iter().map(|b| format!("{b:02x}")).collect()
}

fn put_chunk(sink: &mut Summed, kind: BundleKind, chunk: &[u8]) -> io::Result<()> {
    let length = u32::try_from(chunk.len()).ok().filter(|length| *length <= LONGEST_CHUNK);
    let length = length.ok_or_else(|| io::Error::other("a feature is longer than a gigabyte"))?;
    sink.put(&length.to_le_bytes())?;
    sink.put(&[kind as u8])?;
    sink.put(chunk)
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
    let open = || File::open(path).map_err(|e| unreadable(path, &e));
    let sum = walk(path, &mut BufReader::new(open()?), |_, _| Ok(()))?;
    if !wanted(&hexadecimal(&sum)) {
        return Err(damaged(path, "is not the bundle that was planned"));
    }
    let mut extract = Extract::default();
    walk(path, &mut BufReader::new(open()?), |kind, chunk| {
        take(&mut extract, kind, chunk).map_err(|_| damaged(path, "is damaged: a feature in it cannot be read"))
    })?;
    Ok(extract)
}

fn unreadable(path: &Path, e: &io::Error) -> Error {
    match e.kind() {
        io::ErrorKind::UnexpectedEof => damaged(path, "is cut off"),
        _ => Error::io(path, "cannot be read", e, "check that it is there and that you may read it"),
    }
}

fn damaged(path: &Path, fact: &str) -> Error {
    Error::file(path, fact, "make it again from the extract: plan again with `waymask shards`, or build again")
}

/// Goes through the chunks and checks the sum behind them; that sum.
fn walk(path: &Path, from: &mut impl Read, mut see: impl FnMut(BundleKind, &[u8]) -> Result<()>) -> Result<Vec<u8>> {
    let mut hash = Sha256::new();
    let mut next = |length: usize| -> Result<(Vec<u8>, Sha256)> {
        let mut bytes = Vec::new();
        let read = from.by_ref().take(length as u64).read_to_end(&mut bytes).map_err(|e| unreadable(path, &e))?;
        if read < length {
            return Err(damaged(path, "is cut off"));
        }
        let before = hash.clone();
        hash.update(&bytes);
        Ok((bytes, before))
    };
    if next(MAGIC.len())?.0 != MAGIC {
        return Err(damaged(path, "is not the bundle of a district"));
    }
    if next(2)?.0 != VERSION.to_le_bytes() {
        return Err(damaged(path, "is a bundle of another version of this program"));
    }
    loop {
        let length = next(4)?.0.try_into().map_or(0, u32::from_le_bytes);
        if length == 0 {
            break;
        }
        let kind = next(1)?.0.first().and_then(|kind| BundleKind::ALL.get(usize::from(*kind)).copied());
        let Some(kind) = kind.filter(|_| length <= LONGEST_CHUNK) else { return Err(damaged(path, "is damaged")) };
        see(kind, &next(length as usize)?.0)?;
    }
    let (sum, all) = next(SUM_BYTES)?;
    if *sum != *all.finalize() {
        return Err(damaged(path, "is damaged: its sum is not that of what it holds"));
    }
    let behind = from.read(&mut [0]).map_err(|e| unreadable(path, &e))?;
    if behind > 0 { Err(damaged(path, "is damaged: something follows its end")) } else { Ok(sum) }
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
