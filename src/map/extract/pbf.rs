//! The objects of one data block, borrowed from it.
//!
//! In: the unpacked bytes of a block. Out: nodes, ways and relations with checked indices and
//! checked sums. The reader library's own iterators index the string table unchecked and panic on a
//! damaged block, so only its decoded message is used; tags stay borrowed until someone wants them.
use std::borrow::Cow;

use osmpbfreader::osmformat::relation::MemberType;
use osmpbfreader::osmformat::{DenseNodes, PrimitiveBlock, PrimitiveGroup};
use protobuf::{CodedInputStream, Message};

use crate::base::foreign::foreign;

/// What is wrong with a block's content.
pub(crate) type Damage = &'static str;

const BAD_INDEX: Damage = "a tag points outside the string table";
const BAD_SUM: Damage = "a delta-coded number overflows";
const BAD_LENGTHS: Damage = "its columns have different lengths";
const BAD_MESSAGE: Damage = "its content cannot be decoded";

/// Which kinds of objects a block holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(crate) struct Kinds {
    /// Nodes, dense or not.
    pub nodes: bool,
    /// Ways.
    pub ways: bool,
    /// Relations.
    pub relations: bool,
}

/// Looks at the kinds of objects in a block without decoding them (field numbers of `PrimitiveGroup`).
pub fn kinds(bytes: &[u8]) -> Result<Kinds, Damage> {
    foreign("map blocks", || scan_kinds(bytes)).ok().and_then(Result::ok).ok_or(BAD_MESSAGE)
}

fn scan_kinds(bytes: &[u8]) -> protobuf::Result<Kinds> {
    const GROUP_TAG: u32 = 2 << 3 | 2;
    let mut found = Kinds::default();
    let mut stream = CodedInputStream::from_bytes(bytes);
    while let Some(tag) = stream.read_raw_tag_or_eof()? {
        if tag != GROUP_TAG {
            protobuf::rt::skip_field_for_tag(tag, &mut stream)?;
            continue;
        }
        let length = stream.read_raw_varint32()?;
        let outer = stream.push_limit(u64::from(length))?;
        while let Some(tag) = stream.read_raw_tag_or_eof()? {
            match tag >> 3 {
                1 | 2 => found.nodes = true,
                3 => found.ways = true,
                4 => found.relations = true,
                _ => {}
            }
            protobuf::rt::skip_field_for_tag(tag, &mut stream)?;
        }
        stream.pop_limit(outer);
    }
    Ok(found)
}

/// The tags of one object.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Tags<'a>(Vec<(&'a str, &'a str)>);

impl<'a> Tags<'a> {
    /// Tags from pairs of key and value.
    #[cfg(test)]
    pub fn new(pairs: Vec<(&'a str, &'a str)>) -> Self {
        Self(pairs)
    }
    /// The value of a key.
    pub fn get(&self, key: &str) -> Option<&'a str> {
        self.0.iter().find(|(k, _)| *k == key).map(|(_, v)| *v)
    }
    /// Whether a key has a value.
    pub fn is(&self, key: &str, value: &str) -> bool {
        self.get(key) == Some(value)
    }
    /// Every key.
    pub fn keys(&self) -> impl Iterator<Item = &'a str> {
        self.0.iter().map(|(k, _)| *k)
    }
}

/// A node of a block.
#[derive(Debug, Clone, PartialEq)]
pub struct Node<'a> {
    /// Node id.
    pub id: i64,
    /// Longitude and latitude, 1e-9 degrees, unchecked.
    pub lon_lat_e9: (i64, i64),
    /// Its tags; empty where none of them is of interest.
    pub tags: Tags<'a>,
}

/// A way of a block.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct BlockWay<'a> {
    /// Way id.
    pub id: i64,
    /// Node ids.
    pub refs: Vec<i64>,
    /// Its tags; empty where none of them is of interest.
    pub tags: Tags<'a>,
}

/// A relation of a block, with its way members only.
#[derive(Debug, Clone, PartialEq)]
pub struct Relation<'a> {
    /// Relation id.
    pub id: i64,
    /// Member ways and their roles.
    pub members: Vec<(i64, &'a str)>,
    /// All its tags.
    pub tags: Tags<'a>,
}

/// A decoded block.
pub struct Block {
    message: PrimitiveBlock,
}

/// The strings of a block, and which of them are keys worth reading.
pub(crate) struct Strings<'a> {
    text: Vec<Cow<'a, str>>,
    wanted: Vec<bool>,
}

impl<'a> Strings<'a> {
    fn get(&'a self, index: usize) -> Result<&'a str, Damage> {
        self.text.get(index).map(|s| &**s).ok_or(BAD_INDEX)
    }
    fn is_wanted(&self, index: usize) -> bool {
        self.wanted.get(index).copied().unwrap_or(false)
    }
    fn tags(&'a self, keys: &[u32], values: &[u32]) -> Result<Tags<'a>, Damage> {
        if keys.len() != values.len() {
            return Err(BAD_LENGTHS);
        }
        let pair = |(k, v): (&u32, &u32)| Ok((self.get(*k as usize)?, self.get(*v as usize)?));
        keys.iter().zip(values).map(pair).collect::<Result<_, _>>().map(Tags)
    }
    fn wanted_tags(&'a self, keys: &[u32], values: &[u32]) -> Result<Tags<'a>, Damage> {
        if keys.iter().any(|k| self.is_wanted(*k as usize)) { self.tags(keys, values) } else { Ok(Tags::default()) }
    }
}

/// Adds up delta-coded numbers.
fn running(deltas: &[i64]) -> Result<Vec<i64>, Damage> {
    let mut sum = 0_i64;
    let add = |d: &i64| {
        sum = sum.checked_add(*d).ok_or(BAD_SUM)?;
        Ok(sum)
    };
    deltas.iter().map(add).collect()
}

impl Block {
    /// Decodes the unpacked bytes of a block.
    pub(crate) fn decode(bytes: &[u8]) -> Result<Self, Damage> {
        let message = foreign("map blocks", || PrimitiveBlock::parse_from_bytes(bytes));
        Ok(Self { message: message.ok().and_then(Result::ok).ok_or(BAD_MESSAGE)? })
    }

    /// The strings of the block; objects without any of the `wanted` keys are given without tags.
    pub(crate) fn strings(&self, wanted: &[&str]) -> Strings<'_> {
        let text: Vec<_> = self.message.stringtable.s.iter().map(|s| String::from_utf8_lossy(s)).collect();
        let wanted = text.iter().map(|s| wanted.contains(&&**s)).collect();
        Strings { text, wanted }
    }

    /// Calls `visit` for every way.
    pub fn ways<'a>(&self, strings: &'a Strings<'a>, mut visit: impl FnMut(BlockWay<'a>)) -> Result<(), Damage> {
        for way in self.groups().flat_map(|g| &g.ways) {
            let tags = strings.wanted_tags(&way.keys, &way.vals)?;
            visit(BlockWay { id: way.id(), refs: running(&way.refs)?, tags });
        }
        Ok(())
    }

    /// Calls `visit` for every relation.
    pub fn relations<'a>(&self, strings: &'a Strings<'a>, mut visit: impl FnMut(Relation<'a>)) -> Result<(), Damage> {
        for relation in self.groups().flat_map(|g| &g.relations) {
            if relation.memids.len() != relation.types.len() || relation.memids.len() != relation.roles_sid.len() {
                return Err(BAD_LENGTHS);
            }
            let ids = running(&relation.memids)?;
            let mut members = Vec::new();
            for ((id, kind), role) in ids.into_iter().zip(&relation.types).zip(&relation.roles_sid) {
                if kind.enum_value() == Ok(MemberType::WAY) {
                    members.push((id, strings.get(usize::try_from(*role).map_err(|_| BAD_INDEX)?)?));
                }
            }
            visit(Relation { id: relation.id(), members, tags: strings.tags(&relation.keys, &relation.vals)? });
        }
        Ok(())
    }

    /// Calls `visit` for every node.
    pub fn nodes<'a>(&self, strings: &'a Strings<'a>, mut visit: impl FnMut(Node<'a>)) -> Result<(), Damage> {
        for group in self.groups() {
            for node in &group.nodes {
                let lon_lat_e9 = self.place(node.lon(), node.lat())?;
                visit(Node { id: node.id(), lon_lat_e9, tags: strings.wanted_tags(&node.keys, &node.vals)? });
            }
            if let Some(dense) = group.dense.as_ref() {
                self.dense(dense, strings, &mut visit)?;
            }
        }
        Ok(())
    }

    fn dense<'a>(
        &self,
        dense: &DenseNodes,
        strings: &'a Strings<'a>,
        visit: &mut impl FnMut(Node<'a>),
    ) -> Result<(), Damage> {
        if dense.id.len() != dense.lon.len() || dense.id.len() != dense.lat.len() {
            return Err(BAD_LENGTHS);
        }
        let (mut id, mut lon, mut lat) = (0_i64, 0_i64, 0_i64);
        let mut keys_values = dense.keys_vals.as_slice();
        for ((d_id, d_lon), d_lat) in dense.id.iter().zip(&dense.lon).zip(&dense.lat) {
            id = id.checked_add(*d_id).ok_or(BAD_SUM)?;
            lon = lon.checked_add(*d_lon).ok_or(BAD_SUM)?;
            lat = lat.checked_add(*d_lat).ok_or(BAD_SUM)?;
            let tags = next_dense_tags(&mut keys_values, strings)?;
            visit(Node { id, lon_lat_e9: self.place(lon, lat)?, tags });
        }
        Ok(())
    }

    fn groups(&self) -> impl Iterator<Item = &PrimitiveGroup> {
        self.message.primitivegroup.iter()
    }

    /// Longitude and latitude in 1e-9 degrees from a block's own units.
    fn place(&self, lon: i64, lat: i64) -> Result<(i64, i64), Damage> {
        let granularity = i64::from(self.message.granularity());
        let scaled = |v: i64, offset: i64| v.checked_mul(granularity)?.checked_add(offset);
        scaled(lon, self.message.lon_offset()).zip(scaled(lat, self.message.lat_offset())).ok_or(BAD_SUM)
    }
}

/// Takes the tags of one dense node off the front of `(key value)* 0 ...`.
fn next_dense_tags<'a>(rest: &mut &[i32], strings: &'a Strings<'a>) -> Result<Tags<'a>, Damage> {
    let mut pairs = Vec::new();
    let mut wanted = false;
    loop {
        match *rest {
            [] => break,
            [0, tail @ ..] => {
                *rest = tail;
                break;
            }
            [key, value, tail @ ..] => {
                let key = usize::try_from(*key).map_err(|_| BAD_INDEX)?;
                let value = usize::try_from(*value).map_err(|_| BAD_INDEX)?;
                wanted |= strings.is_wanted(key);
                pairs.push((strings.get(key)?, strings.get(value)?));
                *rest = tail;
            }
            [_] => return Err(BAD_LENGTHS),
        }
    }
    Ok(if wanted { Tags(pairs) } else { Tags::default() })
}
