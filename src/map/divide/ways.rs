//! Ways with the places of their nodes: those that no relation is made of become features at once, the others wait.
use std::collections::HashSet;

use serde::{Deserialize, Serialize};

use super::filing::Filing;
use super::passes::{Passes, stepped};
use crate::base::error::Result;
use crate::base::geodesy::Position;
use crate::base::spill::{Records, Spilled, packed};
use crate::map::extract::features::AreaKind;
use crate::map::extract::nodes::UNKNOWN;
use crate::map::extract::select::{WayDraft, once_ways};
use crate::map::extract::shape::{Assembled, way_features};
use crate::map::extract::steps::line;

/// A way and the places of its nodes, [`UNKNOWN`] where the extract does not hold one.
#[derive(Debug, Serialize, Deserialize)]
pub(super) struct PlacedWay {
    pub draft: WayDraft,
    #[serde(with = "line")]
    pub places: Vec<Position>,
}

/// What one share of ways gives.
pub(super) struct WaysDone<'a> {
    /// Features of those that no relation is made of.
    pub filing: Filing<'a>,
    /// [`PlacedWay`]s that relations are made of, by the shares of these relations.
    pub of_relations: Vec<(u32, Vec<u8>)>,
    /// The same for the way's own features, each once.
    pub waiting: Vec<u8>,
}

/// Completes one share of ways. `places` are slots and places by share, `members` the ways and shares of relations.
///
/// # Errors
/// The disk fails.
pub(super) fn complete<'a>(
    passes: &Passes,
    places: &Spilled<u32>,
    members: &Spilled<u32>,
    share: u32,
    mut filing: Filing<'a>,
) -> Result<WaysDone<'a>> {
    let drafts: Vec<WayDraft> = passes.ways.all(share)?;
    let mut slots = vec![UNKNOWN; drafts.iter().map(|way| way.refs.len()).sum()];
    for steps in Records::<Vec<(i64, i64, i64)>>::of(&places.read(share)?) {
        for (slot, at) in stepped(&steps?) {
            if let Some(place) = usize::try_from(slot).ok().and_then(|slot| slots.get_mut(slot)) {
                *place = at;
            }
        }
    }
    let mut rest = slots.as_slice();
    let mut ways: Vec<(WayDraft, &[Position])> = Vec::with_capacity(drafts.len());
    for way in drafts {
        let (own, behind) = rest.split_at(way.refs.len());
        rest = behind;
        ways.push((way, own));
    }
    once_ways(&mut ways, |(way, _)| way);
    let mut members: Vec<(i64, u32)> = members.all(share)?;
    members.sort_unstable();
    members.dedup();
    let (mut of_relations, mut waiting) = (Vec::new(), Vec::new());
    for (draft, places) in ways {
        let from = members.partition_point(|(id, _)| *id < draft.id);
        let own = members[from..].chunk_by(|a, b| a.0 == b.0).next().filter(|own| own[0].0 == draft.id);
        let Some(own) = own else {
            let (id, mut out) = (draft.id, Assembled::default());
            way_features(draft, places, false, |_| false, &mut out);
            filing.file_way(id, out)?;
            continue;
        };
        let way = packed(&PlacedWay { draft, places: places.to_vec() })?;
        of_relations.extend(own.iter().map(|(_, share)| (*share, way.clone())));
        waiting.extend(way);
    }
    Ok(WaysDone { filing, of_relations, waiting })
}

/// The features of the ways of one share that relations are made of; `drawn` are ways and what a relation draws of them.
///
/// # Errors
/// The disk fails.
pub(super) fn finish<'a>(
    waiting: &Spilled<u32>,
    drawn: &Spilled<u32>,
    share: u32,
    mut filing: Filing<'a>,
) -> Result<Filing<'a>> {
    let drawn: HashSet<(i64, AreaKind)> = drawn.all(share)?.into_iter().collect();
    for way in Records::<PlacedWay>::of(&waiting.read(share)?) {
        let PlacedWay { draft, places } = way?;
        let (id, mut out) = (draft.id, Assembled::default());
        way_features(draft, &places, true, |kind| drawn.contains(&(id, kind)), &mut out);
        filing.file_way(id, out)?;
    }
    Ok(filing)
}
