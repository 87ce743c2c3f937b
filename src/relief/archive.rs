//! Zip archives of rasters, checked before anything in them is believed.
//!
//! GDAL reads pieces of a packed raster and so never comes to its checksum: a tile damaged on its way here would be
//! taken for mountains. So each raster is unpacked once, into nothing, and its checksum compared.
use std::fs::File;
use std::io::{Read, Seek, SeekFrom};
use std::path::{Path, PathBuf};

use zip::ZipArchive;
use zip::result::ZipResult;

use crate::base::error::{Error, Result};
use crate::base::foreign::foreign;
use crate::base::input::cannot_read;

/// No raster is unpacked to more than this, bytes: a tile of one arc second has 26 million.
const MOST_BYTES: u64 = 16_000_000_000;
/// Where a header before a file, or one in the list at the end, holds things (APPNOTE 6.3.10, 4.3.7 and 4.3.12).
struct HeaderAt {
    /// Flags and method, four bytes.
    packed_how: usize,
    /// Checksum and both sizes, twelve bytes.
    sums: usize,
    /// Length of the name, two bytes.
    name_length: usize,
    /// All of it, before the name.
    length: usize,
}
const LOCAL: HeaderAt = HeaderAt { packed_how: 6, sums: 14, name_length: 26, length: 30 };
const LISTED: HeaderAt = HeaderAt { packed_how: 8, sums: 16, name_length: 28, length: 46 };
const NEXT_STEP: &str = "download the file again, or unpack it and give the raster inside";

/// Names of the files in an archive that are wanted, by name, each unpacked and found whole.
///
/// # Errors
/// The archive or one of these files is damaged, packed in an unknown way, or too large.
pub(super) fn checked_names(archive: &Path, wanted: impl Fn(&Path) -> bool) -> Result<Vec<PathBuf>> {
    let file = File::open(archive).map_err(|e| cannot_read(archive, &e, "check the path and its permissions"))?;
    let damaged = |fact: String| Error::file(archive, fact, NEXT_STEP);
    let mut names = foreign("zip archives", || checked(file, wanted))
        .map_err(|broken| damaged(broken.to_string()))?
        .map_err(|broken| damaged(format!("is not a readable zip archive ({broken})")))?
        .map_err(damaged)?;
    names.sort();
    Ok(names)
}

/// The inner error is a fact about one file of the archive.
fn checked(file: File, wanted: impl Fn(&Path) -> bool) -> ZipResult<Result<Vec<PathBuf>, String>> {
    let mut again = file.try_clone()?;
    let mut archive = match ZipArchive::new(file) {
        Ok(archive) => archive,
        Err(e) => {
            return Ok(Err(format!(
                "is not a readable zip archive: the list of its files, at its end, is damaged ({e})"
            )));
        }
    };
    let mut names = Vec::new();
    for i in 0..archive.len() {
        let mut member = match archive.by_index(i) {
            Ok(member) => member,
            Err(e) => return Ok(Err(format!("is not a readable zip archive: its file {} is damaged ({e})", i + 1))),
        };
        let name = PathBuf::from(member.name()?.as_ref());
        if member.is_dir() || !wanted(&name) {
            continue;
        }
        let told = |fact: &str| Ok(Err(format!("its {} {fact}", name.display())));
        let size = member.size();
        if size > MOST_BYTES {
            return told("claims to hold more bytes than any raster has");
        }
        match std::io::copy(&mut (&mut member).take(MOST_BYTES), &mut std::io::sink()) {
            Ok(bytes) if bytes == size => {}
            Ok(_) => return told("is not as long as the archive says: it is damaged"),
            Err(e) => return told(&format!("is damaged ({e})")),
        }
        let (local, listed) = (member.header_start(), member.central_header_start());
        drop(member);
        // How it is packed and its name, which places some rasters on the globe, appear twice; no checksum guards them.
        if twice(&mut again, local, &LOCAL)? != twice(&mut again, listed, &LISTED)? {
            return told("differs between the two places of the archive that state it: it is damaged");
        }
        names.push(name);
    }
    Ok(Ok(names))
}

/// What of a header stands in the other one too.
#[derive(PartialEq)]
struct Twice {
    packed_how: [u8; 4],
    sums: Option<[u8; 12]>,
    name: Vec<u8>,
}

fn twice(file: &mut File, start: u64, at: &HeaderAt) -> std::io::Result<Twice> {
    let mut header = vec![0; at.length];
    file.seek(SeekFrom::Start(start))?;
    file.read_exact(&mut header)?;
    let (mut packed_how, mut sums) = ([0; 4], [0; 12]);
    packed_how.copy_from_slice(&header[at.packed_how..at.packed_how + 4]);
    sums.copy_from_slice(&header[at.sums..at.sums + 12]);
    let mut name = vec![0; usize::from(u16::from_le_bytes([header[at.name_length], header[at.name_length + 1]]))];
    file.read_exact(&mut name)?;
    // Bit 3 of the flags: sums and sizes follow the file instead of standing before it.
    let sums = (packed_how[0] & 8 == 0).then_some(sums);
    Ok(Twice { packed_how, sums, name })
}
