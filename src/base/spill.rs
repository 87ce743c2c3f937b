//! What waits on the disk for a later stage: records under keys, in one unnamed file, so that nothing is left behind however
//! the program ends.
//!
//! Records of a key are read in the order in which they were put. They grow in buffers in memory, which go to the file in
//! chunks; each chunk says where the one before it with the same key lies, so that memory grows with the number of keys only.
use std::collections::BTreeMap;
use std::fs::File;
use std::io::{self, BufWriter, Write};
use std::marker::PhantomData;
use std::os::unix::fs::FileExt;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU64, Ordering};

use serde::Serialize;
use serde::de::Deserialize;

use super::error::{Error, Result};

/// A buffer of one key goes to the file when it holds this many bytes, whatever others hold.
const CHUNK_BYTES: usize = 256 << 10;
/// Before each chunk: where the one before it begins, and its length.
const LINK_BYTES: u64 = 16;
/// No chunk begins there.
const NONE: u64 = u64::MAX;

/// A folder for unnamed files, and how much they hold together.
#[derive(Debug)]
pub(crate) struct SpillFolder {
    path: PathBuf,
    held: AtomicU64,
    most: AtomicU64,
}

impl SpillFolder {
    /// Files on the disk of a folder.
    pub fn at(path: &Path) -> Self {
        Self { path: path.to_owned(), held: AtomicU64::new(0), most: AtomicU64::new(0) }
    }
    /// The most that was on the disk at a time, bytes.
    pub fn most_bytes(&self) -> u64 {
        self.most.load(Ordering::Relaxed)
    }
    /// Counts what something else puts on the same disk.
    pub fn count(&self, bytes: u64) {
        let held = self.held.fetch_add(bytes, Ordering::Relaxed) + bytes;
        self.most.fetch_max(held, Ordering::Relaxed);
    }
    fn failed(&self, doing: &str, e: &io::Error) -> Error {
        Error::io(&self.path, doing, e, "choose another folder or disk for the work")
    }
}

/// Records on their way to the disk.
#[derive(Debug)]
pub(crate) struct Spill<'f, K> {
    folder: &'f SpillFolder,
    file: BufWriter<File>,
    end: u64,
    last: BTreeMap<K, u64>,
    buffers: BTreeMap<K, Vec<u8>>,
    buffered: usize,
    most_buffered: usize,
}

impl<'f, K: Ord + Copy> Spill<'f, K> {
    /// An empty file; buffers hold at most `most_buffered` bytes together.
    ///
    /// # Errors
    /// No file can be made there.
    pub fn new(folder: &'f SpillFolder, most_buffered: usize) -> Result<Self> {
        let file =
            tempfile::tempfile_in(&folder.path).map_err(|e| folder.failed("cannot hold a temporary file", &e))?;
        Ok(Self {
            folder,
            file: BufWriter::new(file),
            end: 0,
            last: BTreeMap::new(),
            buffers: BTreeMap::new(),
            buffered: 0,
            most_buffered,
        })
    }
    /// Adds a record.
    ///
    /// # Errors
    /// The disk is full or fails.
    pub fn put<T: Serialize>(&mut self, key: K, record: &T) -> Result<()> {
        self.put_bytes(key, &packed(record)?)
    }
    /// Adds whole records as [`packed`] makes them.
    ///
    /// # Errors
    /// The disk is full or fails.
    pub fn put_bytes(&mut self, key: K, records: &[u8]) -> Result<()> {
        let buffer = self.buffers.entry(key).or_default();
        let before = buffer.capacity();
        buffer.extend_from_slice(records);
        // What is held counts, not what is used of it.
        self.buffered += buffer.capacity() - before;
        if buffer.len() >= CHUNK_BYTES {
            let full = std::mem::take(buffer);
            self.buffered -= full.capacity();
            self.write(key, &full)?;
        }
        if self.buffered >= self.most_buffered { self.write_all() } else { Ok(()) }
    }
    fn write_all(&mut self) -> Result<()> {
        self.buffered = 0;
        for (key, buffer) in std::mem::take(&mut self.buffers) {
            if !buffer.is_empty() {
                self.write(key, &buffer)?;
            }
        }
        Ok(())
    }
    fn write(&mut self, key: K, chunk: &[u8]) -> Result<()> {
        let before = self.last.insert(key, self.end).unwrap_or(NONE);
        let length = chunk.len() as u64;
        let link = [before.to_le_bytes(), length.to_le_bytes()].concat();
        let written = self.file.write_all(&link).and_then(|()| self.file.write_all(chunk));
        written.map_err(|e| self.folder.failed("cannot be written", &e))?;
        self.end += LINK_BYTES + length;
        self.folder.count(LINK_BYTES + length);
        Ok(())
    }
    /// Ends writing.
    ///
    /// # Errors
    /// The disk is full or fails.
    pub fn finish(mut self) -> Result<Spilled<'f, K>> {
        self.write_all()?;
        let (folder, bytes) = (self.folder, self.end);
        let file = self.file.into_inner().map_err(|e| folder.failed("cannot be written", e.error()))?;
        Ok(Spilled { folder, file, bytes, last: self.last })
    }
}

/// Records on the disk, until this is dropped.
#[derive(Debug)]
pub(crate) struct Spilled<'f, K> {
    folder: &'f SpillFolder,
    file: File,
    bytes: u64,
    last: BTreeMap<K, u64>,
}

impl<K: Ord + Copy> Spilled<'_, K> {
    /// The keys under which there are records, in order.
    pub fn keys(&self) -> impl Iterator<Item = K> {
        self.last.keys().copied()
    }
    /// The records of a key, as they were put.
    ///
    /// # Errors
    /// The disk fails.
    pub fn read(&self, key: K) -> Result<Vec<u8>> {
        let failed = |e: io::Error| self.folder.failed("cannot be read", &e);
        let mut chunks = Vec::new();
        let mut at = self.last.get(&key).copied().unwrap_or(NONE);
        while at != NONE {
            let (mut before, mut length) = ([0; 8], [0; 8]);
            self.file.read_exact_at(&mut before, at).map_err(failed)?;
            self.file.read_exact_at(&mut length, at + 8).map_err(failed)?;
            chunks.push((at + LINK_BYTES, u64::from_le_bytes(length) as usize));
            at = u64::from_le_bytes(before);
        }
        let mut all = vec![0; chunks.iter().map(|(_, length)| length).sum()];
        let mut rest = all.as_mut_slice();
        for (offset, length) in chunks.into_iter().rev() {
            let (chunk, behind) = rest.split_at_mut(length);
            self.file.read_exact_at(chunk, offset).map_err(failed)?;
            rest = behind;
        }
        Ok(all)
    }
    /// The records of a key in a vector.
    ///
    /// # Errors
    /// The disk fails.
    pub fn all<T: for<'de> Deserialize<'de>>(&self, key: K) -> Result<Vec<T>> {
        let bytes = self.read(key)?;
        Records::of(&bytes).collect()
    }
}

impl<K> Drop for Spilled<'_, K> {
    fn drop(&mut self) {
        self.folder.held.fetch_sub(self.bytes, Ordering::Relaxed);
    }
}

/// One record as bytes that say where they end.
///
/// # Errors
/// It is too long for this machine.
pub(crate) fn packed<T: Serialize + ?Sized>(record: &T) -> Result<Vec<u8>> {
    postcard::to_stdvec(record).map_err(|e| broken(&e))
}

fn broken(e: &postcard::Error) -> Error {
    let next = "check the disk; if it is sound, this is a fault of the program: please report it";
    Error::failed("temporary file", format!("holds something else than was written to it ({e})"), next)
}

/// Records one after another.
pub(crate) struct Records<'b, T> {
    rest: &'b [u8],
    kind: PhantomData<T>,
}

impl<'b, T> Records<'b, T> {
    /// The records in some bytes.
    pub fn of(rest: &'b [u8]) -> Self {
        Self { rest, kind: PhantomData }
    }
}

impl<'b, T: Deserialize<'b>> Iterator for Records<'b, T> {
    type Item = Result<T>;
    fn next(&mut self) -> Option<Self::Item> {
        if self.rest.is_empty() {
            return None;
        }
        match postcard::take_from_bytes(self.rest) {
            Ok((record, rest)) => {
                self.rest = rest;
                Some(Ok(record))
            }
            Err(e) => {
                self.rest = &[];
                Some(Err(broken(&e)))
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn records_come_back_by_key_in_order_and_nothing_stays() {
        let folder = tempfile::tempdir().unwrap();
        let space = SpillFolder::at(folder.path());
        let mut spill = Spill::new(&space, 100).unwrap();
        let record = |i: u32| (i, format!("record {i}"), vec![i; i as usize % 7]);
        for i in 0..1_000_u32 {
            spill.put(i % 5, &record(i)).unwrap();
        }
        let spilled = spill.finish().unwrap();
        for key in 0..6 {
            let want: Vec<_> = (0..1_000).filter(|i| i % 5 == key).map(record).collect();
            assert_eq!(spilled.all::<(u32, String, Vec<u32>)>(key).unwrap(), want, "{key}");
        }
        assert!(std::fs::read_dir(folder.path()).unwrap().next().is_none(), "the file has no name");
        let most = space.most_bytes();
        assert!(most > 20_000 && space.held.load(Ordering::Relaxed) == most, "{most}");
        drop(spilled);
        assert_eq!(space.held.load(Ordering::Relaxed), 0);
    }

    #[test]
    fn cut_records_are_told() {
        let bytes = packed(&(7_u32, "seven")).unwrap();
        let read: Vec<Result<(u32, String)>> = Records::of(&bytes[..bytes.len() - 1]).collect();
        assert!(matches!(read.as_slice(), [Err(_)]), "{read:?}");
    }
}
