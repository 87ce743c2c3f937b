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
/// Length of a local header before the name, and where the length of the name stands in it (APPNOTE 6.3.10, 4.3.7).
const HEADER: usize = 30;
const NAME_LENGTH_AT: usize = 26;
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
    let mut archive = ZipArchive::new(file)?;
    let mut names = Vec::new();
    for i in 0..archive.len() {
        let mut member = archive.by_index(i)?;
        let name = PathBuf::from(member.name()?.as_ref());
        if member.is_dir() || !wanted(&name) {
            continue;
        }
        let told = |fact: &str| Ok(Err(format!("its {} {fact}", name.display())));
        let size = member.size();
        if size > MOST_BYTES {
            return told("claims more bytes than any raster has");
        }
        match std::io::copy(&mut (&mut member).take(MOST_BYTES), &mut std::io::sink()) {
            Ok(bytes) if bytes == size => {}
            Ok(_) => return told("is not as long as the archive says: it is damaged"),
            Err(e) => return told(&format!("is damaged ({e})")),
        }
        let (start, listed) = (member.header_start(), member.name_raw().to_vec());
        drop(member);
        // The name places some rasters on the globe, and no checksum guards it; it stands in the archive twice.
        if local_name(&mut again, start)? != listed {
            return told("has two names in the archive: it is damaged");
        }
        names.push(name);
    }
    Ok(Ok(names))
}

/// Name of a file as it stands before its bytes.
fn local_name(file: &mut File, start: u64) -> std::io::Result<Vec<u8>> {
    let mut header = [0; HEADER];
    file.seek(SeekFrom::Start(start))?;
    file.read_exact(&mut header)?;
    let length = u16::from_le_bytes([header[NAME_LENGTH_AT], header[NAME_LENGTH_AT + 1]]);
    let mut name = vec![0; usize::from(length)];
    file.read_exact(&mut name)?;
    Ok(name)
}
