//! Where rows are asked for by questions about a track: only these need to be joined.
use crate::ask::boxes::{across, along};
use crate::ask::corridor::MARGIN_M;
use crate::ask::matching::MatchOptions;
use crate::ask::track::Track;
use crate::layer::Bounds;

/// Boxes that hold every road a drive along a track may be matched to, and what lies within a distance of it, metres.
pub fn reach_along(track: &Track, within_m: f64) -> Vec<Bounds> {
    let gap_m = MatchOptions::default().gap_m;
    let mut boxes = along(track, MARGIN_M, gap_m);
    boxes.extend(across(track, MARGIN_M, gap_m));
    // The road driven lies beside the track.
    let wide_m = within_m + 2.0 * MARGIN_M;
    boxes.extend(along(track, wide_m, gap_m));
    if within_m > 0.0 {
        boxes.extend(across(track, wide_m, gap_m));
    }
    boxes
}
