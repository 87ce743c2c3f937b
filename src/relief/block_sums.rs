//! Checksums of the blocks of a packed GeoTIFF.
//!
//! Deflate, as TIFF has it, is zlib: each block ends in an Adler-32. GDAL stops when a block has given the bytes it needs and
//! never looks at it: of 4,000 files with one bit flipped, GDAL 3.6 read other heights from 689 and said nothing. So each block is
//! unpacked once more, into nothing, before the first height of a build is believed.
use std::fs::File;
use std::io::{BufReader, Read, Seek, SeekFrom};
use std::path::Path;

use flate2::bufread::ZlibDecoder;
use gdal::Metadata;
use gdal::raster::RasterBand;

use super::calls::{open, set_up_gdal};
use crate::base::error::{Error, Result};
use crate::base::foreign::foreign;
use crate::base::input::cannot_read;

/// No kind of pixel takes more than this, bytes: two bands of eight.
const MOST_PIXEL_BYTES: u64 = 16;
const NEXT_STEP: &str = "download the file again and compare its checksum with the one the server states";

/// Unpacks every block of a GeoTIFF packed by zlib; other files have nothing to be compared with.
///
/// # Errors
/// A block is damaged, or cannot be read.
pub(super) fn check_blocks(path: &Path) -> Result<()> {
    set_up_gdal();
    foreign("rasters", || checked(path)).map_err(|broken| Error::file(path, broken.to_string(), NEXT_STEP))?
}

fn checked(path: &Path) -> Result<()> {
    // What GDAL cannot open as it stands, such as an archive, is not a GeoTIFF.
    let Ok(dataset) = open(path) else { return Ok(()) };
    let packed = dataset.metadata_item("COMPRESSION", "IMAGE_STRUCTURE");
    if dataset.driver().short_name() != "GTiff" || packed.as_deref() != Some("DEFLATE") {
        return Ok(());
    }
    let Ok(band) = dataset.rasterband(1) else { return Ok(()) };
    let mut file = File::open(path).map_err(|e| cannot_read(path, &e, "check that it is still there"))?;
    let ((columns, rows), (wide, high)) = (band.size(), band.block_size());
    let most = wide as u64 * high as u64 * MOST_PIXEL_BYTES;
    for y in 0..rows.div_ceil(high.max(1)) {
        for x in 0..columns.div_ceil(wide.max(1)) {
            // A block without a place is not in the file: `absent` has looked at that.
            let Some((at, bytes)) = place_of(&band, x, y) else { continue };
            if let Err(why) = unpacked(&mut file, at, bytes, most) {
                let (column, row) = (x * wide, y * high);
                let fact = format!("its block at column {column} and row {row} (byte {at}) is damaged: {why}");
                return Err(Error::file(path, fact, NEXT_STEP));
            }
        }
    }
    Ok(())
}

/// Where a block begins, and how many bytes it has.
fn place_of(band: &RasterBand, x: usize, y: usize) -> Option<(u64, u64)> {
    let told = |what: &str| band.metadata_item(&format!("BLOCK_{what}_{x}_{y}"), "TIFF")?.parse().ok();
    told("OFFSET").zip(told("SIZE"))
}

fn unpacked(file: &mut File, at: u64, bytes: u64, most: u64) -> Result<(), String> {
    file.seek(SeekFrom::Start(at)).map_err(|e| e.to_string())?;
    let packed = BufReader::new(file.take(bytes));
    let unpacked = std::io::copy(&mut ZlibDecoder::new(packed).take(most + 1), &mut std::io::sink());
    match unpacked {
        Ok(given) if given > most => Err(format!("it unpacks to more than {most} bytes")),
        Ok(_) => Ok(()),
        Err(e) => Err(e.to_string()),
    }
}

#[cfg(test)]
mod tests {
    use gdal::DriverManager;
    use gdal::raster::{Buffer, RasterCreationOptions};

    use super::*;

    #[test]
    fn a_bit_flipped_anywhere_in_a_packed_block_is_told_with_its_place() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("hills.tif");
        let options = RasterCreationOptions::from_iter(["COMPRESS=DEFLATE", "BLOCKYSIZE=16"]);
        let driver = DriverManager::get_driver_by_name("GTiff").unwrap();
        let mut dataset = driver.create_with_band_type_with_options::<i16, _>(&path, 64, 64, 1, &options).unwrap();
        dataset.set_geo_transform(&[1.0, 0.001, 0.0, 42.0, 0.0, -0.001]).unwrap();
        let heights = (0..64 * 64).map(|k: i32| (60 + k * k % 37) as i16).collect();
        let written = dataset.rasterband(1).unwrap().write((0, 0), (64, 64), &mut Buffer::new((64, 64), heights));
        written.unwrap();
        drop(dataset);
        check_blocks(&path).unwrap();
        let whole = std::fs::read(&path).unwrap();
        let blocks: Vec<(u64, u64)> = {
            let dataset = open(&path).unwrap();
            let band = dataset.rasterband(1).unwrap();
            (0..4).map(|y| place_of(&band, 0, y).unwrap()).collect()
        };
        let heights =
            |path: &Path| open(path).unwrap().rasterband(1).unwrap().read_band_as::<i16>().map(|b| b.data().to_vec());
        let truth = heights(&path).unwrap();
        let mut refused = 0;
        for (y, (at, bytes)) in blocks.iter().enumerate() {
            // Its beginning, its end with the sum, and places between.
            for byte in (*at..at + 3).chain(at + bytes - 5..at + bytes).chain((at + 3..at + bytes).step_by(41)) {
                let mut damaged = whole.clone();
                damaged[byte as usize] ^= 1 << (byte % 8);
                std::fs::write(&path, &damaged).unwrap();
                match check_blocks(&path).map_err(|e| e.to_string()) {
                    // A bit that only fills up the last byte before the sum says nothing.
                    Ok(()) => assert_eq!(heights(&path).unwrap(), truth, "byte {byte}: other heights were believed"),
                    Err(told) => {
                        refused += 1;
                        let place = format!("its block at column 0 and row {} (byte {at}) is damaged", 16 * y);
                        assert!(told.contains(&place) && told.contains("hills.tif"), "byte {byte}: {told}");
                    }
                }
            }
        }
        // Of each block its beginning, its sum and a place between.
        assert!(refused >= 4 * 8, "{refused}");
    }

    #[test]
    fn what_has_no_such_checksum_passes() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("notes.txt");
        std::fs::write(&path, "no raster").unwrap();
        check_blocks(&path).unwrap();
    }
}
