//! The frames of a PBF file: where each block begins, how long it is, and what the header says.
//!
//! In: an open file. Out: one [`DataBlock`] per data block and the parsed [`Header`]. Reads only lengths,
//! block headers and the file header, so a truncated or foreign file is found before anything is
//! decoded. Format: OpenStreetMap wiki, "PBF Format".
use std::collections::BTreeMap;
use std::fs::File;
use std::io::{Read, Seek, SeekFrom};
use std::path::Path;

use flate2::read::ZlibDecoder;
use osmpbfreader::fileformat::{Blob, BlobHeader};
use osmpbfreader::osmformat::HeaderBlock;
use protobuf::Message;

use super::model::ExtractInfo;
use crate::base::defect::{Defect, Defects};
use crate::base::error::{Error, Result};
use crate::base::foreign::foreign;
use crate::base::nearest::distance;

/// Longest block header the format allows, bytes.
const MAX_HEADER_BYTES: u32 = 64 * 1024;
/// What is shown of the type of a block that is not known, characters.
const LONGEST_TYPE: usize = 40;
/// The types that are read, and in how many letters a type that nobody else uses may differ from them: no checksum guards a
/// type, and a block that is passed over for a flipped bit takes its woods and buildings with it.
const TYPES: [&str; 2] = ["OSMHeader", "OSMData"];
const DAMAGED_LETTERS: usize = 2;
/// Longest block the format allows, compressed or not, bytes.
const MAX_BLOB_BYTES: u64 = 32 * 1024 * 1024;
/// Fields of `Blob` newer than the reader's schema: lz4 and zstd data.
const FIELD_LZ4: u32 = 6;
const FIELD_ZSTD: u32 = 7;
/// What the parsers called here read.
const BLOCKS: &str = "map blocks";
/// What a file may require of its reader.
const KNOWN_FEATURES: [&str; 2] = ["OsmSchema-V0.6", "DenseNodes"];

/// Where one data block lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct DataBlock {
    /// Number in the file; the header is block 0.
    pub block: u64,
    /// Where the frame begins, bytes from the start of the file.
    pub offset: u64,
    /// Where its data begins, bytes from the start of the file.
    pub data_offset: u64,
    /// Length of its data, bytes.
    pub data_bytes: u64,
}

/// What the file header says.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(crate) struct Header {
    /// Program that wrote the file.
    pub writing_program: Option<String>,
    /// Time of the data, seconds since 1970 UTC.
    pub data_time_unix_s: Option<i64>,
    /// Whether node places may be stored on the ways instead of on nodes.
    pub locations_on_ways: bool,
}

/// The frames of a whole file.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(crate) struct Frames {
    /// Data blocks in file order.
    pub data: Vec<DataBlock>,
    /// The file header.
    pub header: Header,
    /// Length of the file, bytes.
    pub bytes: u64,
    /// Blocks of other types, by type.
    pub others: BTreeMap<String, u64>,
}

impl Frames {
    /// Blocks that are passed over, as defects.
    pub fn passed_over(&self) -> Defects {
        let mut defects = Defects::default();
        for (kind, count) in &self.others {
            let kind: String = kind.chars().take(LONGEST_TYPE).collect();
            (0..*count).for_each(|_| defects.add(Defect::UnknownBlock, || format!("{count} of type `{kind}`")));
        }
        defects
    }
    /// What was counted, with what the file says about itself.
    pub fn info(&self, counted: ExtractInfo) -> ExtractInfo {
        ExtractInfo {
            blocks: self.data.len() as u64,
            bytes: self.bytes,
            writing_program: self.header.writing_program.clone(),
            data_time_unix_s: self.header.data_time_unix_s,
            ..counted
        }
    }
    /// Files that keep node places on the ways only would come out empty: say so instead.
    pub fn check_places(&self, path: &Path, missing: u64, wanted: u64) -> Result<()> {
        if self.header.locations_on_ways && missing * 2 > wanted {
            return Err(Error::file(
                path,
                format!(
                    "the positions of nodes are stored on the ways (LocationsOnWays), and {missing} of {wanted} nodes \
                     are not in the file"
                ),
                "Use the extract it was made from, or make it again with `osmium add-locations-to-ways --keep-untagged-nodes`.",
            ));
        }
        Ok(())
    }
}

/// Walks all frames of a file and reads its header.
pub fn walk(path: &Path, file: &mut File) -> Result<Frames> {
    let bytes = file.seek(SeekFrom::End(0)).map_err(|e| unreadable(path, 0, &e))?;
    if bytes == 0 {
        return Err(Error::file(path, "the file is empty", "Download or export the extract again."));
    }
    let mut frames = Frames { bytes, ..Frames::default() };
    let mut header = None;
    let mut offset = 0;
    let mut block = 0;
    while offset < bytes {
        let (kind, frame) = next_frame(path, file, block, offset, bytes)?;
        match kind.as_str() {
            "OSMHeader" if header.is_none() => header = Some(read_header(path, file, &frame)?),
            "OSMData" if header.is_none() => return Err(no_header(path, &frame)),
            "OSMData" => frames.data.push(frame),
            strange if is_damaged_type(strange) => {
                let fact = format!("its type is `{strange}`, which is not a type of block");
                return Err(corrupt(path, block, offset, &fact));
            }
            // The format tells readers to pass over types they do not know; a second header has no business here either.
            _ => *frames.others.entry(kind).or_default() += 1,
        }
        offset = frame.data_offset + frame.data_bytes;
        block += 1;
    }
    frames.header =
        header.ok_or_else(|| no_header(path, &DataBlock { block: 0, offset: 0, data_offset: 0, data_bytes: 0 }))?;
    Ok(frames)
}

/// Whether a type was one of ours before a few of its letters changed, or holds what no type is written with.
fn is_damaged_type(kind: &str) -> bool {
    let near = |known: &&str| *known != kind && distance(known, kind) <= DAMAGED_LETTERS;
    TYPES.iter().any(near) || kind.is_empty() || !kind.chars().all(|c| c.is_ascii_graphic())
}

/// Reads the frame at an offset: 4-byte big-endian length, `BlobHeader`, data.
fn next_frame(path: &Path, file: &mut File, block: u64, offset: u64, bytes: u64) -> Result<(String, DataBlock)> {
    let truncated = |what: &str, missing: u64| {
        Error::file(
            path,
            format!(
                "truncated in the {what} of block {block} at byte {offset}: {missing} bytes are missing (the file has {bytes})"
            ),
            "Download the file again and compare its size or checksum with the one the server states.",
        )
    };
    file.seek(SeekFrom::Start(offset)).map_err(|e| unreadable(path, offset, &e))?;
    if bytes - offset < 4 {
        // Fewer bytes than a length: nothing shorter than this can be the start of a map file.
        return Err(if block == 0 { other_format(path, file) } else { truncated("length", 4 - (bytes - offset)) });
    }
    let mut length = [0; 4];
    file.read_exact(&mut length).map_err(|e| unreadable(path, offset, &e))?;
    let length = u32::from_be_bytes(length);
    if block == 0 && (length > MAX_HEADER_BYTES || length == 0) {
        return Err(other_format(path, file));
    }
    if length > MAX_HEADER_BYTES {
        return Err(corrupt(
            path,
            block,
            offset,
            &format!("its header claims {length} bytes, the format allows {MAX_HEADER_BYTES}"),
        ));
    }
    let data_offset = offset + 4 + u64::from(length);
    if data_offset > bytes {
        return Err(if block == 0 && !starts_like_pbf(file) {
            other_format(path, file)
        } else {
            truncated("header", data_offset - bytes)
        });
    }
    let mut head = vec![0; length as usize];
    file.read_exact(&mut head).map_err(|e| unreadable(path, offset, &e))?;
    let Ok(Ok(head)) = foreign(BLOCKS, || BlobHeader::parse_from_bytes(&head)) else {
        return Err(if block == 0 {
            other_format(path, file)
        } else {
            corrupt(path, block, offset, "its header cannot be decoded")
        });
    };
    let data_bytes = claimed_bytes(path, block, offset, &head)?;
    if data_offset + data_bytes > bytes {
        return Err(truncated("data", data_offset + data_bytes - bytes));
    }
    Ok((head.type_().to_owned(), DataBlock { block, offset, data_offset, data_bytes }))
}

/// The length of a block's data, where the format allows it.
fn claimed_bytes(path: &Path, block: u64, offset: u64, head: &BlobHeader) -> Result<u64> {
    let Ok(data_bytes) = u64::try_from(head.datasize()) else {
        return Err(corrupt(path, block, offset, "it claims a negative length"));
    };
    if data_bytes > MAX_BLOB_BYTES {
        return Err(corrupt(
            path,
            block,
            offset,
            &format!("it claims {data_bytes} bytes, the format allows {MAX_BLOB_BYTES}"),
        ));
    }
    Ok(data_bytes)
}

/// Whether the file begins like a PBF header block (`OSMHeader` follows the length and a field tag).
fn starts_like_pbf(file: &mut File) -> bool {
    let mut start = [0; 8];
    file.seek(SeekFrom::Start(0)).is_ok() && file.read_exact(&mut start).is_ok() && &start[4..8] == b"\x0a\x09OS"
}

/// Reads one frame's data and undoes its compression.
pub(crate) fn block_bytes(path: &Path, file: &mut File, frame: &DataBlock) -> Result<Vec<u8>> {
    let mut data = vec![0; frame.data_bytes as usize];
    file.seek(SeekFrom::Start(frame.data_offset))
        .and_then(|_| file.read_exact(&mut data))
        .map_err(|e| unreadable(path, frame.offset, &e))?;
    uncompressed(path, frame, &data)
}

/// Undoes the compression of one frame's data.
pub(crate) fn uncompressed(path: &Path, frame: &DataBlock, data: &[u8]) -> Result<Vec<u8>> {
    let bad = |fact: &str| corrupt(path, frame.block, frame.offset, fact);
    let Ok(Ok(mut blob)) = foreign(BLOCKS, || Blob::parse_from_bytes(data)) else {
        return Err(bad("its data cannot be decoded"));
    };
    if blob.has_raw() {
        return Ok(blob.take_raw());
    }
    if !blob.has_zlib_data() {
        return Err(match compression_name(&blob) {
            Some(name) => unsupported_compression(path, frame, name),
            None => bad("it holds no data"),
        });
    }
    // The length is optional in the schema; without it the format's limit bounds the unpacking.
    let claimed = blob.has_raw_size().then(|| u64::try_from(blob.raw_size()).unwrap_or(u64::MAX));
    let limit = claimed.unwrap_or(MAX_BLOB_BYTES);
    if limit > MAX_BLOB_BYTES {
        return Err(bad(&format!("it claims more than the {MAX_BLOB_BYTES} bytes unpacked that the format allows")));
    }
    let mut raw = Vec::with_capacity(claimed.unwrap_or(0) as usize);
    // One byte more than announced is enough to notice a block that unpacks without end.
    let unpacked = foreign(BLOCKS, || ZlibDecoder::new(blob.zlib_data()).take(limit + 1).read_to_end(&mut raw));
    match unpacked {
        Err(broken) => return Err(bad(&broken.to_string())),
        Ok(Err(e)) => return Err(bad(&format!("its compressed data is damaged ({e})"))),
        Ok(Ok(_)) => {}
    }
    let length = raw.len() as u64;
    if length > limit || claimed.is_some_and(|c| c != length) {
        return Err(bad(&format!("it unpacks to a length other than the {limit} bytes it may have")));
    }
    Ok(raw)
}

/// The compression of a block that is neither raw nor zlib.
fn compression_name(blob: &Blob) -> Option<&'static str> {
    let newer = |field| blob.special_fields.unknown_fields().get(field).is_some();
    if blob.has_lzma_data() {
        Some("lzma")
    } else if blob.has_OBSOLETE_bzip2_data() {
        Some("bzip2")
    } else if newer(FIELD_LZ4) {
        Some("lz4")
    } else if newer(FIELD_ZSTD) {
        Some("zstd")
    } else {
        None
    }
}

fn read_header(path: &Path, file: &mut File, frame: &DataBlock) -> Result<Header> {
    let bytes = block_bytes(path, file, frame)?;
    let Ok(Ok(mut block)) = foreign(BLOCKS, || HeaderBlock::parse_from_bytes(&bytes)) else {
        return Err(corrupt(path, frame.block, frame.offset, "the file header cannot be decoded"));
    };
    if let Some(feature) = block.required_features.iter().find(|f| !KNOWN_FEATURES.contains(&f.as_str())) {
        return Err(unsupported_feature(path, frame, feature));
    }
    Ok(Header {
        writing_program: block.has_writingprogram().then(|| block.take_writingprogram()),
        data_time_unix_s: block.has_osmosis_replication_timestamp().then(|| block.osmosis_replication_timestamp()),
        locations_on_ways: block.optional_features.iter().any(|f| f == "LocationsOnWays"),
    })
}

fn unsupported_feature(path: &Path, frame: &DataBlock, feature: &str) -> Error {
    let name = path.display();
    let next = if feature == "HistoricalInformation" {
        format!(
            "First make an extract of one moment: `osmium time-filter {name} 2026-01-01T00:00:00Z -o \
             current.osm.pbf`, with the day you want."
        )
    } else {
        format!("Rewrite the file: `osmium cat {name} -o plain.osm.pbf`.")
    };
    let DataBlock { block, offset, .. } = frame;
    Error::file(
        path,
        format!("block {block} at byte {offset} requires the feature {feature}, which is not supported"),
        next,
    )
}

fn unsupported_compression(path: &Path, frame: &DataBlock, name: &str) -> Error {
    let DataBlock { block, offset, .. } = frame;
    Error::file(
        path,
        format!(
            "block {block} at byte {offset} is compressed with {name}; only zlib and uncompressed blocks can be read"
        ),
        format!("Rewrite the file: `osmium cat {} -o zlib.osm.pbf -f pbf,pbf_compression=zlib`.", path.display()),
    )
}

fn no_header(path: &Path, frame: &DataBlock) -> Error {
    let DataBlock { block, offset, .. } = frame;
    Error::file(
        path,
        format!("no OSMHeader block before block {block} at byte {offset}"),
        format!(
            "The start of the file is missing. Download it again, or rewrite it: `osmium cat {} -o whole.osm.pbf`.",
            path.display()
        ),
    )
}

/// A block that breaks the format.
pub(crate) fn corrupt(path: &Path, block: u64, offset: u64, fact: &str) -> Error {
    Error::file(
        path,
        format!("block {block} at byte {offset} is damaged: {fact}"),
        format!(
            "Download the file again; `osmium fileinfo -e {}` shows whether another reader fails too.",
            path.display()
        ),
    )
}

/// A read that the system refused.
pub(crate) fn unreadable(path: &Path, offset: u64, error: &std::io::Error) -> Error {
    let doing = format!("cannot be read at byte {offset}");
    Error::io(path, &doing, error, "Check that the file is whole and that you may read it.")
}

/// A file of another format, named where its first bytes give it away.
fn other_format(path: &Path, file: &mut File) -> Error {
    let mut start = Vec::new();
    let read = file.seek(SeekFrom::Start(0)).and_then(|_| file.take(64).read_to_end(&mut start));
    if let Err(e) = read {
        return unreadable(path, 0, &e);
    }
    let kind = match start.as_slice() {
        s if s.starts_with(b"<?xml") || s.starts_with(b"<osm") => "looks like XML",
        [0x1f, 0x8b, ..] => "looks like a gzip file",
        s if s.starts_with(b"BZh") => "looks like a bzip2 file",
        [0xff, 0xe0, ..] => "looks like o5m",
        s if s.starts_with(b"PK") => "looks like a zip file",
        s if s.starts_with(b"<") => "looks like a web page",
        _ => "does not begin with an OSM PBF block",
    };
    Error::file(
        path,
        format!("not an OSM PBF file: block 0 at byte 0 {kind}"),
        format!(
            "Give an .osm.pbf extract. Other map formats can be converted: `osmium cat {} -o map.osm.pbf` (after renaming the file to its true ending).",
            path.display()
        ),
    )
}
