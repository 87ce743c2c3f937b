//! From drafts and node places to the extract: lines, areas, polygons with holes.
//!
//! In: drafts in any order, the node table. Out: features in order of id, nodes before ways before
//! relations where ids are equal, and the defects in the same order.
use std::collections::HashSet;

use super::features::Feature;
use super::model::Extract;
use super::nodes::{NodeTable, UNKNOWN};
use super::polygons::Polygons;
use super::select::{Members, PointDraft, RelationDraft, WayDraft, once_points, once_relations, once_ways};
use super::shape::{Assembled, vast, way_features};
use crate::base::defect::Defect;

/// Drafts of everything wanted.
#[derive(Debug, Default)]
pub(crate) struct Drafts {
    /// Nodes that are features.
    pub points: Vec<PointDraft>,
    /// Ways.
    pub ways: Vec<WayDraft>,
    /// Relations.
    pub relations: Vec<RelationDraft>,
    /// Nodes whose coordinates are not on the earth.
    pub bad_nodes: Vec<i64>,
}

/// Puts the drafts together; the result's `info` is empty.
pub(crate) fn assemble(mut drafts: Drafts, table: &NodeTable) -> Extract {
    drafts.sort();
    let mut out = Assembled::default();
    for id in drafts.bad_nodes {
        out.defects.add(Defect::BadCoordinate, || format!("node {id}"));
    }
    for point in drafts.points {
        out.note("node", point.id, &point.issues);
        out.features.extend(point.features.into_iter().map(|f| (point.id, f)));
    }
    // Relations come last, but decide which ways are drawn twice.
    let members = Members::of(&drafts.relations);
    let mut late = Assembled::default();
    let mut twice = HashSet::new();
    for relation in &drafts.relations {
        Polygons { ways: &drafts.ways, place: &|id| table.place(id), out: &mut late, twice: &mut twice }
            .build(relation);
    }
    for (index, way) in drafts.ways.into_iter().enumerate() {
        let member = members.all.binary_search(&way.id).is_ok();
        let places: Vec<_> = way.refs.iter().map(|id| table.place(*id).unwrap_or(UNKNOWN)).collect();
        way_features(way, &places, member, |kind| twice.contains(&(index, kind)), &mut out);
    }
    out.defects.merge(late.defects);
    out.features.extend(late.features);
    finish(out)
}

impl Drafts {
    /// Sorts by id and drops objects that a file holds twice.
    fn sort(&mut self) {
        once_points(&mut self.points);
        once_ways(&mut self.ways, |way| way);
        once_relations(&mut self.relations);
        self.bad_nodes.sort_unstable();
        self.bad_nodes.dedup();
    }
}

/// Features in order.
fn finish(mut all: Assembled) -> Extract {
    // Stable: pieces stay in way order, and nodes stay before ways before relations.
    all.features.sort_by_key(|(id, _)| *id);
    let mut extract = Extract { defects: all.defects, ..Extract::default() };
    for (_, feature) in all.features {
        if let Some(example) = vast(&feature) {
            extract.defects.add(Defect::VastBuilding, || example);
            continue;
        }
        match feature {
            Feature::Road(road) => extract.roads.push(*road),
            Feature::Canopy(canopy) => extract.canopy.push(canopy),
            Feature::Building(building) => extract.buildings.push(building),
            Feature::Barrier(barrier) => extract.barriers.push(barrier),
            Feature::Deck(deck) => extract.decks.push(deck),
            Feature::Stop(stop) => extract.stops.push(stop),
            Feature::Barred(barred) => extract.barred.push(barred),
            Feature::GroundCover(cover) => extract.covers.push(cover),
            Feature::TollBooth(booth) => extract.toll_booths.push(booth),
            Feature::Backdrop(thing) => extract.backdrop.push(*thing),
        }
    }
    extract
}
