//! The map's nodes along a segment, as stored: what tables by pairs of nodes are made from.
//!
//! Packed, since ids of a way are near each other: variable-length integers of seven bits a byte, low bits first, the highest
//! bit set in all bytes but the last. The first holds in its lowest bit whether the line begins where it was cut, between two
//! nodes, and above that how many nodes lie at the place of the node before them; then the positions of these in the list,
//! each as its step from the one before; then every id as its step from the one before, the sign in the lowest bit (zigzag).
use rusqlite::types::{ToSqlOutput, Value, ValueRef};

use super::columns::{Bytes, ColumnKind};

/// A node of the map at a vertex of a line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct WayNode {
    /// Place of the vertex, from 0.
    pub vertex: u32,
    /// Id of the node in the map.
    pub id: i64,
}

/// A row of `way_nodes` (no geometry): the nodes of the map along a segment.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct WayNodesRow {
    /// The segment.
    pub segment_id: i64,
    /// In the order of the line. Vertices without one are ends where the segment was cut between two nodes.
    pub nodes: Vec<WayNode>,
}

/// Nodes as bytes.
pub(super) struct PackedNodes;
impl ColumnKind for PackedNodes {
    type Value = Vec<WayNode>;
    const SQL: &'static str = Bytes::SQL;
    fn store(value: &Vec<WayNode>) -> Result<ToSqlOutput<'_>, String> {
        Ok(ToSqlOutput::Owned(Value::Blob(pack(value)?)))
    }
    fn load(stored: ValueRef<'_>) -> Result<Vec<WayNode>, String> {
        unpack(&Bytes::load(stored)?)
    }
}

fn pack(nodes: &[WayNode]) -> Result<Vec<u8>, String> {
    let begins_cut = nodes.first().is_none_or(|node| node.vertex > 0);
    let mut together = Vec::new();
    let mut next = u32::from(begins_cut);
    for (place, node) in (0..).zip(nodes) {
        match node.vertex {
            vertex if vertex == next => next += 1,
            vertex if place > 0 && vertex + 1 == next => together.push(place),
            vertex => return Err(format!("node {} at vertex {vertex} is out of order", node.id)),
        }
    }
    let mut bytes = Vec::with_capacity(8 + 2 * nodes.len());
    put(&mut bytes, 2 * together.len() as u64 + u64::from(begins_cut));
    let mut before = 0;
    for place in together {
        put(&mut bytes, place - before);
        before = place;
    }
    let mut id = 0_i64;
    for node in nodes {
        let step = node.id.wrapping_sub(id);
        put(&mut bytes, ((step << 1) ^ (step >> 63)) as u64);
        id = node.id;
    }
    Ok(bytes)
}

fn unpack(bytes: &[u8]) -> Result<Vec<WayNode>, String> {
    let mut rest = bytes;
    let head = take(&mut rest)?;
    let (begins_cut, together) = (head & 1, head >> 1);
    // Each takes a byte at least: a damaged count asks for no more than is there.
    if together > rest.len() as u64 {
        return Err("ends early".to_owned());
    }
    let mut places = Vec::with_capacity(together as usize);
    let mut before = 0_u64;
    for _ in 0..together {
        before = match (take(&mut rest)?, before) {
            (0, _) => return Err("holds a place twice".to_owned()),
            (step, before) => before.checked_add(step).ok_or("holds a place beyond its end")?,
        };
        places.push(before);
    }
    let mut nodes = Vec::with_capacity(rest.len());
    let (mut id, mut next, mut places) = (0_i64, begins_cut as u32, places.into_iter().peekable());
    if rest.is_empty() && !(begins_cut == 1 && together == 0) {
        return Err("ends early".to_owned());
    }
    while !rest.is_empty() {
        let step = take(&mut rest)?;
        id = id.wrapping_add((step >> 1) as i64 ^ -((step & 1) as i64));
        // Never 0 before a place of the list, which begins with 1.
        let vertex = match places.next_if_eq(&(nodes.len() as u64)) {
            Some(_) => next.saturating_sub(1),
            None => next,
        };
        next = vertex + 1;
        nodes.push(WayNode { vertex, id });
    }
    match places.next() {
        Some(_) => Err("holds a place beyond its end".to_owned()),
        None => Ok(nodes),
    }
}

fn put(bytes: &mut Vec<u8>, mut number: u64) {
    while number >= 0x80 {
        bytes.push(number as u8 | 0x80);
        number >>= 7;
    }
    bytes.push(number as u8);
}

fn take(rest: &mut &[u8]) -> Result<u64, String> {
    let mut number = 0_u64;
    for shift in (0..64).step_by(7) {
        let (byte, after) = rest.split_first().ok_or("ends early")?;
        *rest = after;
        let bits = u64::from(byte & 0x7f);
        if bits << shift >> shift != bits {
            break;
        }
        number |= bits << shift;
        if byte & 0x80 == 0 {
            return Ok(number);
        }
    }
    Err("holds a number of more than 64 bits".to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn nodes(of: &[(u32, i64)]) -> Vec<WayNode> {
        of.iter().map(|(vertex, id)| WayNode { vertex: *vertex, id: *id }).collect()
    }

    #[test]
    fn bytes_are_those_of_the_form_that_is_described() {
        assert_eq!(pack(&nodes(&[])).unwrap(), [1]);
        // 5 is 10 as a step with its sign in the lowest bit, -1 is 1, 64 is 128.
        assert_eq!(pack(&nodes(&[(0, 5), (1, 4), (2, 68)])).unwrap(), [0, 10, 1, 0x80, 1]);
        assert_eq!(pack(&nodes(&[(1, 5), (1, 6), (2, 7)])).unwrap(), [3, 1, 10, 2, 2]);
    }

    #[test]
    fn nodes_that_no_line_has_are_refused() {
        for bad in [&[(2, 5)][..], &[(0, 5), (2, 6)], &[(1, 5), (0, 6)], &[(0, 1), (1, 2), (1, 3), (0, 4)]] {
            assert!(pack(&nodes(bad)).unwrap_err().contains("out of order"), "{bad:?}");
        }
    }

    #[test]
    fn damage_is_told_and_asks_for_no_memory() {
        let ten = [0xff; 10];
        for (bytes, fact) in [
            (&[][..], "ends early"),
            (&[0x80][..], "ends early"),
            (&[0][..], "ends early"),
            (&[0, 0x80][..], "ends early"),
            (&[0xfe, 0xff, 0xff, 0xff, 0x0f, 1][..], "ends early"),
            (&ten[..], "more than 64 bits"),
            (&[4, 1, 0, 2, 2][..], "a place twice"),
            (&[2, 9, 2, 2][..], "beyond its end"),
        ] {
            assert!(unpack(bytes).unwrap_err().contains(fact), "{bytes:?}: {:?}", unpack(bytes));
        }
    }

    proptest::proptest! {
        #[test]
        fn what_is_packed_is_unpacked(
            begins_cut in proptest::bool::ANY,
            ids in proptest::collection::vec((proptest::num::i64::ANY, proptest::bool::ANY), 0..20),
            large in proptest::bool::ANY,
        ) {
            let begins_cut = begins_cut || ids.is_empty();
            let mut next = u32::from(begins_cut);
            let place = |(place, (id, together)): (usize, &(i64, bool))| {
                let vertex = if *together && place > 0 { next - 1 } else { next };
                next = vertex + 1;
                WayNode { vertex, id: if large { *id } else { id % 1_000 } }
            };
            let nodes: Vec<WayNode> = ids.iter().enumerate().map(place).collect();
            proptest::prop_assert_eq!(unpack(&pack(&nodes).unwrap()), Ok(nodes));
        }
        #[test]
        fn any_bytes_are_nodes_in_order_or_told_to_be_damaged(bytes in proptest::collection::vec(proptest::num::u8::ANY, 0..40)) {
            if let Ok(nodes) = unpack(&bytes) {
                proptest::prop_assert!(nodes.windows(2).all(|w| w[1].vertex.wrapping_sub(w[0].vertex) <= 1));
            }
        }
    }
}
