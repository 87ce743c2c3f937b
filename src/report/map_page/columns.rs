//! Figures of roads and stops as columns of whole numbers: lists of like numbers pack well. -1 is "nothing".
use serde::Serialize;

use super::strings::PageStrings;
use crate::base::words::{BlockerEvidence, Cause, Evidence, Highway, Overhang, Rating, Roofed, TerrainEvidence};
use crate::layer::model::{Driven, SegmentRow, StopRow};
use crate::layer::{COVERED_FROM, SEES_ALL, SEES_HALF};

/// Roads. Lengths are metres unless a name says otherwise; the order is that of the lines.
#[derive(Debug, Default, Serialize)]
pub(super) struct RoadColumns {
    way: Vec<i64>,
    name: Vec<i64>,
    reference: Vec<i64>,
    class: Vec<usize>,
    lanes: Vec<u8>,
    width_dm: Vec<i64>,
    speed_kmh: Vec<i64>,
    length_m: Vec<i64>,
    clearance_cm: Vec<i64>,
    low: Vec<usize>,
    evidence: Vec<usize>,
    terrain: Vec<usize>,
    trees: Vec<usize>,
    buildings: Vec<usize>,
    covered: Vec<u8>,
    cause: Vec<usize>,
    rating: Vec<u8>,
    rating_best: Vec<u8>,
    rating_worst: Vec<i64>,
    forward: DirectionColumns,
    backward: DirectionColumns,
}

/// One direction of roads; a rating of -1 where it is not driven.
#[derive(Debug, Default, Serialize)]
struct DirectionColumns {
    rating: Vec<i64>,
    best: Vec<i64>,
    worst: Vec<i64>,
    p95_ds: Vec<i64>,
    share_permille: Vec<i64>,
    share_best_permille: Vec<i64>,
    share_worst_permille: Vec<i64>,
    cause: Vec<usize>,
}

/// Tenths; what is there never reads as nothing.
pub(super) fn shown_tenths(value: f64) -> i64 {
    if value > 0.0 { tenths(value).max(1) } else { 0 }
}

/// Tenths.
pub(super) fn tenths(value: f64) -> i64 {
    (value * 10.0).round() as i64
}

fn permille(share: f64) -> i64 {
    (share * 1e3).round() as i64
}

fn code(rating: Option<Rating>) -> i64 {
    rating.map_or(-1, |r| i64::from(r.code()))
}

impl RoadColumns {
    /// Adds a road.
    pub fn add(&mut self, s: &SegmentRow, strings: &mut PageStrings) {
        self.way.push(s.way_id);
        self.name.push(strings.number(s.name.as_deref()));
        self.reference.push(strings.number(s.reference.as_deref()));
        self.class.push(place(Highway::ALL, s.highway));
        self.lanes.push(s.lanes);
        self.width_dm.push(tenths(s.width_m));
        self.speed_kmh.push(s.speed_kmh.round() as i64);
        self.length_m.push(s.length_m.round() as i64);
        self.clearance_cm.push(s.maxheight_m.map_or(-1, |m| (m * 100.0 + 1e-6).floor() as i64));
        self.low.push(place(Overhang::ALL, s.overhang_reason));
        self.evidence.push(place(Evidence::ALL, s.evidence));
        self.terrain.push(place(TerrainEvidence::ALL, s.evidence_terrain));
        self.trees.push(place(BlockerEvidence::ALL, s.evidence_canopy));
        self.buildings.push(place(BlockerEvidence::ALL, s.evidence_building));
        self.covered.push(u8::from(s.blocked_cover >= COVERED_FROM));
        self.cause.push(place(Cause::ALL, s.main_cause));
        self.rating.push(s.rating.code());
        self.rating_best.push(s.rating_best.code());
        self.rating_worst.push(code(s.rating_worst));
        self.forward.add(s.driven.forward.as_ref());
        self.backward.add(s.driven.backward.as_ref());
    }
}

impl DirectionColumns {
    fn add(&mut self, driven: Option<&Driven>) {
        let Some(d) = driven else {
            let numbers = [
                &mut self.rating,
                &mut self.best,
                &mut self.worst,
                &mut self.p95_ds,
                &mut self.share_permille,
                &mut self.share_best_permille,
                &mut self.share_worst_permille,
            ];
            numbers.into_iter().for_each(|column| column.push(-1));
            self.cause.push(place(Cause::ALL, Cause::None));
            return;
        };
        self.rating.push(code(Some(d.rating)));
        self.best.push(code(Some(d.rating_best)));
        self.worst.push(code(d.rating_worst));
        self.p95_ds.push(shown_tenths(d.outage_p95_s));
        self.share_permille.push(permille(d.outage_s / d.time_s.max(1e-9)));
        self.share_best_permille.push(permille(d.outage_share_best));
        self.share_worst_permille.push(d.outage_share_worst.map_or(-1, permille));
        self.cause.push(place(Cause::ALL, d.main_cause));
    }
}

/// Places to stop.
#[derive(Debug, Default, Serialize)]
pub(super) struct StopColumns {
    kind: Vec<usize>,
    name: Vec<i64>,
    road: Vec<i64>,
    access: Vec<usize>,
    roof: Vec<usize>,
    open_percent: Vec<i64>,
    /// 2 where nearly all of the sky is open, 1 more than half, 0 less: as the styles of the layer tell them apart.
    sky: Vec<u8>,
    best_m: Vec<i64>,
    best_bearing_deg: Vec<i64>,
    best_percent: Vec<i64>,
    cause: Vec<usize>,
}

impl StopColumns {
    /// Adds a place.
    pub fn add(&mut self, stop: &StopRow, strings: &mut PageStrings) {
        let percent = |share: f64| (share * 100.0).round() as i64;
        self.kind.push(place(crate::base::words::StopKind::ALL, stop.kind));
        self.name.push(strings.number(stop.name.as_deref()));
        self.road.push(strings.number(Some(&stop.road)));
        self.access.push(place(crate::base::words::StopAccess::ALL, stop.access));
        self.roof.push(place(Roofed::ALL, stop.roofed));
        self.open_percent.push(percent(stop.open_share));
        self.sky.push(u8::from(stop.open_share >= SEES_HALF) + u8::from(stop.open_share >= SEES_ALL));
        self.best_m.push(stop.best_distance_m.round() as i64);
        self.best_bearing_deg.push(stop.best_bearing_deg.round() as i64);
        self.best_percent.push(percent(stop.best_open_share));
        self.cause.push(place(Cause::ALL, stop.main_cause));
    }
}

/// The place of a word in the list of its set, which the page holds.
pub(super) fn place<W: PartialEq>(all: &[W], word: W) -> usize {
    all.iter().position(|w| *w == word).unwrap_or_default()
}
