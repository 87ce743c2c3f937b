//! Bad input data that a run survives: counted under stable codes, shown at the end, kept in the build record.
use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::plain::beginning;

/// How many examples of one defect are kept.
const EXAMPLES: usize = 3;
/// Most letters of one that are kept: names in a file may be of any length.
const LONGEST_EXAMPLE: usize = 300;

/// Declares the codes once, with the text shown beside the count.
macro_rules! defects {
    ($($(#[$doc:meta])* $variant:ident = $code:literal, $text:literal;)*) => {
        /// A kind of bad input data.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        pub enum Defect { $($(#[$doc])* $variant),* }
        impl Defect {
            /// Stable code, as shown and stored.
            pub fn code(self) -> &'static str { match self { $(Self::$variant => $code),* } }
            /// One line that says what was found and what was done about it.
            pub fn text(self) -> &'static str { match self { $(Self::$variant => $text),* } }
            /// Every kind of defect.
            pub const ALL: &'static [Defect] = &[$(Self::$variant),*];
        }
    };
}

defects! {
    /// A way refers to a node the extract does not hold.
    MissingNode = "missing_node", "node not in the extract; the rest of the way is kept";
    /// A relation refers to a way the extract does not hold.
    MissingMember = "missing_member", "relation member not in the extract; the rest is kept";
    /// A multipolygon's rings do not close.
    OpenRing = "open_ring", "multipolygon ring does not close; ring left out";
    /// A multipolygon's hole lies in none of its outer rings.
    StrayRing = "stray_ring", "multipolygon hole outside every outer ring; hole left out";
    /// A way has fewer than two usable nodes.
    ShortWay = "short_way", "way with fewer than two usable nodes; left out";
    /// Two nodes of a way that follow each other lie farther apart than roads and ferries have them.
    LongStep = "long_step", "nodes of a way too far apart (50 km for a road, 500 km for a ferry); the way is cut there";
    /// A road comes near a pole, where directions lose their meaning.
    NearPole = "near_pole", "road within a tenth of a degree of a pole; that part is left out";
    /// A length, height or width cannot be understood.
    BadLength = "bad_length", "length value not understood; default used";
    /// A speed cannot be understood.
    BadSpeed = "bad_speed", "speed value not understood; default used";
    /// A count (lanes, levels) cannot be understood.
    BadCount = "bad_count", "count not understood; default used";
    /// Several values where one is expected.
    SeveralValues = "several_values", "several values in one tag; the smallest is used";
    /// Coordinates are outside the earth's range.
    BadCoordinate = "bad_coordinate", "coordinate out of range; node left out";
    /// A block of the extract is of a type the format does not name.
    UnknownBlock = "unknown_block", "block of a type other than OSMHeader (first) or OSMData; left out";
    /// A road runs through a building without a passage.
    RoadThroughBuilding = "road_through_building", "road inside a building without a passage tag; that building is ignored there";
    /// A station has no elevation.
    NoElevation = "no_elevation", "station without elevation; rated without terrain";
    /// A building covers more ground than any building does.
    VastBuilding = "vast_building", "building of more than 1.5 square kilometres; left out";
    /// A feature of a file of buildings has no outline.
    NoFootprint = "no_footprint", "feature without an outline in the file of buildings; left out";
    /// A feature of a file of buildings has no height that can be.
    FootprintHeight = "footprint_height", "building without a usable height in the file of buildings; default used";
    /// Orbital elements cannot be understood.
    BadElements = "bad_elements", "orbital elements not understood; object left out";
    /// Orbital elements are of another theory, frame or clock than SGP4's.
    OtherTheory = "other_theory", "orbital elements not made for SGP4; object left out";
    /// SGP4 cannot carry orbital elements to the date asked for.
    LostOrbit = "lost_orbit", "orbital elements that cannot be propagated to the date; object left out";
}

/// Count and examples of one kind of defect.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Tally {
    /// How often it was met.
    pub count: u64,
    /// The first few things at fault, such as `way 123`.
    pub examples: Vec<String>,
}

impl Tally {
    /// Adds the count of another, keeping the first examples.
    pub(crate) fn add(&mut self, other: &Self) {
        self.count += other.count;
        other.examples.iter().for_each(|example| self.keep(example.clone()));
    }
    /// Keeps an example while there is room; one thing at fault in many places is named once.
    fn keep(&mut self, example: String) {
        let example = beginning(&example, LONGEST_EXAMPLE).into_owned();
        if self.examples.len() < EXAMPLES && !self.examples.contains(&example) {
            self.examples.push(example);
        }
    }
}

/// Counts of defects by kind.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Defects(BTreeMap<Defect, Tally>);

impl Defects {
    /// Counts one defect; `example` names the thing at fault and is only called while examples are wanted.
    pub fn add(&mut self, defect: Defect, example: impl FnOnce() -> String) {
        let tally = self.0.entry(defect).or_default();
        tally.count += 1;
        if tally.examples.len() < EXAMPLES {
            tally.keep(example());
        }
    }
    /// Adds the counts of another run over other data, keeping the first examples.
    pub(crate) fn merge(&mut self, other: Defects) {
        for (defect, theirs) in other.0 {
            self.0.entry(defect).or_default().add(&theirs);
        }
    }
    /// How often a defect was met.
    pub fn count(&self, defect: Defect) -> u64 {
        self.0.get(&defect).map_or(0, |t| t.count)
    }
    /// Every kind met, in order of its declaration.
    pub fn iter(&self) -> impl Iterator<Item = (Defect, &Tally)> {
        self.0.iter().map(|(d, t)| (*d, t))
    }
    /// Whether nothing was met.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }
}

/// Defects of things met in any order, as if they had been met in order of `K`: what is counted, and the first examples.
#[derive(Debug, Clone)]
pub(crate) struct SortedDefects<K>(BTreeMap<Defect, (u64, Vec<(K, String)>)>);

impl<K: Ord + Copy> SortedDefects<K> {
    /// Nothing met.
    pub fn new() -> Self {
        Self(BTreeMap::new())
    }
    /// Adds the defects of the thing of a key.
    pub fn take(&mut self, key: K, defects: Defects) {
        for (defect, tally) in defects.0 {
            self.add(defect, tally.count, tally.examples.into_iter().map(|example| (key, example)));
        }
    }
    /// Adds those of other things.
    pub fn merge(&mut self, other: Self) {
        for (defect, (count, examples)) in other.0 {
            self.add(defect, count, examples.into_iter());
        }
    }
    fn add(&mut self, defect: Defect, count: u64, examples: impl Iterator<Item = (K, String)>) {
        let (all, kept) = self.0.entry(defect).or_insert((0, Vec::new()));
        *all += count;
        for (key, example) in examples {
            match kept.iter().position(|(_, known)| *known == example) {
                Some(at) if kept[at].0 <= key => continue,
                Some(at) => drop(kept.remove(at)),
                None => {}
            }
            // Behind those of the same key: they come in their own order.
            kept.insert(kept.partition_point(|(known, _)| *known <= key), (key, example));
            kept.truncate(EXAMPLES);
        }
    }
    /// Counts, and the examples that come first.
    pub fn finish(self) -> Defects {
        let tally = |(count, examples): (u64, Vec<(K, String)>)| Tally {
            count,
            examples: examples.into_iter().map(|(_, example)| example).collect(),
        };
        Defects(self.0.into_iter().map(|(defect, met)| (defect, tally(met))).collect())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn of_a_long_name_the_beginning_is_an_example() {
        let mut defects = Defects::default();
        defects.add(Defect::LostOrbit, || "n".repeat(1 << 20));
        let kept = &defects.iter().next().unwrap().1.examples[0];
        assert!(kept.starts_with("nnn") && kept.len() < 310, "{}", kept.len());
    }

    proptest::proptest! {
        #[test]
        fn in_any_order_the_same_is_told(things in proptest::collection::vec((0_u8..20, 0_u8..4), 0..30)) {
            let one = |(key, name): (u8, u8)| {
                let mut met = Defects::default();
                met.add(Defect::OpenRing, || format!("{key} {name}"));
                met.add(Defect::OpenRing, || format!("{name}"));
                met
            };
            let mut once = things.clone();
            once.sort_by_key(|t| t.0);
            once.dedup_by_key(|t| t.0);
            let mut want = Defects::default();
            once.iter().for_each(|thing| want.merge(one(*thing)));
            let mut shuffled = once.clone();
            shuffled.sort_by_key(|(key, name)| (key.wrapping_mul(151), *name));
            let mut halves = [SortedDefects::new(), SortedDefects::new()];
            for (index, thing) in shuffled.iter().enumerate() {
                halves[index % 2].take(thing.0, one(*thing));
            }
            let [mut all, other] = halves;
            all.merge(other);
            proptest::prop_assert_eq!(all.finish(), want);
        }
    }

    #[test]
    fn one_thing_at_fault_is_named_once_and_counted_every_time() {
        let tally = |ways: &[u8]| {
            let mut defects = Defects::default();
            ways.iter().for_each(|way| defects.add(Defect::NoElevation, || format!("way {way}")));
            defects
        };
        let mut all = tally(&[1, 1, 2]);
        all.merge(tally(&[2, 3, 4]));
        assert_eq!(all.count(Defect::NoElevation), 6);
        let (_, kept) = all.iter().next().unwrap();
        assert_eq!(kept.examples, ["way 1", "way 2", "way 3"]);
    }
}
