//! What the rating of one district depends on, taken from an extract.
//!
//! A bundle holds the roads that reach into the district's surroundings, every road that shares a node with one of them (so
//! that they are cut where they are cut in the whole), tunnels and ferries as long as they go on, and everything beside and
//! above roads that reaches there.
use std::collections::{BTreeMap, BTreeSet, HashMap, HashSet};

use crate::base::district::{District, Reach};
use crate::base::geodesy::{Position, distance_m};
use crate::map::extract::model::{Area, Backdrop, BarredShape, CanopyShape, DeckShape, Extract, ExtractInfo, Road};

/// Surroundings of a district, metres: the road driven before and after its lines ([`RUN_M`]), from where what is mapped and
/// built-up is asked of the tables of neighbourhoods: two of their rows, and one more for its own (1/64 degree each).
pub const AROUND_M: f64 = RUN_M + 500.0 + 3.0 * 1_740.0;
/// The road before and after a line that is driven as well, metres.
pub const RUN_M: f64 = 3_000.0;

/// A district, and how much road there is in it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DistrictRoads {
    /// Which.
    pub district: District,
    /// Road from nodes that lie in it to the next, kilometres.
    pub km: f64,
}

/// The districts that roads run through or places to stop lie in, in order.
pub fn districts(extract: &Extract) -> Vec<DistrictRoads> {
    let mut out: BTreeMap<District, f64> = extract.stops.iter().map(|s| (District::of(s.at), 0.0)).collect();
    for pair in extract.roads.iter().flat_map(|road| road.nodes.windows(2)) {
        for district in Reach::around([pair[0].at, pair[1].at]).iter().flat_map(District::touched) {
            out.entry(district).or_default();
        }
        *out.entry(District::of(pair[0].at)).or_default() += distance_m(pair[0].at, pair[1].at) / 1_000.0;
    }
    out.into_iter().map(|(district, km)| DistrictRoads { district, km }).collect()
}

/// The backdrop of some districts of an extract that is held in memory, by kind and by the district of its south-western
/// corner. Builds take it through the disk, and tests compare the two.
pub fn backdrop(extract: &Extract, districts: &BTreeSet<District>) -> Vec<Backdrop> {
    let mut met: Vec<Backdrop> = extract.backdrop.iter().filter(|one| one.meets(districts)).cloned().collect();
    // Stable: those of an extract are in order of their ids.
    met.sort_by_key(|one| (one.kind(), one.corner()));
    met
}

/// What is where in an extract that is held in memory. Builds divide extracts through the disk ([`crate::map::divide`]); this is
/// the plain way, which tests compare that with.
pub struct MapIndex<'a> {
    extract: &'a Extract,
    roads: Vec<Reach>,
    canopy: Vec<Reach>,
    buildings: Vec<Reach>,
    barriers: Vec<Reach>,
    decks: Vec<Reach>,
    barred: Vec<Reach>,
    covers: Vec<Reach>,
    /// Roads at the nodes that more than one of them uses.
    meeting: HashMap<i64, Vec<u32>>,
}

/// A box that no box meets.
const NOWHERE: Reach = Reach { south_e7: i64::MAX, north_e7: i64::MIN, west_e7: i64::MAX / 2, east_e7: i64::MIN / 2 };

/// The box around it.
pub(in crate::map) fn around_all<'p>(places: impl IntoIterator<Item = &'p Position>) -> Reach {
    Reach::around(places.into_iter().copied()).unwrap_or(NOWHERE)
}

/// The box around it.
pub(in crate::map) fn around_area(area: &Area) -> Reach {
    around_all(&area.outer)
}

impl<'a> MapIndex<'a> {
    /// Looks through an extract once.
    pub fn of(extract: &'a Extract) -> Self {
        let mut uses: HashMap<i64, Vec<u32>> = HashMap::new();
        for (index, road) in (0..).zip(&extract.roads) {
            for node in &road.nodes {
                let at = uses.entry(node.id).or_default();
                if at.last() != Some(&index) {
                    at.push(index);
                }
            }
        }
        uses.retain(|_, roads| roads.len() > 1);
        Self {
            extract,
            roads: extract.roads.iter().map(|r| around_all(r.nodes.iter().map(|n| &n.at))).collect(),
            canopy: extract.canopy.iter().map(|c| around_canopy(&c.shape)).collect(),
            buildings: extract.buildings.iter().map(|b| around_area(&b.area)).collect(),
            barriers: extract.barriers.iter().map(|b| around_all(&b.line)).collect(),
            decks: extract.decks.iter().map(|d| around_deck(&d.shape)).collect(),
            barred: extract.barred.iter().map(|b| around_barred(&b.shape)).collect(),
            covers: extract.covers.iter().map(|c| around_area(&c.area)).collect(),
            meeting: uses,
        }
    }

    /// What the rating of a district depends on.
    pub fn bundle(&self, district: District) -> Extract {
        let reach = district.reach(AROUND_M);
        let all = self.extract;
        Extract {
            roads: self.roads_of(&reach),
            canopy: met(&reach, &all.canopy, &self.canopy),
            buildings: met(&reach, &all.buildings, &self.buildings),
            barriers: met(&reach, &all.barriers, &self.barriers),
            decks: met(&reach, &all.decks, &self.decks),
            stops: all.stops.iter().filter(|s| District::of(s.at) == district).cloned().collect(),
            barred: met(&reach, &all.barred, &self.barred),
            covers: met(&reach, &all.covers, &self.covers),
            toll_booths: all.toll_booths.iter().filter(|b| reach.holds(b.at)).copied().collect(),
            backdrop: Vec::new(),
            info: ExtractInfo::default(),
            defects: Default::default(),
        }
    }

    fn roads_of(&self, reach: &Reach) -> Vec<Road> {
        let roads = &self.extract.roads;
        let mut kept: Vec<bool> = self.roads.iter().map(|at| reach.meets(at)).collect();
        self.follow_covers(&mut kept);
        // All pieces of a way count its parts.
        let ways: HashSet<i64> = roads.iter().zip(&kept).filter(|(_, kept)| **kept).map(|(road, _)| road.id).collect();
        for (road, kept) in roads.iter().zip(&mut kept) {
            *kept |= ways.contains(&road.id);
        }
        let mut wanted = kept.clone();
        for road in roads.iter().zip(&kept).filter(|(_, kept)| **kept).map(|(road, _)| road) {
            for other in road.nodes.iter().filter_map(|n| self.meeting.get(&n.id)).flatten() {
                wanted[*other as usize] = true;
            }
        }
        roads.iter().zip(wanted).filter(|(_, wanted)| *wanted).map(|(road, _)| road.clone()).collect()
    }

    /// Tunnels, roofs and ferries go on as long as they do: who enters one on this side of a line leaves it beyond.
    fn follow_covers(&self, kept: &mut [bool]) {
        let roads = &self.extract.roads;
        let mut open: Vec<usize> = (0..roads.len()).filter(|i| kept[*i] && goes_on(&roads[*i])).collect();
        while let Some(at) = open.pop() {
            for other in roads[at].nodes.iter().filter_map(|n| self.meeting.get(&n.id)).flatten() {
                let other = *other as usize;
                if !kept[other] && goes_on(&roads[other]) {
                    kept[other] = true;
                    open.push(other);
                }
            }
        }
    }
}

/// Whether a road has no sky of its own from end to end.
pub fn goes_on(road: &Road) -> bool {
    road.tunnel.is_some() || road.covered || road.class.is_boarded()
}

fn met<T: Clone>(reach: &Reach, things: &[T], at: &[Reach]) -> Vec<T> {
    things.iter().zip(at).filter(|(_, at)| reach.meets(at)).map(|(thing, _)| thing.clone()).collect()
}

/// The box around it.
pub(in crate::map) fn around_canopy(shape: &CanopyShape) -> Reach {
    match shape {
        CanopyShape::Wood(area) | CanopyShape::Orchard(area) => around_area(area),
        CanopyShape::Row(line) | CanopyShape::Hedge(line) => around_all(line),
        CanopyShape::Tree(at) => around_all([at]),
    }
}

/// The box around it.
pub(in crate::map) fn around_deck(shape: &DeckShape) -> Reach {
    match shape {
        DeckShape::Line(line) => around_all(line),
        DeckShape::Outline(area) => around_area(area),
    }
}

/// The box around it.
pub(in crate::map) fn around_barred(shape: &BarredShape) -> Reach {
    match shape {
        BarredShape::Line(line) => around_all(line),
        BarredShape::Area(area) => around_area(area),
    }
}
