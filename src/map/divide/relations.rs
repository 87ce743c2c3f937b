//! Relations with the ways they are made of. In memory are the relations of one share and their ways; the largest single
//! relation is the least that must fit.
use std::collections::HashSet;

use super::filing::Filing;
use super::passes::Passes;
use super::ways::PlacedWay;
use crate::base::error::Result;
use crate::base::spill::Spilled;
use crate::map::extract::features::AreaKind;
use crate::map::extract::nodes::{NodeTable, known};
use crate::map::extract::polygons::Polygons;
use crate::map::extract::select::{Members, RelationDraft, WayDraft, once_relations};
use crate::map::extract::shape::Assembled;

/// The ways that the relations of one share are made of.
///
/// # Errors
/// The disk fails.
pub(super) fn members(passes: &Passes, share: u32) -> Result<Vec<i64>> {
    Ok(Members::of(&once(passes, share)?).all)
}

fn once(passes: &Passes, share: u32) -> Result<Vec<RelationDraft>> {
    let mut relations = passes.relations.all(share)?;
    once_relations(&mut relations);
    Ok(relations)
}

/// What one share of relations gives.
pub(super) struct RelationsDone<'a> {
    /// Their features.
    pub filing: Filing<'a>,
    /// Ways, and what of them is drawn by a relation.
    pub drawn: Vec<(i64, AreaKind)>,
}

/// Builds the polygons of one share; `ways` are the [`PlacedWay`]s they are made of.
///
/// # Errors
/// The disk fails.
pub(super) fn build<'a>(
    passes: &Passes,
    ways: &Spilled<u32>,
    share: u32,
    mut filing: Filing<'a>,
) -> Result<RelationsDone<'a>> {
    let relations = once(passes, share)?;
    let mut placed: Vec<PlacedWay> = ways.all(share)?;
    placed.sort_by_key(|way| way.draft.id);
    let mut table = NodeTable::of(placed.iter().flat_map(|way| way.draft.refs.iter().copied()).collect());
    for way in &placed {
        for (id, at) in way.draft.refs.iter().zip(&way.places) {
            if let Some((index, at)) = table.find(*id, &mut 0).zip(known(*at)) {
                table.set(index, at);
            }
        }
    }
    let ways: Vec<WayDraft> = placed.into_iter().map(|way| way.draft).collect();
    let mut twice = HashSet::new();
    for relation in &relations {
        let mut out = Assembled::default();
        Polygons { ways: &ways, place: &|id| table.place(id), out: &mut out, twice: &mut twice }.build(relation);
        filing.file_relation(relation.id, out)?;
    }
    let mut drawn: Vec<(usize, AreaKind)> = twice.into_iter().collect();
    drawn.sort_unstable_by_key(|(way, _)| *way);
    Ok(RelationsDone { filing, drawn: drawn.into_iter().map(|(way, kind)| (ways[way].id, kind)).collect() })
}
