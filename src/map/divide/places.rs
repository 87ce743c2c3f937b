//! The places of nodes brought to the ways that use them.
use super::filing::Filing;
use super::passes::{NodeNews, NodeUses, Passes, place_steps, stepped};
use crate::base::defect::{Defect, Defects};
use crate::base::error::Result;
use crate::base::geodesy::Position;
use crate::base::spill::{Records, packed};
use crate::map::extract::nodes::NodeTable;
use crate::map::extract::select::once_points;
use crate::map::extract::shape::Assembled;

/// What one share of nodes gives.
pub(super) struct Joined<'a> {
    /// Slots and places in the lists of the ways' shares, packed ([`place_steps`]).
    pub places: Vec<(u32, Vec<u8>)>,
    /// Nodes that are something by themselves, and trouble.
    pub filing: Filing<'a>,
    /// Nodes without a place that ways use.
    pub missing: u64,
    /// Nodes that ways use.
    pub wanted: u64,
}

/// Joins one share.
///
/// # Errors
/// The disk fails.
pub(super) fn join<'a>(passes: &Passes, share: u32, mut filing: Filing<'a>) -> Result<Joined<'a>> {
    let uses: Vec<NodeUses> = passes.uses.all(share)?;
    let mut table = NodeTable::of(uses.iter().flat_map(|u| u.ids.iter().copied()).collect());
    let (mut points, mut bad) = (Vec::new(), Vec::new());
    let mut hint = 0;
    for news in Records::of(&passes.nodes.read(share)?) {
        match news? {
            NodeNews::Places(steps) => {
                for (id, at) in stepped(&steps) {
                    if let Some(index) = table.find(id, &mut hint) {
                        table.set(index, at);
                    }
                }
            }
            NodeNews::Point(point) => points.push(point),
            NodeNews::Bad(id, tagged) => bad.push((id, !tagged)),
        }
    }
    // Those with tags first: they are told of even where no way uses them.
    bad.sort_unstable();
    bad.dedup_by_key(|(id, _)| *id);
    for (id, untagged) in bad {
        if !untagged || table.find(id, &mut 0).is_some() {
            let mut met = Defects::default();
            met.add(Defect::BadCoordinate, || format!("node {id}"));
            filing.note_node(id, met);
        }
    }
    once_points(&mut points);
    for point in points {
        let mut out = Assembled::default();
        out.note("node", point.id, &point.issues);
        out.features.extend(point.features.into_iter().map(|f| (point.id, f)));
        filing.file_node(point.id, out)?;
    }
    let (missing, wanted) = table.missing();
    Ok(Joined { places: by_way_share(uses, &table)?, filing, missing: missing as u64, wanted: wanted as u64 })
}

fn by_way_share(uses: Vec<NodeUses>, table: &NodeTable) -> Result<Vec<(u32, Vec<u8>)>> {
    let mut found: Vec<(u32, i64, Position)> = Vec::with_capacity(uses.iter().map(|u| u.ids.len()).sum());
    for one in uses {
        let slots = one.slot as i64..;
        found.extend(slots.zip(&one.ids).filter_map(|(slot, id)| Some((one.way_share, slot, table.place(*id)?))));
    }
    found.sort_unstable_by_key(|(share, slot, _)| (*share, *slot));
    let mut out = Vec::new();
    for share in found.chunk_by(|a, b| a.0 == b.0) {
        let places: Vec<(i64, Position)> = share.iter().map(|(_, slot, at)| (*slot, *at)).collect();
        out.extend(share.first().map(|first| packed(&place_steps(&places)).map(|bytes| (first.0, bytes))));
    }
    out.into_iter().collect()
}
