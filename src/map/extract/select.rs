//! What is kept of one block: drafts of ways, relations and nodes, tags parsed, places unknown.
//!
//! In: a decoded block. Out: small owned drafts; everything of no interest is dropped here, so memory
//! grows with what is wanted and not with the file.
use super::features::{self, Feature};
use super::pbf::{Block, BlockWay, Damage, Relation, Tags};
use super::steps::ids;
use super::tags::Issues;
use crate::base::geodesy::Position;
use serde::{Deserialize, Serialize};

/// Keys that say how an object was made, not what it is.
const SILENT_KEYS: [&str; 8] = ["type", "source", "created_by", "note", "fixme", "FIXME", "attribution", "source:date"];

/// A way that becomes something, or that a wanted relation is made of.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(crate) struct WayDraft {
    /// Way id.
    pub id: i64,
    /// Node ids.
    #[serde(with = "ids")]
    pub refs: Vec<i64>,
    /// What its tags describe.
    pub features: Vec<Feature>,
    /// Trouble in its tags.
    pub issues: Issues,
}

impl WayDraft {
    /// Whether its first and last node are the same and it encloses something.
    pub fn closed(&self) -> bool {
        self.refs.len() >= 4 && self.refs.first() == self.refs.last()
    }
}

/// A multipolygon relation that becomes something.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(crate) struct RelationDraft {
    /// Relation id.
    pub id: i64,
    /// Ways of the outer rings.
    pub outers: Vec<i64>,
    /// Ways of the holes.
    pub inners: Vec<i64>,
    /// What its tags describe; empty for old-style relations, whose outer ways carry the tags.
    pub features: Vec<Feature>,
    /// Trouble in its tags.
    pub issues: Issues,
}

/// The wanted member ways of all relations, sorted.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Members {
    /// Ways of any wanted relation.
    pub all: Vec<i64>,
    /// Ways of relations without tags of their own.
    pub old_style: Vec<i64>,
}

impl Members {
    /// The members of some relations.
    pub fn of(relations: &[RelationDraft]) -> Self {
        let mut members = Self::default();
        members.extend(relations);
        members.sort();
        members
    }
    /// Adds those of more relations, not yet in order.
    pub fn extend(&mut self, relations: &[RelationDraft]) {
        for relation in relations {
            let ways = relation.outers.iter().chain(&relation.inners).copied();
            if relation.features.is_empty() {
                self.old_style.extend(ways.clone());
            }
            self.all.extend(ways);
        }
    }
    /// Brings them in order, each once.
    pub fn sort(&mut self) {
        for list in [&mut self.all, &mut self.old_style] {
            list.sort_unstable();
            list.dedup();
        }
    }
}

/// Relations of a block: how many there are, and those wanted.
pub fn relations(block: &Block) -> Result<(u64, Vec<RelationDraft>), Damage> {
    let strings = block.strings(&[]);
    let (mut count, mut drafts) = (0, Vec::new());
    block.relations(&strings, |relation| {
        count += 1;
        drafts.extend(relation_draft(&relation));
    })?;
    Ok((count, drafts))
}

fn relation_draft(relation: &Relation) -> Option<RelationDraft> {
    if !relation.tags.is("type", "multipolygon") {
        return None;
    }
    let mut issues = Issues::default();
    let features = features::of_relation(&relation.tags, &mut issues);
    let untagged = relation.tags.keys().all(|k| SILENT_KEYS.contains(&k));
    if features.is_empty() && !untagged {
        return None;
    }
    let with_role = |wanted: &[&str]| {
        relation.members.iter().filter(|(_, role)| wanted.contains(role)).map(|(id, _)| *id).collect()
    };
    let (outers, inners) = (with_role(&["outer", "outline", ""]), with_role(&["inner"]));
    Some(RelationDraft { id: relation.id, outers, inners, features, issues })
}

/// Ways of a block: how many there are, and those wanted.
pub fn ways(block: &Block, members: &Members) -> Result<(u64, Vec<WayDraft>), Damage> {
    let strings = block.strings(&features::KEYS);
    let (mut count, mut drafts) = (0, Vec::new());
    block.ways(&strings, |way| {
        count += 1;
        drafts.extend(way_draft(way, members));
    })?;
    Ok((count, drafts))
}

fn way_draft(way: BlockWay, members: &Members) -> Option<WayDraft> {
    let mut issues = Issues::default();
    let ring = way.refs.len() >= 4 && way.refs.first() == way.refs.last();
    // The pieces of an old-style outer ring carry area tags without being closed.
    let as_area = ring || members.old_style.binary_search(&way.id).is_ok();
    let features = features::of_way(&way.tags, as_area, &mut issues);
    let wanted = !features.is_empty() || members.all.binary_search(&way.id).is_ok();
    wanted.then_some(WayDraft { id: way.id, refs: way.refs, features, issues })
}

/// A node that is a feature by itself.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(crate) struct PointDraft {
    /// Node id.
    pub id: i64,
    /// Its features, complete.
    pub features: Vec<Feature>,
    /// Trouble in its tags.
    pub issues: Issues,
}

/// Sorts points by id; of those that a file holds twice the first is kept.
pub(crate) fn once_points(points: &mut Vec<PointDraft>) {
    points.sort_by_key(|p| p.id);
    points.dedup_by_key(|p| p.id);
}

/// Sorts ways by id; of those that a file holds twice the one with the smallest references is kept.
pub(crate) fn once_ways<T>(ways: &mut Vec<T>, draft: impl Fn(&T) -> &WayDraft) {
    ways.sort_by(|a, b| {
        let (a, b) = (draft(a), draft(b));
        (a.id, &a.refs).cmp(&(b.id, &b.refs))
    });
    ways.dedup_by_key(|w| draft(w).id);
}

/// Sorts relations by id; of those that a file holds twice the one with the smallest members is kept.
pub(crate) fn once_relations(relations: &mut Vec<RelationDraft>) {
    relations.sort_by(|a, b| (a.id, &a.outers, &a.inners).cmp(&(b.id, &b.outers, &b.inners)));
    relations.dedup_by_key(|r| r.id);
}

/// What the nodes of one block give.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct NodeHarvest<K> {
    /// Nodes in the block.
    pub count: u64,
    /// Places of wanted nodes.
    pub places: Vec<(K, Position)>,
    /// Features.
    pub points: Vec<PointDraft>,
    /// Wanted and tagged nodes whose coordinates are not on the earth, and whether they have tags.
    pub bad: Vec<(i64, bool)>,
}

/// Nodes of a block: places of those that `find` knows, by what it knows them by, and features of their own.
pub fn nodes<K>(block: &Block, mut find: impl FnMut(i64) -> Option<K>) -> Result<NodeHarvest<K>, Damage> {
    let strings = block.strings(&["natural", "amenity", "tourism", "highway", "barrier", "place", "mountain_pass"]);
    let mut harvest = NodeHarvest { count: 0, places: Vec::new(), points: Vec::new(), bad: Vec::new() };
    block.nodes(&strings, |node| {
        harvest.count += 1;
        let wanted = find(node.id);
        let tagged = node.tags != Tags::default();
        if wanted.is_none() && !tagged {
            return;
        }
        let Some(at) = position(node.lon_lat_e9) else {
            harvest.bad.push((node.id, tagged));
            return;
        };
        harvest.places.extend(wanted.map(|by| (by, at)));
        if tagged {
            let mut issues = Issues::default();
            let features = features::of_node(node.id, at, &node.tags, &mut issues);
            if !features.is_empty() {
                harvest.points.push(PointDraft { id: node.id, features, issues });
            }
        }
    })?;
    Ok(harvest)
}

/// A position from 1e-9 degrees, where it is one.
fn position((lon_e9, lat_e9): (i64, i64)) -> Option<Position> {
    const E9: i64 = 1_000_000_000;
    let valid = (-180 * E9..=180 * E9).contains(&lon_e9) && (-90 * E9..=90 * E9).contains(&lat_e9);
    let e7 = |e9: i64| i32::try_from((e9 + 50).div_euclid(100)).ok();
    valid.then_some(())?;
    Some(Position { lon_e7: e7(lon_e9)?, lat_e7: e7(lat_e9)? })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn positions_are_rounded_and_checked() {
        assert_eq!(
            position((1_234_567_890, -1_234_567_890)),
            Some(Position { lon_e7: 12_345_679, lat_e7: -12_345_679 })
        );
        assert_eq!(
            position((180_000_000_000, 90_000_000_000)),
            Some(Position { lon_e7: 1_800_000_000, lat_e7: 900_000_000 })
        );
        assert_eq!(position((180_000_000_001, 0)), None);
        assert_eq!(position((0, -90_000_000_001)), None);
    }
}
