//! Runs over the blocks of a file, decoded in parallel and taken in file order.
use std::fs::File;
use std::io::Read;
use std::path::Path;

use rayon::prelude::*;
use sha2::{Digest, Sha256};

use super::frames::{self, DataBlock};
use super::pbf::Damage;
use crate::base::error::{Error, Result};
use crate::base::hex::hexadecimal;
use crate::base::input::cannot_read;
use crate::base::progress::Progress;

/// Blocks in flight for each thread; enough to keep threads busy.
const BLOCKS_PER_THREAD: usize = 4;
/// Most bytes in flight, compressed; a block may have 32 MiB.
const BATCH_BYTES: u64 = 8 << 20;
/// Bytes hashed at a time.
const HASH_CHUNK_BYTES: usize = 1 << 20;

pub(crate) fn cannot_open(path: &Path, error: &std::io::Error) -> Error {
    cannot_read(path, error, "Check the path and that you may read it.")
}

/// Refuses what is not a file on disk before it is opened: opening a pipe would wait for its other end, and
/// an extract is read in several passes.
pub(crate) fn check_file(path: &Path) -> Result<()> {
    let metadata = std::fs::metadata(path).map_err(|e| cannot_open(path, &e))?;
    if metadata.is_dir() {
        return Err(Error::file(path, "is a folder", "Give the .osm.pbf file itself."));
    }
    if !metadata.is_file() {
        let next = "Save the extract to a file first; it is read in several passes.";
        return Err(Error::file(path, "is a pipe or device, not a file", next));
    }
    Ok(())
}

/// SHA-256 of a file, lower-case hexadecimal, and its length in bytes.
pub(crate) fn sha256(path: &Path) -> Result<(String, u64)> {
    let mut file = File::open(path).map_err(|e| frames::unreadable(path, 0, &e))?;
    let mut hash = Sha256::new();
    let mut chunk = vec![0; HASH_CHUNK_BYTES];
    let mut offset = 0;
    loop {
        let read = file.read(&mut chunk).map_err(|e| frames::unreadable(path, offset, &e))?;
        if read == 0 {
            break;
        }
        hash.update(&chunk[..read]);
        offset += read as u64;
    }
    Ok((hexadecimal(&hash.finalize()), offset))
}

/// Frames in runs that are decoded at a time: by number, and by bytes where blocks are large.
pub(crate) fn batches(mut frames: &[DataBlock]) -> impl Iterator<Item = &[DataBlock]> {
    let most = rayon::current_num_threads() * BLOCKS_PER_THREAD;
    std::iter::from_fn(move || {
        let mut bytes = 0;
        let fits = |frame: &&DataBlock| {
            bytes += frame.data_bytes;
            bytes <= BATCH_BYTES
        };
        let length = frames.iter().take(most).take_while(fits).count().max(1).min(frames.len());
        let (batch, rest) = frames.split_at(length);
        frames = rest;
        (!batch.is_empty()).then_some(batch)
    })
}

/// Runs over the blocks of a file.
pub(crate) struct Blocks<'a> {
    /// The file.
    pub path: &'a Path,
    /// Counts blocks.
    pub progress: &'a dyn Progress,
}

impl Blocks<'_> {
    /// Decodes blocks in parallel and takes the results in file order.
    pub fn each<T: Send>(
        &self,
        stage: &str,
        frames: &[DataBlock],
        decode: impl Fn(&[u8]) -> Result<T, Damage> + Sync,
        mut take: impl FnMut(T) -> Result<()>,
    ) -> Result<()> {
        self.progress.begin(stage, "blocks", Some(frames.len() as u64));
        for batch in batches(frames) {
            self.batch(batch, &decode)?.into_iter().try_for_each(&mut take)?;
        }
        self.progress.end();
        Ok(())
    }

    /// Decodes one batch; the error is that of the first block that has one.
    pub fn batch<T: Send>(
        &self,
        batch: &[DataBlock],
        decode: impl Fn(&[u8]) -> Result<T, Damage> + Sync,
    ) -> Result<Vec<T>> {
        let results: Vec<Result<T>> = batch.par_iter().map(|frame| self.one(frame, &decode)).collect();
        results.into_iter().collect()
    }

    fn one<T>(&self, frame: &DataBlock, decode: impl Fn(&[u8]) -> Result<T, Damage>) -> Result<T> {
        let mut file = File::open(self.path).map_err(|e| frames::unreadable(self.path, frame.offset, &e))?;
        let bytes = frames::block_bytes(self.path, &mut file, frame)?;
        let decoded = decode(&bytes).map_err(|damage| frames::corrupt(self.path, frame.block, frame.offset, damage))?;
        self.progress.advance(1);
        Ok(decoded)
    }
}
