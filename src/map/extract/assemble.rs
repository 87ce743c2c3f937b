//! From drafts and node places to the extract: lines, areas, polygons with holes.
//!
//! In: drafts in any order, the node table. Out: features in order of id, nodes before ways before
//! relations where ids are equal, and the defects in the same order.
use std::collections::HashSet;

use super::features::{AreaKind, Feature};
use super::model::{Area, Extract, LARGEST_BUILDING_M2, Ring, Road, RoadNode};
use super::nodes::NodeTable;
use super::rings::{self, IdRing};
use super::select::{Members, PointDraft, RelationDraft, WayDraft};
use super::tags::Issues;
use crate::base::defect::{Defect, Defects};
use crate::base::geodesy::{Position, distance_m};
use crate::base::words::{MapObject, RoadClass};

/// Nodes that follow each other on a road lie at most this far apart, metres: the longest straight roads have nodes every few
/// kilometres (assumed).
const STEP_M: f64 = 50_000.0;
/// The same for ferries, which may cross a sea in one line (assumed).
const FERRY_STEP_M: f64 = 500_000.0;
/// Roads farther from the equator are left out, degrees: planes and directions of the map lose their meaning at the poles.
const FARTHEST_LAT_DEG: f64 = 89.9;

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
        Polygons { ways: &drafts.ways, table, out: &mut late, twice: &mut twice }.build(relation);
    }
    for (index, way) in drafts.ways.into_iter().enumerate() {
        out.note("way", way.id, &way.issues);
        let member = members.all.binary_search(&way.id).is_ok();
        way_features(way, member, table, |kind| twice.contains(&(index, kind)), &mut out);
    }
    out.defects.merge(late.defects);
    out.features.extend(late.features);
    out.finish()
}

impl Drafts {
    /// Sorts by id and drops objects that a file holds twice.
    fn sort(&mut self) {
        self.points.sort_by_key(|p| p.id);
        self.points.dedup_by_key(|p| p.id);
        self.ways.sort_by(|a, b| (a.id, &a.refs).cmp(&(b.id, &b.refs)));
        self.ways.dedup_by_key(|w| w.id);
        self.relations.sort_by(|a, b| (a.id, &a.outers, &a.inners).cmp(&(b.id, &b.outers, &b.inners)));
        self.relations.dedup_by_key(|r| r.id);
        self.bad_nodes.sort_unstable();
        self.bad_nodes.dedup();
    }
}

/// Features with the id they are sorted by, and defects.
#[derive(Default)]
struct Assembled {
    features: Vec<(i64, Feature)>,
    defects: Defects,
}

impl Assembled {
    fn note(&mut self, kind: &str, id: i64, issues: &Issues) {
        for (defect, tag) in issues.iter() {
            self.defects.add(defect, || format!("{kind} {id}: {tag}"));
        }
    }

    fn finish(mut self) -> Extract {
        // Stable: pieces stay in way order, and nodes stay before ways before relations.
        self.features.sort_by_key(|(id, _)| *id);
        let mut extract = Extract { defects: self.defects, ..Extract::default() };
        for (_, feature) in self.features {
            match feature {
                Feature::Road(road) => extract.roads.push(*road),
                Feature::Canopy(canopy) => extract.canopy.push(canopy),
                Feature::Building(building) if building.area.ground_m2() > LARGEST_BUILDING_M2 => {
                    extract.defects.add(Defect::VastBuilding, || format!("way or relation {}", building.id));
                }
                Feature::Building(building) => extract.buildings.push(building),
                Feature::Barrier(barrier) => extract.barriers.push(barrier),
                Feature::Deck(deck) => extract.decks.push(deck),
                Feature::Stop(stop) => extract.stops.push(stop),
                Feature::Barred(barred) => extract.barred.push(barred),
                Feature::GroundCover(cover) => extract.covers.push(cover),
                Feature::TollBooth(booth) => extract.toll_booths.push(booth),
            }
        }
        extract
    }
}

/// The runs of known nodes along a way; consecutive repeats removed.
fn known_runs(refs: &[i64], table: &NodeTable) -> (Vec<Vec<RoadNode>>, usize) {
    let mut runs = vec![Vec::new()];
    let mut missing = 0;
    for (index, id) in refs.iter().enumerate() {
        if index > 0 && refs[index - 1] == *id {
            continue;
        }
        let Some(at) = table.place(*id) else {
            missing += 1;
            runs.push(Vec::new());
            continue;
        };
        if let Some(run) = runs.last_mut() {
            run.push(RoadNode { id: *id, at });
        }
    }
    runs.retain(|r| r.len() >= 2);
    (runs, missing)
}

fn way_features(way: WayDraft, member: bool, table: &NodeTable, drawn: impl Fn(AreaKind) -> bool, out: &mut Assembled) {
    let (runs, missing) = known_runs(&way.refs, table);
    if missing > 0 {
        out.defects.add(Defect::MissingNode, || format!("way {}: {missing} of {} nodes", way.id, way.refs.len()));
    }
    let closed = way.closed();
    let mut short = false;
    for feature in way.features {
        match feature.area_kind() {
            Some(kind) if drawn(kind) => {}
            Some(kind) if closed => match ring(&way.refs, table) {
                Some(outer) => out.features.push((
                    way.id,
                    area_feature(feature, (MapObject::Way, way.id), Area { outer, inners: Vec::new() }),
                )),
                None => short |= !matches!(kind, AreaKind::GroundCover(_)),
            },
            // What covers the ground hides nothing: a broken outline costs evidence at most.
            Some(AreaKind::GroundCover(_)) => {}
            // An open piece of a ring is the relation's business.
            Some(_) if member => {}
            Some(_) => out.defects.add(Defect::OpenRing, || format!("way {}", way.id)),
            None => short |= !line_features(feature, way.id, &runs, out),
        }
    }
    if short {
        out.defects.add(Defect::ShortWay, || format!("way {}", way.id));
    }
}

/// One feature for every run of known nodes that the map can mean; whether there was any.
fn line_features(feature: Feature, id: i64, runs: &[Vec<RoadNode>], out: &mut Assembled) -> bool {
    let before = out.features.len();
    let road = match &feature {
        Feature::Road(road) => Some(road),
        _ => None,
    };
    for run in runs.iter().flat_map(|run| plausible(run, road.map(|r| r.class), id, &mut out.defects)) {
        if let Some(road) = road {
            let piece = Road { id, nodes: run.to_vec(), ..(**road).clone() };
            out.features.push((id, Feature::Road(Box::new(piece))));
            continue;
        }
        let mut line: Vec<Position> = run.iter().map(|n| n.at).collect();
        line.dedup();
        let ends = [run.first(), run.last()].map(|n| n.map_or(0, |n| n.id));
        if line.len() >= 2 {
            out.features.push((id, feature.clone().with_line(id, line, ends)));
        }
    }
    out.features.len() > before
}

/// Runs cut where the map cannot mean what it says: at steps that no road or ferry makes, and, on roads, near a pole. Steps of
/// other lines are measured as those of roads; what is told of a way's road is not told again of its bridge.
fn plausible<'a>(run: &'a [RoadNode], road: Option<RoadClass>, id: i64, defects: &mut Defects) -> Vec<&'a [RoadNode]> {
    let longest_m = if road == Some(RoadClass::Ferry) { FERRY_STEP_M } else { STEP_M };
    let polar = |n: &RoadNode| n.at.lat_deg().abs() > FARTHEST_LAT_DEG;
    let (mut near_pole, mut long) = (false, 0);
    let is_kept = |a: &RoadNode, b: &RoadNode| {
        let (pole, far) = (polar(a) || polar(b), distance_m(a.at, b.at) > longest_m);
        near_pole |= pole;
        long += u32::from(far && !pole);
        !pole && !far
    };
    let mut kept: Vec<&[RoadNode]> = run.chunk_by(is_kept).collect();
    kept.retain(|r| r.len() >= 2);
    if road.is_some() {
        (0..long).for_each(|_| defects.add(Defect::LongStep, || format!("way {id}")));
        (0..u32::from(near_pole)).for_each(|_| defects.add(Defect::NearPole, || format!("way {id}")));
    }
    kept
}

/// The ring of a closed node list; missing nodes are passed over. `None` if too little is left.
fn ring(refs: &[i64], table: &NodeTable) -> Option<Ring> {
    let mut ring: Ring = refs.iter().filter_map(|id| table.place(*id)).collect();
    ring.dedup();
    let first = *ring.first()?;
    if ring.last() != Some(&first) {
        ring.push(first);
    }
    (ring.len() >= 4).then_some(ring)
}

fn area_feature(feature: Feature, object: (MapObject, i64), area: Area) -> Feature {
    let all: Vec<&Ring> = std::iter::once(&area.outer).chain(&area.inners).collect();
    let inside = match rings::point_inside(&all) {
        Some((lon_e7, lat_e7)) => Position { lon_e7: lon_e7.round() as i32, lat_e7: lat_e7.round() as i32 },
        None => area.outer.first().copied().unwrap_or_default(),
    };
    feature.with_area(object, area, inside)
}

/// Builds one relation's polygons.
struct Polygons<'a> {
    ways: &'a [WayDraft],
    table: &'a NodeTable,
    out: &'a mut Assembled,
    /// Ways whose own feature of a kind is the same as a relation's.
    twice: &'a mut HashSet<(usize, AreaKind)>,
}

impl Polygons<'_> {
    /// Builds one relation. What covers the ground hides nothing, so trouble with it alone is not worth a word.
    fn build(&mut self, relation: &RelationDraft) {
        let of_cover = |f: &Feature| matches!(f, Feature::GroundCover(_));
        let quiet = !relation.features.is_empty() && relation.features.iter().all(of_cover);
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
                self.out.features.push((
                    relation.id,
                    area_feature(feature.clone(), (MapObject::Relation, relation.id), area.clone()),
                ));
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
            match ring(&id_ring.nodes, self.table) {
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
