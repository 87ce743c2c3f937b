//! Damaged archives and rasters are errors, never heights and never voids.
use std::io::Write;
use std::path::{Path, PathBuf};

use waymask::base::error::Result;
use waymask::base::geodesy::LocalPlane;
use waymask::relief::{ElevationKind, Sources};

/// A tile of one degree in 3 arc seconds, big-endian as the format has it: rough hills.
fn tile() -> Vec<u8> {
    let z = |i: usize| {
        let (c, r) = ((i % 1201) as f64, (i / 1201) as f64);
        (800.0 + 300.0 * (c / 40.0).sin() * (r / 55.0).cos() + ((i * 2_654_435_761) % 17) as f64) as i16
    };
    (0..1201 * 1201).flat_map(|i| z(i).to_be_bytes()).collect()
}

/// A zip archive of one deflated file (APPNOTE 6.3.10), as tiles are handed out.
fn zipped(name: &str, bytes: &[u8]) -> Vec<u8> {
    let mut crc = flate2::Crc::new();
    crc.update(bytes);
    let mut deflate = flate2::write::DeflateEncoder::new(Vec::new(), flate2::Compression::default());
    deflate.write_all(bytes).unwrap();
    let packed = deflate.finish().unwrap();
    let (name_length, size) = (name.len() as u16, packed.len() as u32);
    let mut common = Vec::new();
    for field in [20_u16, 0, 8, 0, 0x5a21] {
        common.extend(field.to_le_bytes());
    }
    for field in [crc.sum(), size, bytes.len() as u32] {
        common.extend(field.to_le_bytes());
    }
    common.extend(name_length.to_le_bytes());
    common.extend(0_u16.to_le_bytes());
    let mut out = [b"PK\x03\x04".as_slice(), &common, name.as_bytes(), &packed].concat();
    let directory_at = out.len() as u32;
    let mut directory = [b"PK\x01\x02\x14\x00".as_slice(), &common].concat();
    directory.extend([0; 14]);
    directory.extend(name.as_bytes());
    let length = directory.len() as u32;
    out.extend(directory);
    out.extend(b"PK\x05\x06\0\0\0\0\x01\0\x01\0");
    out.extend(length.to_le_bytes());
    out.extend(directory_at.to_le_bytes());
    out.extend([0, 0]);
    out
}

/// All heights of a window of the tile.
fn heights(path: &Path) -> Result<Vec<u32>> {
    let sources = Sources::open(&[PathBuf::from(path)], ElevationKind::BareEarth)?;
    let elevation = sources.reader()?.window(&LocalPlane::at(1.5, 42.5), 1000.0, 11_000.0)?;
    Ok(elevation.grids.iter().flat_map(|g| g.values_m.iter().map(|z| z.to_bits())).collect())
}

#[test]
fn a_damaged_archive_is_refused_or_says_the_same() {
    let folder = tempfile::tempdir().unwrap();
    // GDAL remembers archives by their path: each has a folder of its own.
    let path_of = |n: usize| {
        let own = folder.path().join(n.to_string());
        std::fs::create_dir_all(&own).unwrap();
        own.join("N42E001.hgt.zip")
    };
    let path = path_of(usize::MAX);
    let whole = zipped("N42E001.hgt", &tile());
    std::fs::write(&path, &whole).unwrap();
    let truth = heights(&path).unwrap();
    assert!(truth.len() > 10_000);
    let (mut refused, mut same) = (0, 0);
    // Every byte of the headers, and 160 places spread over what is packed.
    let ends = (0..60).chain(whole.len() - 90..whole.len());
    let spread = (1..=160).map(|i| 60 + i * (whole.len() - 160) / 161);
    for at in ends.chain(spread) {
        let path = path_of(at);
        let mut damaged = whole.clone();
        damaged[at] ^= 1 << (at % 8);
        std::fs::write(&path, &damaged).unwrap();
        match heights(&path) {
            Err(e) => {
                refused += 1;
                assert!(e.to_string().contains("N42E001.hgt.zip"), "{e}");
            }
            Ok(found) => {
                same += 1;
                assert!(found == truth, "byte {at}: other heights were believed");
            }
        }
        std::fs::remove_file(&path).unwrap();
    }
    println!("{refused} refused, {same} with the same heights");
    assert!(refused > 160 + 60, "{refused}");
}

#[test]
fn a_file_cut_short_in_a_mosaic_is_an_error() {
    let folder = tempfile::tempdir().unwrap();
    for name in ["N42E001.hgt", "N42E002.hgt"] {
        std::fs::write(folder.path().join(name), tile()).unwrap();
    }
    heights(folder.path()).unwrap();
    let cut = folder.path().join("N42E001.hgt");
    std::fs::write(&cut, &tile()[..1_500_000]).unwrap();
    let said = heights(folder.path()).unwrap_err().to_string();
    assert!(said.contains("N42E001"), "{said}");
}
