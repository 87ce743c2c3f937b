//! What a map file says of itself, and every kind of broken file.
//! File format: OpenStreetMap wiki, "PBF Format".
use waymask::base::progress::Silent;
use waymask::map::extract::read;

use crate::extract::{Dir, error_of, grid, mixed};
use crate::extract_builder;
use crate::extract_builder::{Compression, Map};

#[test]
fn the_header_and_the_checksum_are_reported() {
    let bytes = Map::of(&grid()).bytes();
    let e = Dir::new().read(&bytes).expect("a valid map");
    assert_eq!(e.info.writing_program.as_deref(), Some("builder"));
    assert_eq!(e.info.data_time_unix_s, Some(1_700_000_000));
    assert_eq!(e.info.bytes, bytes.len() as u64);
    use sha2::{Digest, Sha256};
    let hash: String = Sha256::digest(&bytes).iter().map(|b| format!("{b:02x}")).collect();
    assert_eq!(e.info.sha256, hash);
}

#[test]
fn a_file_cut_anywhere_is_an_error_with_a_place() {
    let bytes = Map::of(&mixed()).bytes();
    let ends = Map::of(&mixed()).frame_ends();
    let dir = Dir::new();
    for cut in (0..bytes.len()).step_by(7).chain(ends.iter().flat_map(|e| [e - 1, e + 1, e + 5])) {
        if cut >= bytes.len() || ends.contains(&cut) {
            continue;
        }
        let message = dir.read(&bytes[..cut]).expect_err("cut");
        let told = message.contains("truncated") && message.contains("at byte") && message.contains("Download");
        assert!(
            told || cut < 13 && (message.contains("not an OSM PBF") || message.contains("empty")),
            "{cut}: {message}"
        );
    }
    // A cut between two frames leaves a valid file with fewer objects.
    assert!(dir.read(&bytes[..ends[0]]).is_ok());
}

#[test]
fn foreign_files_are_named() {
    for (bytes, word) in [
        (&b"hello, this is a text file and not a map\n"[..], "not an OSM PBF"),
        (b"<?xml version='1.0'?><osm/>", "XML"),
        (b"\x1f\x8b\x08\x00abcdefgh", "gzip"),
        (b"", "empty"),
        (b"\x00\x00\x00\x02\xff\xff", "not an OSM PBF"),
    ] {
        let message = error_of(bytes);
        assert!(message.contains(word) && message.contains("map.osm.pbf"), "{message}");
    }
    let missing = read(std::path::Path::new("/nonexistent/map.osm.pbf"), &Silent).expect_err("no file").to_string();
    assert!(missing.contains("/nonexistent/map.osm.pbf"), "{missing}");
}

#[test]
fn compressions_and_features_not_supported_come_with_a_command() {
    for (compression, name) in [(Compression::Lz4, "lz4"), (Compression::Zstd, "zstd"), (Compression::Lzma, "lzma")] {
        let mut map = Map::of(&grid());
        map.compression = compression;
        let message = error_of(&map.bytes());
        assert!(
            message.contains(name) && message.contains("pbf_compression=zlib") && message.contains("block 1 at byte"),
            "{message}"
        );
    }
    let mut map = Map::of(&grid());
    map.required.push("HistoricalInformation".into());
    let message = error_of(&map.bytes());
    assert!(message.contains("HistoricalInformation") && message.contains("osmium time-filter"), "{message}");
    let mut map = Map::of(&grid());
    map.header = false;
    assert!(error_of(&map.bytes()).contains("no OSMHeader"));
}

#[test]
fn frames_larger_than_the_format_allows_are_refused() {
    let good = Map::of(&grid());
    let first = good.frame_ends()[0];
    let mut long_header = good.bytes();
    long_header[first..first + 4].copy_from_slice(&(64 * 1024 + 1_u32).to_be_bytes());
    let message = error_of(&long_header);
    assert!(message.contains("65537") && message.contains(&format!("at byte {first}")), "{message}");
    let mut bytes = good.bytes();
    bytes.extend(extract_builder::frame_claiming("OSMData", 33 * 1024 * 1024));
    assert!(error_of(&bytes).contains("the format allows"), "an oversized blob");
    let mut bytes = good.bytes();
    bytes.extend(extract_builder::frame_claiming("OSMData", -5));
    assert!(error_of(&bytes).contains("negative"), "a negative length");
}

#[test]
fn a_block_that_unpacks_without_end_is_refused() {
    let mut bytes = Map::of(&grid()).bytes();
    let bomb = extract_builder::zlib_blob(&vec![0; 40 * 1024 * 1024], None);
    assert!(bomb.len() < 100_000);
    bytes.extend(extract_builder::frame("OSMData", &bomb));
    let message = error_of(&bytes);
    assert!(message.contains("is damaged") && message.contains("at byte"), "{message}");
    let mut bytes = Map::of(&grid()).bytes();
    bytes.extend(extract_builder::frame("OSMData", &extract_builder::zlib_blob(&[0; 100], Some(50))));
    assert!(error_of(&bytes).contains("unpacks to a length other than"));
}

#[test]
fn damaged_bytes_never_panic() {
    let good = {
        let mut map = Map::of(&mixed());
        map.compression = Compression::Raw;
        map.per_block = 20;
        map.bytes()
    };
    let dir = Dir::new();
    let mut errors = 0;
    for at in (0..good.len()).step_by(5) {
        for flip in [0x01, 0x80, 0xff] {
            let mut bytes = good.clone();
            bytes[at] ^= flip;
            errors += usize::from(dir.read(&bytes).is_err());
        }
    }
    assert!(errors > 100, "{errors}: damage is found often");
    let zlib = Map::of(&mixed()).bytes();
    for at in (Map::of(&mixed()).frame_ends()[0] + 30..zlib.len()).step_by(3) {
        let mut bytes = zlib.clone();
        bytes[at] ^= 0x55;
        if let Err(message) = dir.read(&bytes) {
            assert!(message.contains("byte"), "{message}");
        }
    }
}
