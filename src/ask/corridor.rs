//! What the layer says about a drive: worst segments, clusters of outages, totals, roads nearby.
use std::collections::{BTreeMap, HashMap};

use serde::Serialize;

use super::matching::{Matched, Roads, Step};
use crate::base::geodesy::{LocalPlane, Position, distance_m};
use crate::base::words::{Cause, Direction, Evidence, Overhang, OverheadKind};
use crate::layer::model::{Driven, OverheadRow, RoadRow, SegmentRow};

/// A piece of a segment driven, with the figures of its direction.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct Piece {
    /// Segment.
    pub segment_id: i64,
    /// In node order.
    pub forward: bool,
    /// Kilometres driven before it.
    pub at_km: f64,
    /// Where it begins, degrees.
    pub lon_deg: f64,
    /// See `lon_deg`.
    pub lat_deg: f64,
    /// Name and reference of the road, or its class.
    pub road: String,
    /// Length driven, metres.
    pub length_m: f64,
    /// Driving time, seconds.
    pub time_s: f64,
    /// Expected seconds without a link.
    pub outage_s: f64,
    /// 95th percentile of the longest outage that touches it, seconds.
    pub outage_p95_s: f64,
    /// Expected outages that begin here and are longer than the edges of blips, gaps and drops.
    pub beyond: [f64; 3],
    /// Rating of the direction driven.
    pub rating: u8,
    /// Main cause in the direction driven.
    pub cause: Cause,
    /// Mean open share of the segment (of its worse direction), 0..=1.
    pub open_share: f64,
    /// What the rating rests on.
    pub evidence: Evidence,
    /// Why something may hang too low.
    pub overhang: Overhang,
    /// Lowest posted clearance, metres.
    pub maxheight_m: Option<f64>,
    /// Unbroken drive it belongs to.
    pub drive: u32,
    /// When it is entered, seconds since 1970-01-01 UTC, where the track tells.
    pub enter_s: Option<f64>,
    /// Vertices driven, in the direction driven.
    #[serde(skip)]
    pub line: Vec<Position>,
}

/// Pieces in a row whose outages touch.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Cluster {
    /// Kilometres driven before it.
    pub at_km: f64,
    /// Where it begins, degrees.
    pub lon_deg: f64,
    /// See `lon_deg`.
    pub lat_deg: f64,
    /// Road at its worst piece.
    pub road: String,
    /// Length, metres.
    pub length_m: f64,
    /// Driving time, seconds.
    pub time_s: f64,
    /// Expected seconds without a link.
    pub outage_s: f64,
    /// Largest 95th percentile outage of its pieces, seconds.
    pub outage_p95_s: f64,
    /// Worst rating.
    pub rating: u8,
    /// What costs most of its expected seconds.
    pub cause: Cause,
}

/// Something over the road driven.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Above {
    /// Kilometres driven before its segment begins.
    pub at_km: f64,
    /// Where, degrees.
    pub lon_deg: f64,
    /// See `lon_deg`.
    pub lat_deg: f64,
    /// Kind.
    pub kind: OverheadKind,
    /// Name.
    pub name: Option<String>,
    /// Seconds of shadow at speed.
    pub shadow_s: f64,
    /// Posted clearance, metres.
    pub maxheight_m: Option<f64>,
}

/// A road near the one driven.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Alternative {
    /// Name and reference, or class.
    pub road: String,
    /// Length of its segments that come near the drive, metres.
    pub length_m: f64,
    /// Share of driving time without a link, mean by length, worse direction.
    pub outage_share: f64,
    /// Metres by rating, steady first.
    pub metres_by_rating: [f64; 5],
}

/// A stretch of track without a road.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Gap {
    /// Kilometres of track before it.
    pub track_km: f64,
    /// Where it begins, degrees.
    pub lon_deg: f64,
    /// See `lon_deg`.
    pub lat_deg: f64,
    /// Length, metres.
    pub length_m: f64,
    /// The drive goes on over roads between its ends all the same.
    pub bridged: bool,
}

/// The answer.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct Corridor {
    /// Length of the track, metres.
    pub track_m: f64,
    /// Length of road driven, metres.
    pub length_m: f64,
    /// Length of track without a road, metres.
    pub unmatched_m: f64,
    /// Driving time by the layer, seconds.
    pub time_s: f64,
    /// Expected seconds without a link.
    pub outage_s: f64,
    /// Metres by rating, steady first.
    pub metres_by_rating: [f64; 5],
    /// Worst pieces, worst first.
    pub worst: Vec<Piece>,
    /// Clusters of outages, as driven.
    pub clusters: Vec<Cluster>,
    /// What stands over the road.
    pub overheads: Vec<Above>,
    /// Roads nearby, best first.
    pub alternatives: Vec<Alternative>,
    /// Track without a road.
    pub unmatched: Vec<Gap>,
    /// Every piece, as driven.
    #[serde(skip)]
    pub pieces: Vec<Piece>,
}

/// What the answer is made from.
pub struct Question<'a> {
    /// The drive.
    pub matched: &'a Matched,
    /// Segments driven, by id.
    pub segments: &'a HashMap<i64, SegmentRow>,
    /// What stands over them.
    pub overheads: &'a [OverheadRow],
    /// Other segments that may be near.
    pub nearby: &'a [SegmentRow],
    /// How many worst pieces are wanted.
    pub worst: usize,
    /// How near alternatives are, metres.
    pub buffer_m: f64,
    /// Outages up to this length belong to a steady road, seconds.
    pub steady_outage_s: f64,
}

/// Answers.
pub fn corridor(q: &Question) -> Corridor {
    let pieces = pieces(q);
    let mut out = Corridor { track_m: q.matched.track_m, ..Corridor::default() };
    for p in &pieces {
        out.length_m += p.length_m;
        out.time_s += p.time_s;
        out.outage_s += p.outage_s;
        out.metres_by_rating[usize::from(p.rating.min(4))] += p.length_m;
    }
    out.unmatched = q.matched.unmatched.iter().map(gap).collect();
    out.unmatched_m = out.unmatched.iter().map(|u| u.length_m).sum::<f64>() + 0.0;
    out.clusters = clusters(&pieces, q.steady_outage_s);
    out.overheads = above(q, &pieces);
    out.alternatives = alternatives(q, &pieces);
    let mut worst: Vec<&Piece> = pieces.iter().filter(|p| p.rating > 0 || p.outage_s > 0.0).collect();
    worst.sort_by(|a, b| {
        let by_outage = b.outage_p95_s.total_cmp(&a.outage_p95_s);
        b.rating
            .cmp(&a.rating)
            .then(by_outage)
            .then(b.outage_s.total_cmp(&a.outage_s))
            .then(a.at_km.total_cmp(&b.at_km))
    });
    out.worst = worst.into_iter().take(q.worst).cloned().collect();
    out.pieces = pieces;
    out
}

fn gap(u: &super::matching::Unmatched) -> Gap {
    Gap {
        track_km: u.start_m / 1e3,
        lon_deg: u.from.lon_deg(),
        lat_deg: u.from.lat_deg(),
        length_m: u.length_m,
        bridged: u.bridged,
    }
}

/// A shorter piece at the end of a drive is scatter of its last point, not driving, metres.
const TOUCHED_M: f64 = 1.0;

/// What a person calls the road.
pub(super) fn road(s: &SegmentRow) -> String {
    match (&s.name, &s.reference) {
        (Some(name), Some(reference)) if name != reference => format!("{name} ({reference})"),
        (Some(one), _) | (None, Some(one)) => one.clone(),
        (None, None) => s.highway.name().to_owned(),
    }
}

fn pieces(q: &Question) -> Vec<Piece> {
    let mut done_m = 0.0;
    let mut out = Vec::with_capacity(q.matched.steps.len());
    for step in q.matched.steps.iter().filter(|s| s.length_m() >= TOUCHED_M) {
        let Some(s) = q.segments.get(&step.segment_id) else { continue };
        let piece = piece(step, s, done_m);
        done_m += piece.length_m;
        out.push(piece);
    }
    out
}

fn piece(step: &Step, s: &SegmentRow, done_m: f64) -> Piece {
    // A lane the matcher knows is driven, unless the layer contradicts itself; then it is as the segment as a whole.
    let one_way = s.driven[Direction::of(step.forward)].unwrap_or(Driven {
        rating: s.rating,
        outage_p95_s: s.outage_p95_s,
        main_cause: s.main_cause,
        ..Driven::default()
    });
    let share = if s.length_m > 0.0 { (step.length_m() / s.length_m).min(1.0) } else { 0.0 };
    let line = driven(step, &s.line);
    let at = line.first().copied().unwrap_or_default();
    Piece {
        segment_id: s.segment_id,
        forward: step.forward,
        at_km: done_m / 1e3,
        lon_deg: at.lon_deg(),
        lat_deg: at.lat_deg(),
        road: road(s),
        length_m: step.length_m(),
        time_s: share * one_way.time_s,
        outage_s: share * one_way.outage_s,
        beyond: [one_way.beyond_blips, one_way.beyond_gaps, one_way.beyond_drops].map(|n| share * n),
        outage_p95_s: one_way.outage_p95_s,
        rating: one_way.rating.code(),
        cause: one_way.main_cause,
        open_share: s.open_share,
        evidence: s.evidence,
        overhang: s.overhang_reason,
        maxheight_m: s.maxheight_m,
        drive: step.drive,
        enter_s: step.enter_s,
        line,
    }
}

/// The part of a line that a step drives.
fn driven(step: &Step, line: &[Position]) -> Vec<Position> {
    let line: Vec<Position> = if step.forward { line.to_vec() } else { line.iter().rev().copied().collect() };
    let mut out = Vec::new();
    let mut done_m = 0.0;
    for pair in line.windows(2) {
        let step_m = distance_m(pair[0], pair[1]);
        let end_m = done_m + step_m;
        if end_m >= step.from_m && done_m <= step.to_m && step_m > 0.0 {
            let plane = LocalPlane::at_position(pair[0]);
            let (a, b) = (plane.to_plane(pair[0]), plane.to_plane(pair[1]));
            let at = |m: f64| plane.to_position(a.towards(b, ((m - done_m) / step_m).clamp(0.0, 1.0)));
            for p in [at(step.from_m), at(step.to_m)] {
                if out.last() != Some(&p) {
                    out.push(p);
                }
            }
        }
        done_m = end_m;
    }
    out
}

/// Pieces in a row with outages that a steady road does not have.
fn clusters(pieces: &[Piece], steady_outage_s: f64) -> Vec<Cluster> {
    let outages = |p: &Piece| p.outage_p95_s > steady_outage_s || p.rating > 0;
    let groups = pieces.chunk_by(|a, b| outages(a) == outages(b) && a.drive == b.drive);
    groups.filter(|g| outages(&g[0])).map(cluster).collect()
}

fn cluster(pieces: &[Piece]) -> Cluster {
    let sum = |f: fn(&Piece) -> f64| pieces.iter().map(f).sum::<f64>();
    let first = &pieces[0];
    let worst = pieces.iter().rev().max_by(|a, b| a.outage_p95_s.total_cmp(&b.outage_p95_s)).unwrap_or(first);
    let mut by_cause: BTreeMap<&'static str, (f64, Cause)> = BTreeMap::new();
    for p in pieces {
        by_cause.entry(p.cause.name()).or_insert((0.0, p.cause)).0 += p.outage_s;
    }
    let cause = by_cause.values().max_by(|a, b| a.0.total_cmp(&b.0)).map_or(Cause::None, |c| c.1);
    Cluster {
        at_km: first.at_km,
        lon_deg: first.lon_deg,
        lat_deg: first.lat_deg,
        road: worst.road.clone(),
        length_m: sum(|p| p.length_m),
        time_s: sum(|p| p.time_s),
        outage_s: sum(|p| p.outage_s),
        outage_p95_s: worst.outage_p95_s,
        rating: pieces.iter().map(|p| p.rating).max().unwrap_or(0),
        cause,
    }
}

fn above(q: &Question, pieces: &[Piece]) -> Vec<Above> {
    let mut of: HashMap<i64, Vec<&OverheadRow>> = HashMap::new();
    q.overheads.iter().for_each(|o| of.entry(o.segment_id).or_default().push(o));
    let mut out = Vec::new();
    for piece in pieces {
        for o in of.remove(&piece.segment_id).unwrap_or_default() {
            out.push(Above {
                at_km: piece.at_km,
                lon_deg: o.at.lon_deg(),
                lat_deg: o.at.lat_deg(),
                kind: o.kind,
                name: o.name.clone(),
                shadow_s: o.shadow_s,
                maxheight_m: o.maxheight_m,
            });
        }
    }
    out
}

/// Whether a line comes within a distance of the drive: a vertex of one near the other, or both crossing.
struct Nearness {
    driven: Roads,
    buffer_m: f64,
}

impl Nearness {
    fn of(pieces: &[Piece], buffer_m: f64) -> Self {
        let row = |p: &Piece| RoadRow { segment_id: p.segment_id, line: p.line.clone(), ..RoadRow::default() };
        let rows: Vec<RoadRow> = pieces.iter().filter(|p| p.line.len() > 1).map(row).collect();
        Self { driven: Roads::new(&rows, &[]), buffer_m }
    }
    /// Asked at places so close along the line that less than a metre of the buffer can be missed.
    fn meets(&self, line: &[Position]) -> bool {
        let spacing_m = (2.0 * (2.0 * self.buffer_m).sqrt()).max(2.0);
        line.windows(2).any(|pair| {
            let parts = (distance_m(pair[0], pair[1]) / spacing_m).ceil().max(1.0);
            let plane = LocalPlane::at_position(pair[0]);
            let (a, b) = (plane.to_plane(pair[0]), plane.to_plane(pair[1]));
            (0..=parts as u32)
                .any(|k| self.driven.any_near(plane.to_position(a.towards(b, f64::from(k) / parts)), self.buffer_m))
        })
    }
}

/// Roads nearby by what people call them; those that lose least of the time first.
fn alternatives(q: &Question, pieces: &[Piece]) -> Vec<Alternative> {
    if q.nearby.is_empty() {
        return Vec::new();
    }
    let nearness = Nearness::of(pieces, q.buffer_m);
    let mut by_road: BTreeMap<String, Alternative> = BTreeMap::new();
    for s in q.nearby.iter().filter(|s| !q.segments.contains_key(&s.segment_id)) {
        if !nearness.meets(&s.line) {
            continue;
        }
        let name = road(s);
        let entry = by_road.entry(name.clone()).or_insert(Alternative {
            road: name,
            length_m: 0.0,
            outage_share: 0.0,
            metres_by_rating: [0.0; 5],
        });
        entry.length_m += s.length_m;
        entry.outage_share += s.length_m * s.outage_share;
        entry.metres_by_rating[usize::from(s.rating.code())] += s.length_m;
    }
    let mut out: Vec<Alternative> = by_road.into_values().filter(|a| a.length_m > 0.0).collect();
    out.iter_mut().for_each(|a| a.outage_share /= a.length_m);
    out.sort_by(|a, b| a.outage_share.total_cmp(&b.outage_share).then(b.length_m.total_cmp(&a.length_m)));
    out
}
