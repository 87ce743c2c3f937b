//! The polygons of one relation, and which of its ways it draws.
use std::collections::HashSet;

use super::features::{AreaKind, Feature};
use super::model::Ring;
use super::rings::{self, IdRing};
use super::select::{RelationDraft, WayDraft};
use super::shape::{Assembled, area_feature, ring};
use crate::base::defect::Defect;
use crate::base::geodesy::Position;
use crate::base::words::MapObject;

/// Builds one relation's polygons.
pub(crate) struct Polygons<'a> {
    /// Ways in order of id, those of the relation among them.
    pub ways: &'a [WayDraft],
    /// The places of their nodes, where known.
    pub place: &'a dyn Fn(i64) -> Option<Position>,
    /// Takes features and defects.
    pub out: &'a mut Assembled,
    /// Ways whose own feature of a kind is the same as a relation's, by their index.
    pub twice: &'a mut HashSet<(usize, AreaKind)>,
}

impl Polygons<'_> {
    /// Builds one relation. What covers the ground and the backdrop hide nothing: trouble with them alone is not worth a word.
    pub fn build(&mut self, relation: &RelationDraft) {
        let is_quiet = |f: &Feature| f.area_kind().is_some_and(AreaKind::is_quiet);
        let quiet = !relation.features.is_empty() && relation.features.iter().all(is_quiet);
        let before = std::mem::take(&mut self.out.defects);
        self.build_loud(relation);
        let met = std::mem::replace(&mut self.out.defects, before);
        if !quiet {
            self.out.defects.merge(met);
        }
    }

    fn build_loud(&mut self, relation: &RelationDraft) {
        self.out.note("relation", relation.id, &relation.issues);
        let outers = self.id_rings(relation, &relation.outers);
        let inners = self.id_rings(relation, &relation.inners);
        let features =
            if relation.features.is_empty() { self.old_style(&outers, &inners) } else { relation.features.clone() };
        if features.is_empty() {
            return;
        }
        self.mark(&outers, &features);
        let solid = self.rings(relation, &outers);
        let holes = self.rings(relation, &inners);
        let (areas, stray) = rings::polygons(solid, holes);
        for _ in 0..stray {
            self.out.defects.add(Defect::StrayRing, || format!("relation {}", relation.id));
        }
        for feature in &features {
            for area in &areas {
                let drawn = area_feature(feature.clone(), (MapObject::Relation, relation.id), area.clone());
                self.out.features.extend(drawn.map(|feature| (relation.id, feature)));
            }
        }
    }

    /// Closed rings of member ways; the ring's ways are indices into all ways.
    fn id_rings(&mut self, relation: &RelationDraft, members: &[i64]) -> Vec<IdRing> {
        let mut found: Vec<usize> = Vec::with_capacity(members.len());
        let mut seen = HashSet::new();
        for id in members {
            match self.ways.binary_search_by_key(id, |w| w.id) {
                Ok(index) if seen.insert(index) => found.push(index),
                Ok(_) => {}
                Err(_) => self.out.defects.add(Defect::MissingMember, || format!("relation {}: way {id}", relation.id)),
            }
        }
        let refs: Vec<&[i64]> = found.iter().map(|i| self.ways[*i].refs.as_slice()).collect();
        let (mut rings, open) = rings::assemble(&refs);
        for _ in 0..open {
            self.out.defects.add(Defect::OpenRing, || format!("relation {}", relation.id));
        }
        for way in rings.iter_mut().flat_map(|r| &mut r.ways) {
            *way = found[*way];
        }
        rings
    }

    /// Positions of rings; those of which too few nodes are known are counted and left out.
    fn rings(&mut self, relation: &RelationDraft, id_rings: &[IdRing]) -> Vec<Ring> {
        let mut known = Vec::with_capacity(id_rings.len());
        for id_ring in id_rings {
            match ring(id_ring.nodes.iter().filter_map(|id| (self.place)(*id))) {
                Some(ring) => known.push(ring),
                None => self.out.defects.add(Defect::OpenRing, || format!("relation {}", relation.id)),
            }
        }
        known
    }

    /// Notes that outer ways which say the same as the relation are drawn by it.
    fn mark(&mut self, outers: &[IdRing], features: &[Feature]) {
        for way in outers.iter().flat_map(|r| &r.ways) {
            self.twice.extend(features.iter().filter_map(Feature::area_kind).map(|kind| (*way, kind)));
        }
    }

    /// Features of a relation without tags: those of its outer ways. A hole tagged the same as the
    /// outer ways was, in that style, a hole and nothing else.
    fn old_style(&mut self, outers: &[IdRing], inners: &[IdRing]) -> Vec<Feature> {
        let outer_ways = outers.iter().flat_map(|r| &r.ways);
        let areas = |way: &usize| self.ways[*way].features.iter().filter(|f| f.area_kind().is_some());
        let Some(tagged) = outer_ways.copied().find(|w| areas(w).next().is_some()) else {
            return Vec::new();
        };
        let features: Vec<Feature> = areas(&tagged).cloned().collect();
        for inner in inners.iter().flat_map(|r| &r.ways) {
            let same = areas(inner).filter(|f| features.contains(f)).filter_map(Feature::area_kind);
            self.twice.extend(same.map(|kind| (*inner, kind)));
        }
        features
    }
}
