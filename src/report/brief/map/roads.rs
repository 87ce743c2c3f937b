//! The roads near the trip, thin and pale.
use std::fmt::Write;

use crate::ask::surroundings::NearRoad;
use crate::base::ramp::{hex, look};
use crate::base::words::{Rating, RoadClass};
use crate::report::drawing::frame::{Frame, WIDTH, Xy};
use crate::report::drawing::lines::{clipped, path, simplified};

/// Points of all roads of one map; the least roads are left out first. Keeps a page of several days below 1.5 MB.
const MOST_POINTS: usize = 16_000;
/// Deviation that nobody sees on these thin lines, user units.
const TOLERANCE: f64 = 0.8;

/// Order in which classes are kept.
fn rank(class: RoadClass) -> u8 {
    match class {
        RoadClass::Motorway | RoadClass::Trunk | RoadClass::Primary => 0,
        RoadClass::Ferry | RoadClass::ShuttleTrain => 0,
        RoadClass::Secondary | RoadClass::Tertiary => 1,
        RoadClass::Unclassified => 2,
        RoadClass::Residential | RoadClass::LivingStreet => 3,
        RoadClass::Service | RoadClass::Track => 4,
    }
}

/// The roads as one path per rating; returns whether some classes were left out.
pub(super) fn write(out: &mut String, frame: &Frame, roads: &[NearRoad]) -> bool {
    let mut shapes: Vec<(u8, Rating, Vec<Xy>)> = Vec::new();
    for road in roads {
        let line = simplified(&frame.line(&road.line), TOLERANCE);
        let parts = clipped(&line, WIDTH, frame.height).into_iter();
        shapes.extend(parts.map(|part| (rank(road.class), road.rating, part)));
    }
    let least = least_kept(&shapes);
    *out += "<g class=\"roads\" transform=\"scale(.1)\">\n";
    for rating in Rating::ALL {
        let kept = shapes.iter().filter(|s| s.0 <= least && s.1 == *rating);
        let mut data = String::new();
        kept.for_each(|s| path(&mut data, &s.2));
        if !data.is_empty() {
            let width_px = 0.7 + 0.3 * f64::from(rating.code());
            let _ = writeln!(
                out,
                "<path stroke=\"{}\" stroke-width=\"{width_px:.1}\" d=\"{data}\"/>",
                hex(look(*rating).colour)
            );
        }
    }
    *out += "</g>\n";
    shapes.iter().any(|s| s.0 > least)
}

/// The last class whose roads, with all before it, keep to the number of points; the greatest are always kept.
fn least_kept(shapes: &[(u8, Rating, Vec<Xy>)]) -> u8 {
    let points = |least: u8| shapes.iter().filter(|s| s.0 <= least).map(|s| s.2.len()).sum::<usize>();
    (1..=4).rev().find(|least| points(*least) <= MOST_POINTS).unwrap_or(0)
}
