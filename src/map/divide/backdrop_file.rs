//! The file of the backdrop of a whole build: names of places and water of all its districts, each once.
//!
//! Things are in order of their kind, of the district in the south-west of their box, of their id, and of their place in their
//! object: so no more than what begins in one district is in memory at a time, and neighbours in the file are neighbours on the
//! ground.
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};

use super::chunk_file::{self, ChunkForm, damaged};
use super::sheet::{ObjectRank, bytes};
use crate::base::district::District;
use crate::base::error::Result;
use crate::base::spill::{Records, Spilled, packed};
use crate::map::extract::model::{Backdrop, BackdropKind};

/// The format, and the version of what is kept of a thing.
const BACKDROP: ChunkForm =
    ChunkForm { magic: b"waymask backdrop", version: 1, word: "backdrop", of: "a build", kinds: 3 };

/// A backdrop on the disk.
#[derive(Debug, Clone, PartialEq)]
pub struct BackdropFile {
    /// The file.
    pub path: PathBuf,
    /// SHA-256 of what is in it, lower-case hexadecimal.
    pub sha256: String,
    /// Length of the file, bytes.
    pub bytes: u64,
}

/// What waits on the disk is found by the kind and the district in the south-west.
pub(super) type BackdropKey = (BackdropKind, District);

/// One thing on its way to the file.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
struct BackdropSheet<'b> {
    id: i64,
    rank: ObjectRank,
    ordinal: u32,
    #[serde(borrow, with = "bytes")]
    body: &'b [u8],
}

/// A thing as it waits on the disk; nothing of one that lies nowhere, or touches no wanted district.
///
/// # Errors
/// It is too long for this machine.
pub(super) fn sheet(
    (rank, id, ordinal): (ObjectRank, i64, u32),
    thing: &Backdrop,
    wanted: &dyn Fn(District) -> bool,
) -> Result<Option<(BackdropKey, Vec<u8>)>> {
    let Some(corner) = thing.corner().filter(|_| District::touched(&thing.reach()).any(wanted)) else {
        return Ok(None);
    };
    let body = packed(thing)?;
    Ok(Some(((thing.kind(), corner), packed(&BackdropSheet { id, rank, ordinal, body: &body })?)))
}

/// Writes what touches one of some districts.
///
/// # Errors
/// The disk is full or fails.
pub(super) fn write(
    path: &Path,
    waiting: &Spilled<BackdropKey>,
    districts: &BTreeSet<District>,
) -> Result<BackdropFile> {
    let (sha256, bytes) = chunk_file::write(path, &BACKDROP, |sink| {
        for key in waiting.keys() {
            let records = waiting.read(key)?;
            let mut own: Vec<BackdropSheet> = Records::of(&records).collect::<Result<_>>()?;
            own.sort_unstable();
            for sheet in own {
                let mut thing = Records::<Backdrop>::of(sheet.body);
                if thing.next().transpose()?.is_some_and(|thing| thing.meets(districts)) {
                    sink.put(key.0 as u8, sheet.body)?;
                }
            }
        }
        Ok(())
    })?;
    Ok(BackdropFile { path: path.to_owned(), sha256, bytes })
}

/// Hands out the backdrop of a build, which must be the one of its plan, by its sum.
///
/// # Errors
/// The file cannot be read, is damaged, cut off, of another version, or another one; or the error of `take`.
pub fn read_backdrop(path: &Path, sha256: &str, mut take: impl FnMut(Backdrop) -> Result<()>) -> Result<()> {
    chunk_file::read(
        path,
        &BACKDROP,
        |sum| sum == sha256,
        |_, chunk| {
            Records::<Backdrop>::of(chunk).try_for_each(|thing| {
                take(thing.map_err(|_| damaged(path, "is damaged: a name or shape in it cannot be read"))?)
            })
        },
    )
}
