//! Adds up what became of segments, row by row.
use super::largest::LargestChanges;
use super::model::{DiffKm, RatingMove};
use super::pairs::KeyedPair;
use super::segment::{ChangeKind, SegmentChange, SegmentTold};
use crate::ask::road_name::road_name;
use crate::base::words::{PerRating, Rating};
use crate::layer::model::BuildRecord;
use crate::rating::summary::count_segment;

/// Kilometres by rating before and after.
type MovedKm = PerRating<PerRating<f64>>;

/// Kilometres of the way being read that one layer alone has, and whether both have the way.
#[derive(Debug, Default)]
struct OpenWay {
    way_id: i64,
    only_old_km: f64,
    only_new_km: f64,
    in_old: bool,
    in_new: bool,
}

/// What is known of the pairs so far.
#[derive(Debug, Default)]
pub(super) struct RoadTally {
    pub km: DiffKm,
    /// Kilometres of either layer, counted as a build counts them.
    pub old: BuildRecord,
    pub new: BuildRecord,
    pub largest: LargestChanges,
    /// Segments in both.
    pub in_both: u64,
    /// Segments of which something is to be told.
    pub changed: u64,
    /// Some segment differs, if only by little.
    pub differs: bool,
    moved: MovedKm,
    became_unknown: MovedKm,
    became_known: MovedKm,
    way: OpenWay,
}

impl RoadTally {
    pub fn new(top: usize) -> Self {
        Self { largest: LargestChanges::new(top), ..Self::default() }
    }
    /// Adds a pair; what became of the segment.
    pub fn count(&mut self, pair: KeyedPair) -> SegmentChange {
        if let Some(row) = &pair.old {
            count_segment(&mut self.old, row);
        }
        if let Some(row) = &pair.new {
            count_segment(&mut self.new, row);
        }
        let change = told(pair);
        self.add_km(&change);
        self.add_to_way(&change);
        self.largest.take(&change);
        self.in_both += u64::from(change.old.is_some() && change.new.is_some());
        self.changed += u64::from(change.is_one());
        self.differs |= change.is_one() || change.old != change.new;
        change
    }
    fn add_km(&mut self, change: &SegmentChange) {
        let km_of = |told: &Option<SegmentTold>| told.map_or(0.0, |t| t.length_m / 1000.0);
        let (old_km, new_km) = (km_of(&change.old), km_of(&change.new));
        let km = &mut self.km;
        let (sum, moved) = match change.kind {
            ChangeKind::OnlyOld => {
                km.only_old += old_km;
                return;
            }
            ChangeKind::OnlyNew => {
                km.only_new += new_km;
                return;
            }
            ChangeKind::Redrawn => {
                km.redrawn_old += old_km;
                km.redrawn_new += new_km;
                km.both += new_km;
                return;
            }
            ChangeKind::BecameUnknown => (&mut km.became_unknown, &mut self.became_unknown),
            ChangeKind::BecameKnown => (&mut km.became_known, &mut self.became_known),
            ChangeKind::RatedBetter => (&mut km.better, &mut self.moved),
            ChangeKind::RatedWorse => (&mut km.worse, &mut self.moved),
            ChangeKind::RatedSame => (&mut km.same, &mut self.moved),
        };
        *sum += new_km;
        km.both += new_km;
        if change.kind == ChangeKind::RatedSame && change.is_one() {
            km.same_but_changed += new_km;
        }
        if let (Some(old), Some(new)) = (&change.old, &change.new) {
            moved[old.rating][new.rating] += new_km;
        }
    }
    fn add_to_way(&mut self, change: &SegmentChange) {
        if change.way_id != self.way.way_id {
            self.close_way();
            self.way.way_id = change.way_id;
        }
        let km_of = |told: &Option<SegmentTold>| told.map_or(0.0, |t| t.length_m / 1000.0);
        self.way.in_old |= change.old.is_some();
        self.way.in_new |= change.new.is_some();
        match change.kind {
            ChangeKind::OnlyOld => self.way.only_old_km += km_of(&change.old),
            ChangeKind::OnlyNew => self.way.only_new_km += km_of(&change.new),
            _ => {}
        }
    }
    fn close_way(&mut self) {
        let way = std::mem::take(&mut self.way);
        if way.in_old && way.in_new {
            self.km.cut_old += way.only_old_km;
            self.km.cut_new += way.only_new_km;
        }
    }
    /// After the last pair: the moves that there are.
    pub fn finish(&mut self) -> Vec<RatingMove> {
        self.close_way();
        let all = [
            (None, &self.moved),
            (Some(ChangeKind::BecameUnknown), &self.became_unknown),
            (Some(ChangeKind::BecameKnown), &self.became_known),
        ];
        let listed = |(evidence, moved): (Option<ChangeKind>, &MovedKm)| {
            let pairs = Rating::ALL.iter().flat_map(|from| Rating::ALL.iter().map(move |to| (*from, *to)));
            let of = |(from, to)| RatingMove { evidence, from, to, km: moved[from][to] };
            pairs.map(of).filter(|m| m.km > 0.0).collect::<Vec<_>>()
        };
        all.into_iter().flat_map(listed).collect()
    }
}

/// What became of a segment, in the words of the new layer where it has it.
fn told(pair: KeyedPair) -> SegmentChange {
    let kind = pair.kind();
    let (old, new) = (pair.old.as_ref().map(SegmentTold::of), pair.new.as_ref().map(SegmentTold::of));
    let Some(row) = pair.new.or(pair.old) else { return SegmentChange::default() };
    let road = road_name(&row);
    let (way_id, part, highway) = (row.way_id, row.part, row.highway);
    SegmentChange { kind, way_id, part, road, highway, old, new, line: row.line }
}
