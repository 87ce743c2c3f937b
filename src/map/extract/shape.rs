//! From the tags of one way and the places of its nodes to features: lines, areas, and what of them cannot be.
use super::features::{AreaKind, Feature};
use super::model::{Area, LARGEST_BUILDING_M2, Ring, Road, RoadNode};
use super::nodes::known;
use super::rings;
use super::select::WayDraft;
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

/// Features with the id they are sorted by, and defects.
#[derive(Debug, Default)]
pub(crate) struct Assembled {
    /// Features in the order they were found.
    pub features: Vec<(i64, Feature)>,
    /// Bad data met.
    pub defects: Defects,
}

impl Assembled {
    /// Notes trouble in the tags of an object.
    pub fn note(&mut self, kind: &str, id: i64, issues: &Issues) {
        for (defect, tag) in issues.iter() {
            self.defects.add(defect, || format!("{kind} {id}: {tag}"));
        }
    }
}

/// Whether a feature is a building larger than any; it is left out, and this is the example of its defect.
pub(crate) fn vast(feature: &Feature) -> Option<String> {
    match feature {
        Feature::Building(b) if b.area.ground_m2() > LARGEST_BUILDING_M2 => Some(format!("way or relation {}", b.id)),
        _ => None,
    }
}

/// The runs of known nodes along a way; consecutive repeats removed.
fn known_runs(refs: &[i64], places: &[Position]) -> (Vec<Vec<RoadNode>>, usize) {
    let mut runs = vec![Vec::new()];
    let mut missing = 0;
    for (index, id) in refs.iter().enumerate() {
        if index > 0 && refs[index - 1] == *id {
            continue;
        }
        let Some(at) = places.get(index).copied().and_then(known) else {
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

/// The features of a way whose nodes lie at `places`, in the order of its references. `member`: a relation is made of it;
/// `drawn`: whether a relation draws what it says of a kind.
pub(crate) fn way_features(
    way: WayDraft,
    places: &[Position],
    member: bool,
    drawn: impl Fn(AreaKind) -> bool,
    out: &mut Assembled,
) {
    out.note("way", way.id, &way.issues);
    let (runs, missing) = known_runs(&way.refs, places);
    if missing > 0 {
        out.defects.add(Defect::MissingNode, || format!("way {}: {missing} of {} nodes", way.id, way.refs.len()));
    }
    let closed = way.closed();
    let mut short = false;
    for feature in way.features {
        match feature.area_kind() {
            Some(kind) if drawn(kind) => {}
            Some(kind) if closed => match ring(places.iter().copied().filter_map(known)) {
                Some(outer) => {
                    let area = Area { outer, inners: Vec::new() };
                    let drawn = area_feature(feature, (MapObject::Way, way.id), area);
                    out.features.extend(drawn.map(|feature| (way.id, feature)));
                }
                None => short |= !kind.is_quiet(),
            },
            Some(kind) if kind.is_quiet() => {}
            // An open piece of a ring is the relation's business.
            Some(_) if member => {}
            Some(_) => out.defects.add(Defect::OpenRing, || format!("way {}", way.id)),
            None => {
                // Little may be left of a line of the backdrop.
                let quiet = matches!(feature, Feature::Backdrop(_));
                short |= !line_features(feature, way.id, &runs, out) && !quiet;
            }
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
            let drawn = match &feature {
                Feature::Backdrop(backdrop) => backdrop.with_line(&line).map(Feature::backdrop),
                other => Some(other.clone().with_line(id, line, ends)),
            };
            out.features.extend(drawn.map(|feature| (id, feature)));
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

/// The ring through the known nodes of a closed list. `None` if too little is left.
pub(crate) fn ring(known: impl Iterator<Item = Position>) -> Option<Ring> {
    let mut ring: Ring = known.collect();
    ring.dedup();
    let first = *ring.first()?;
    if ring.last() != Some(&first) {
        ring.push(first);
    }
    (ring.len() >= 4).then_some(ring)
}

/// A feature with its area; nothing where too little is left of it.
pub(crate) fn area_feature(feature: Feature, object: (MapObject, i64), area: Area) -> Option<Feature> {
    let all: Vec<&Ring> = std::iter::once(&area.outer).chain(&area.inners).collect();
    let inside = match rings::point_inside(&all) {
        Some((lon_e7, lat_e7)) => Position { lon_e7: lon_e7.round() as i32, lat_e7: lat_e7.round() as i32 },
        None => area.outer.first().copied().unwrap_or_default(),
    };
    match feature {
        Feature::Backdrop(backdrop) => backdrop.with_area(object, &area, inside).map(Feature::backdrop),
        other => Some(other.with_area(object, area, inside)),
    }
}
