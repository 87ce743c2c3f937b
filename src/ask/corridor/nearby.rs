//! Roads near a drive.
use crate::base::words::PerRating;
use std::collections::BTreeMap;

use super::model::{NearbyRoad, Piece};
use crate::ask::matching::RoadGraph;
use crate::ask::road_name::road_name;
use crate::base::geodesy::{LocalPlane, Position, distance_m};
use crate::layer::model::{RoadRow, SegmentRow};

/// Whether a line comes within a distance of the drive: a vertex of one near the other, or both crossing.
struct Nearness {
    driven: RoadGraph,
    buffer_m: f64,
}

impl Nearness {
    fn of(pieces: &[Piece], buffer_m: f64) -> Self {
        let row = |p: &Piece| RoadRow { segment_id: p.segment_id, line: p.line.clone(), ..RoadRow::default() };
        let rows: Vec<RoadRow> = pieces.iter().filter(|p| p.line.len() > 1).map(row).collect();
        Self { driven: RoadGraph::new(&rows, &[]), buffer_m }
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
pub(super) fn roads_nearby(rows: &[SegmentRow], pieces: &[Piece], buffer_m: f64) -> Vec<NearbyRoad> {
    if rows.is_empty() {
        return Vec::new();
    }
    let nearness = Nearness::of(pieces, buffer_m);
    let mut by_road: BTreeMap<String, NearbyRoad> = BTreeMap::new();
    for s in rows {
        if !nearness.meets(&s.line) {
            continue;
        }
        let name = road_name(s);
        let entry = by_road.entry(name.clone()).or_insert(NearbyRoad {
            road: name,
            length_m: 0.0,
            outage_share: 0.0,
            metres_by_rating: PerRating::default(),
        });
        entry.length_m += s.length_m;
        entry.outage_share += s.length_m * s.outage_share;
        entry.metres_by_rating[s.rating] += s.length_m;
    }
    let mut out: Vec<NearbyRoad> = by_road.into_values().filter(|r| r.length_m > 0.0).collect();
    out.iter_mut().for_each(|r| r.outage_share /= r.length_m);
    out.sort_by(|a, b| a.outage_share.total_cmp(&b.outage_share).then(b.length_m.total_cmp(&a.length_m)));
    out
}
