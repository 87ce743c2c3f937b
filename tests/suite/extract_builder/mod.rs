//! Writes small map files for tests, with any order, block size, encoding and fault.
use std::io::Write;

use osmpbfreader::fileformat::{Blob, BlobHeader};
use osmpbfreader::osmformat::relation::MemberType;
use osmpbfreader::osmformat::{self, DenseNodes, HeaderBlock, PrimitiveBlock, PrimitiveGroup};
use protobuf::{EnumOrUnknown, Message};

type Pairs = Vec<(String, String)>;

/// One map object.
#[derive(Debug, Clone)]
pub enum Obj {
    Node { id: i64, lon_deg: f64, lat_deg: f64, tags: Pairs },
    Way { id: i64, refs: Vec<i64>, tags: Pairs },
    Relation { id: i64, ways: Vec<(i64, String)>, tags: Pairs },
}

fn pairs(tags: &[(&str, &str)]) -> Pairs {
    tags.iter().map(|(k, v)| ((*k).to_owned(), (*v).to_owned())).collect()
}
pub fn node(id: i64, lon_deg: f64, lat_deg: f64, tags: &[(&str, &str)]) -> Obj {
    Obj::Node { id, lon_deg, lat_deg, tags: pairs(tags) }
}
pub fn way(id: i64, refs: &[i64], tags: &[(&str, &str)]) -> Obj {
    Obj::Way { id, refs: refs.to_vec(), tags: pairs(tags) }
}
pub fn relation(id: i64, ways: &[(i64, &str)], tags: &[(&str, &str)]) -> Obj {
    Obj::Relation { id, ways: ways.iter().map(|(w, r)| (*w, (*r).to_owned())).collect(), tags: pairs(tags) }
}

#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Compression {
    Raw,
    Zlib,
    Lz4,
    Zstd,
    Lzma,
}

/// A map file to be written.
pub struct Map {
    objects: Vec<Obj>,
    pub per_block: usize,
    pub dense: bool,
    pub compression: Compression,
    pub required: Vec<String>,
    pub header: bool,
}

impl Map {
    pub fn of(objects: &[Obj]) -> Self {
        let required = vec!["OsmSchema-V0.6".into(), "DenseNodes".into()];
        Self {
            objects: objects.to_vec(),
            per_block: 40,
            dense: true,
            compression: Compression::Zlib,
            required,
            header: true,
        }
    }

    fn frames(&self) -> Vec<Vec<u8>> {
        let mut frames = Vec::new();
        if self.header {
            let mut header = HeaderBlock::new();
            header.required_features.clone_from(&self.required);
            header.set_writingprogram("builder".into());
            header.set_osmosis_replication_timestamp(1_700_000_000);
            frames.push(frame("OSMHeader", &zlib_blob(&header.write_to_bytes().expect("encoded"), Some(usize::MAX))));
        }
        for objects in self.objects.chunks(self.per_block) {
            let bytes = block(objects, self.dense).write_to_bytes().expect("encoded");
            frames.push(frame("OSMData", &self.blob(&bytes)));
        }
        frames
    }

    fn blob(&self, bytes: &[u8]) -> Vec<u8> {
        let mut blob = Blob::new();
        match self.compression {
            Compression::Zlib => return zlib_blob(bytes, Some(usize::MAX)),
            Compression::Raw => blob.set_raw(bytes.to_vec()),
            Compression::Lzma => blob.set_lzma_data(bytes.to_vec()),
            // Field numbers of the newer schema; the content does not matter, it cannot be read.
            Compression::Lz4 => blob.special_fields.mut_unknown_fields().add_length_delimited(6, bytes.to_vec()),
            Compression::Zstd => blob.special_fields.mut_unknown_fields().add_length_delimited(7, bytes.to_vec()),
        }
        blob.write_to_bytes().expect("encoded")
    }

    pub fn bytes(&self) -> Vec<u8> {
        self.frames().concat()
    }

    /// Where each frame ends.
    pub fn frame_ends(&self) -> Vec<usize> {
        let mut end = 0;
        self.frames()
            .iter()
            .map(|f| {
                end += f.len();
                end
            })
            .collect()
    }
}

/// A zlib blob; `raw_size` is written as given, the true one for `usize::MAX`, none for `None`.
pub fn zlib_blob(bytes: &[u8], raw_size: Option<usize>) -> Vec<u8> {
    let mut encoder = flate2::write::ZlibEncoder::new(Vec::new(), flate2::Compression::default());
    encoder.write_all(bytes).expect("packed");
    let mut blob = Blob::new();
    blob.set_zlib_data(encoder.finish().expect("packed"));
    if let Some(size) = raw_size {
        blob.set_raw_size(if size == usize::MAX { bytes.len() } else { size } as i32);
    }
    blob.write_to_bytes().expect("encoded")
}

fn prefixed(kind: &str, data_bytes: i32) -> Vec<u8> {
    let mut header = BlobHeader::new();
    header.set_type(kind.into());
    header.set_datasize(data_bytes);
    let header = header.write_to_bytes().expect("encoded");
    let mut out = (header.len() as u32).to_be_bytes().to_vec();
    out.extend(header);
    out
}

pub fn frame(kind: &str, blob: &[u8]) -> Vec<u8> {
    let mut out = prefixed(kind, blob.len() as i32);
    out.extend(blob);
    out
}

/// A frame that claims a length and holds nothing.
pub fn frame_claiming(kind: &str, data_bytes: i32) -> Vec<u8> {
    prefixed(kind, data_bytes)
}

#[derive(Default)]
struct Table(Vec<Vec<u8>>);

impl Table {
    fn index(&mut self, text: &str) -> u32 {
        let found = self.0.iter().position(|t| t == text.as_bytes());
        found.filter(|i| *i > 0).unwrap_or_else(|| {
            self.0.push(text.as_bytes().to_vec());
            self.0.len() - 1
        }) as u32
    }
    fn tags(&mut self, tags: &Pairs) -> (Vec<u32>, Vec<u32>) {
        tags.iter().map(|(k, v)| (self.index(k), self.index(v))).unzip()
    }
}

fn deltas(values: &[i64]) -> Vec<i64> {
    let mut before = 0;
    values
        .iter()
        .map(|v| {
            let d = v - before;
            before = *v;
            d
        })
        .collect()
}

fn block(objects: &[Obj], dense: bool) -> PrimitiveBlock {
    let mut table = Table(vec![Vec::new()]);
    let mut block = PrimitiveBlock::new();
    let (mut plain, mut ways, mut relations) = (PrimitiveGroup::new(), PrimitiveGroup::new(), PrimitiveGroup::new());
    let (mut ids, mut lons, mut lats, mut keys_vals) = (vec![], vec![], vec![], vec![]);
    for object in objects {
        match object {
            Obj::Node { id, lon_deg, lat_deg, tags } => {
                let (lon, lat) = ((lon_deg * 1e7).round() as i64, (lat_deg * 1e7).round() as i64);
                let (keys, vals) = table.tags(tags);
                if dense {
                    ids.push(*id);
                    lons.push(lon);
                    lats.push(lat);
                    keys_vals.extend(keys.iter().zip(&vals).flat_map(|(k, v)| [*k as i32, *v as i32]));
                    keys_vals.push(0);
                } else {
                    let mut n = osmformat::Node::new();
                    n.set_id(*id);
                    n.set_lon(lon);
                    n.set_lat(lat);
                    (n.keys, n.vals) = (keys, vals);
                    plain.nodes.push(n);
                }
            }
            Obj::Way { id, refs, tags } => {
                let mut w = osmformat::Way::new();
                w.set_id(*id);
                w.refs = deltas(refs);
                (w.keys, w.vals) = table.tags(tags);
                ways.ways.push(w);
            }
            Obj::Relation { id, ways: members, tags } => {
                let mut r = osmformat::Relation::new();
                r.set_id(*id);
                r.memids = deltas(&members.iter().map(|m| m.0).collect::<Vec<_>>());
                r.types = members.iter().map(|_| EnumOrUnknown::new(MemberType::WAY)).collect();
                r.roles_sid = members.iter().map(|m| table.index(&m.1) as i32).collect();
                (r.keys, r.vals) = table.tags(tags);
                relations.relations.push(r);
            }
        }
    }
    if !ids.is_empty() {
        let mut d = DenseNodes::new();
        (d.id, d.lon, d.lat, d.keys_vals) = (deltas(&ids), deltas(&lons), deltas(&lats), keys_vals);
        plain.dense = Some(d).into();
    }
    block.primitivegroup = vec![plain, ways, relations];
    block.stringtable.mut_or_insert_default().s = table.0;
    block
}
