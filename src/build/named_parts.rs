//! Finished parts: files named by their district, by a hash of everything that they depend on, and by one of what they hold. A
//! part of another map, profile or program has another name, and one that is damaged is not what its name says.
use std::collections::BTreeMap;
use std::fs::{self, File};
use std::io::{self, Read};
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

use crate::base::district::District;
use crate::base::hex::hexadecimal;

/// Hexadecimal digits of a hash in the name of a part: 128 bits.
const DIGITS: usize = 32;
/// Bytes hashed at a time.
const CHUNK_BYTES: usize = 1 << 20;

/// Everything that a part depends on, in one number.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct PartKey(String);

impl PartKey {
    /// Its digits.
    pub fn digits(&self) -> &str {
        &self.0
    }
    /// Of bytes that say all of it, in this order.
    pub fn of<'b>(all: impl IntoIterator<Item = &'b [u8]>) -> Self {
        let mut hash = Sha256::new();
        for bytes in all {
            hash.update((bytes.len() as u64).to_le_bytes());
            hash.update(bytes);
        }
        Self(digits(hash))
    }
}

fn digits(hash: Sha256) -> String {
    hexadecimal(&hash.finalize()[..DIGITS / 2])
}

/// The name of a part that is written to a file.
///
/// # Errors
/// It cannot be read.
pub(crate) fn part_name(district: District, key: &PartKey, file: &Path) -> io::Result<String> {
    Ok(format!("{district}-{}-{}.gpkg", key.0, digest(file)?))
}

/// The digits of a hash of a file.
///
/// # Errors
/// It cannot be read.
pub(crate) fn digest(path: &Path) -> io::Result<String> {
    let (mut file, mut hash, mut chunk) = (File::open(path)?, Sha256::new(), vec![0; CHUNK_BYTES]);
    loop {
        match file.read(&mut chunk)? {
            0 => return Ok(digits(hash)),
            read => hash.update(&chunk[..read]),
        }
    }
}

/// Finished parts of a folder, by what their names say.
#[derive(Debug, Default)]
pub(crate) struct NamedParts(BTreeMap<(District, PartKey), Vec<(String, PathBuf)>>);

impl NamedParts {
    /// Those in a folder; none where it cannot be listed.
    pub fn of(folder: &Path) -> Self {
        let mut all = Self::default();
        for path in fs::read_dir(folder).into_iter().flatten().flatten().map(|e| e.path()) {
            let name = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
            if let Some((district, key, held)) = told_by(&name) {
                all.0.entry((district, key)).or_default().push((held, path));
            }
        }
        all
    }
    /// Whether one is named; if it is whole is looked at when it is used.
    pub fn has(&self, district: District, key: &PartKey) -> bool {
        self.0.contains_key(&(district, key.clone()))
    }
    /// The part of a district, if it is there and whole, and those that are damaged.
    pub fn whole(&self, district: District, key: &PartKey) -> (Option<PathBuf>, Vec<PathBuf>) {
        let named = self.0.get(&(district, key.clone())).map_or(&[][..], Vec::as_slice);
        let (whole, damaged): (Vec<_>, Vec<_>) =
            named.iter().partition(|(held, path)| digest(path).is_ok_and(|found| found == *held));
        (whole.first().map(|(_, path)| path.clone()), damaged.into_iter().map(|(_, path)| path.clone()).collect())
    }
}

/// What the name of a finished part says: its district, what it depends on, and the digits of what it holds.
fn told_by(name: &str) -> Option<(District, PartKey, String)> {
    let mut words = name.strip_suffix(".gpkg")?.split('-');
    let (district, key, held) = (words.next()?.parse().ok()?, words.next()?, words.next()?);
    words.next().is_none().then(|| (district, PartKey(key.to_owned()), held.to_owned()))
}
