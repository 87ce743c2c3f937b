//! Files of chunks: a magic, the version of the format, chunks of records of one kind each, and the SHA-256 of all of it. What is
//! in one depends on its records alone.
use std::fs::File;
use std::io::{self, BufReader, Read, Write};
use std::path::Path;

use sha2::{Digest, Sha256};

use crate::base::error::{Error, Result};
use crate::base::files::{cannot_write, stream_part};
use crate::base::hex::hexadecimal;

/// A chunk ends with the record that makes it this long, bytes.
const CHUNK_BYTES: usize = 1 << 20;
/// No chunk is longer, bytes: a feature has at most some million nodes.
const LONGEST_CHUNK: u32 = 1 << 30;
const SUM_BYTES: usize = 32;

/// What files of one format begin with, and what they are called.
pub(super) struct ChunkForm {
    /// What it begins with.
    pub magic: &'static [u8],
    /// Version of the format, and of what is kept of a record.
    pub version: u16,
    /// A word for one, such as `bundle`.
    pub word: &'static str,
    /// What it belongs to, such as `a district`.
    pub of: &'static str,
    /// Kinds of records, numbered from 0.
    pub kinds: u8,
}

/// Writes a file of the records that `fill` hands over; its sum, lower-case hexadecimal, and its bytes.
///
/// # Errors
/// The disk is full or fails, or the error of `fill`.
pub(super) fn write(
    path: &Path,
    form: &ChunkForm,
    fill: impl FnOnce(&mut ChunkSink) -> Result<()>,
) -> Result<(String, u64)> {
    let mut told = (String::new(), 0);
    stream_part(path, |out| {
        let mut sink = ChunkSink { path, out, hash: Sha256::new(), bytes: 0, chunk: Vec::new(), kind: 0 };
        sink.raw(form.magic)?;
        sink.raw(&form.version.to_le_bytes())?;
        fill(&mut sink)?;
        told = sink.finish()?;
        Ok(())
    })?;
    Ok(told)
}

/// Takes records, and sums up what it writes.
pub(super) struct ChunkSink<'a> {
    path: &'a Path,
    out: &'a mut dyn Write,
    hash: Sha256,
    bytes: u64,
    chunk: Vec<u8>,
    kind: u8,
}

impl ChunkSink<'_> {
    /// Adds a record; records of one kind follow each other.
    ///
    /// # Errors
    /// The disk is full or fails.
    pub fn put(&mut self, kind: u8, record: &[u8]) -> Result<()> {
        if kind != self.kind {
            self.end_chunk()?;
            self.kind = kind;
        }
        self.chunk.extend_from_slice(record);
        if self.chunk.len() >= CHUNK_BYTES { self.end_chunk() } else { Ok(()) }
    }
    fn end_chunk(&mut self) -> Result<()> {
        if self.chunk.is_empty() {
            return Ok(());
        }
        let chunk = std::mem::take(&mut self.chunk);
        let length = u32::try_from(chunk.len()).ok().filter(|length| *length <= LONGEST_CHUNK);
        let too_long = || cannot_write(self.path, &io::Error::other("a feature is longer than a gigabyte"));
        let length = length.ok_or_else(too_long)?;
        self.raw(&length.to_le_bytes())?;
        self.raw(&[self.kind])?;
        self.raw(&chunk)
    }
    fn raw(&mut self, bytes: &[u8]) -> Result<()> {
        self.hash.update(bytes);
        self.bytes += bytes.len() as u64;
        self.out.write_all(bytes).map_err(|e| cannot_write(self.path, &e))
    }
    fn finish(mut self) -> Result<(String, u64)> {
        self.end_chunk()?;
        self.raw(&0_u32.to_le_bytes())?;
        let sum = self.hash.clone().finalize();
        self.raw(&sum)?;
        Ok((hexadecimal(&sum), self.bytes))
    }
}

/// Hands out the chunks of a file one after another, with their kind, if its sum is the wanted one. Nothing of it is looked at
/// before its sum is found to be right.
///
/// # Errors
/// The file cannot be read, is damaged, cut off, of another version, or another one; or the error of `take`.
pub(super) fn read(
    path: &Path,
    form: &ChunkForm,
    wanted: impl Fn(&str) -> bool,
    take: impl FnMut(u8, &[u8]) -> Result<()>,
) -> Result<()> {
    let open = || File::open(path).map_err(|e| unreadable(path, &e));
    let sum = walk(path, form, &mut BufReader::new(open()?), |_, _| Ok(()))?;
    if !wanted(&hexadecimal(&sum)) {
        return Err(damaged(path, &format!("is not the {} that was planned", form.word)));
    }
    walk(path, form, &mut BufReader::new(open()?), take).map(drop)
}

fn unreadable(path: &Path, e: &io::Error) -> Error {
    match e.kind() {
        io::ErrorKind::UnexpectedEof => damaged(path, "is cut off"),
        _ => Error::io(path, "cannot be read", e, "check that it is there and that you may read it"),
    }
}

/// The error of a file that is not what was written.
pub(super) fn damaged(path: &Path, fact: &str) -> Error {
    Error::file(path, fact, "make it again from the extract: plan again with `waymask shards`, or build again")
}

/// Goes through the chunks and checks the sum behind them; that sum.
fn walk(
    path: &Path,
    form: &ChunkForm,
    from: &mut impl Read,
    mut see: impl FnMut(u8, &[u8]) -> Result<()>,
) -> Result<Vec<u8>> {
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
    if next(form.magic.len())?.0 != form.magic {
        return Err(damaged(path, &format!("is not the {} of {}", form.word, form.of)));
    }
    if next(2)?.0 != form.version.to_le_bytes() {
        return Err(damaged(path, &format!("is a {} of another version of this program", form.word)));
    }
    loop {
        let length = next(4)?.0.try_into().map_or(0, u32::from_le_bytes);
        if length == 0 {
            break;
        }
        let kind = next(1)?.0.first().copied().filter(|kind| *kind < form.kinds && length <= LONGEST_CHUNK);
        let Some(kind) = kind else { return Err(damaged(path, "is damaged")) };
        see(kind, &next(length as usize)?.0)?;
    }
    let (sum, all) = next(SUM_BYTES)?;
    if *sum != *all.finalize() {
        return Err(damaged(path, "is damaged: its sum is not that of what it holds"));
    }
    let behind = from.read(&mut [0]).map_err(|e| unreadable(path, &e))?;
    if behind > 0 { Err(damaged(path, "is damaged: something follows its end")) } else { Ok(sum) }
}
