//! Points so near to each other that their movement may be noise are taken together.
//!
//! Section 4.1 of the paper drops such points. Dropping picks the points that noise carried far, and loses what the
//! others know; here they are averaged, so that none is picked and none is lost.
use std::ops::Range;

use super::model::TrackPoint;
use crate::base::geodesy::{LocalPlane, Point, Position, distance_m};

/// How much alike the errors of points in a row are: a receiver's error drifts, it is not drawn anew every second.
/// Many points together count as much as `1 / LIKENESS` points with errors of their own.
const LIKENESS: f64 = 0.5;

/// This many points behind one thrown aside tell whether the vehicle rests. One in seven lies beyond two standard
/// deviations in the plane; four in a row do once in 3000.
const LOOK_AHEAD: usize = 3;

/// A vehicle that stays within this of one place for so long is parked, and what its receiver shows is drift: in 30 minutes
/// an error of 25 m a side (standard deviation) wanders 75 m and more. Nobody drives that slowly; in a queue the way between
/// two such places is driven all the same.
const PARKED_M: f64 = 100.0;
const PARKED_S: f64 = 180.0;

/// Points taken together.
#[derive(Debug, Clone, Copy)]
pub(super) struct TrackSpot {
    /// Their mean.
    pub at: Position,
    /// As many independent points as they are worth.
    pub weight: f64,
    /// Time of the first and the last, seconds since 1970-01-01 UTC, where all have one.
    pub times_s: Option<(f64, f64)>,
    /// Distance from the first to the last, metres.
    pub extent_m: f64,
    /// The first of a piece of the track that is not its first piece: what lies before it was not recorded.
    pub begins: bool,
}

/// The spots of a track. `near_m`: a point this near to the mean of those before belongs to them. The first and the last
/// point stay by themselves unless the vehicle is parked there, since a drive begins and ends there.
pub(super) fn gathered(points: &[TrackPoint], near_m: f64) -> Vec<TrackSpot> {
    let (mut out, mut at) = (Vec::new(), 0);
    let mut parked = parked(points, near_m).into_iter().peekable();
    while at < points.len() {
        let next = parked.peek().map_or(points.len(), |r| r.start);
        let count = match at {
            _ if at == next => parked.next().map_or(1, |r| r.len()),
            0 => 1,
            _ if at + 1 == points.len() => 1,
            _ => first_group(&points[at..next.min(points.len() - 1)], near_m),
        };
        out.push(spot(&points[at..at + count]));
        at += count;
    }
    out
}

/// Stretches of a track in which the vehicle is parked, in order.
fn parked(points: &[TrackPoint], near_m: f64) -> Vec<Range<usize>> {
    let (mut out, mut at, mut ahead) = (Vec::new(), 0, 0);
    while at < points.len() {
        let Some(began_s) = points[at].time_s else {
            at += 1;
            continue;
        };
        // Where it is when it would count as parked: most points are passed over by this look alone.
        while points.get(ahead).is_some_and(|p| ahead <= at || p.time_s.is_none_or(|s| s - began_s < PARKED_S)) {
            ahead += 1;
        }
        if ahead == points.len() {
            break;
        }
        let late = &points[ahead..points.len().min(ahead + 1 + LOOK_AHEAD)];
        let lingers = late.iter().any(|p| distance_m(points[at].at, p.at) < 2.0 * PARKED_M);
        let stay = if lingers { stay(&points[at..], near_m).map(|r| at + r.start..at + r.end) } else { None };
        at = stay.as_ref().map_or(at + 1, |r| r.end);
        out.extend(stay);
    }
    out
}

/// The stay of a vehicle that begins near the first point: without the points of its coming and going, if it is one.
fn stay(points: &[TrackPoint], near_m: f64) -> Option<Range<usize>> {
    let began_s = points.first()?.time_s?;
    let plane = LocalPlane::at_position(points[0].at);
    let (mut sum, mut count) = (Point::default(), 1);
    let away_m = |sum: Point, count: usize, i: usize| {
        let mean = Point::new(sum.x_m / count as f64, sum.y_m / count as f64);
        points.get(i).map(|p| plane.to_plane(p.at).distance_m(mean))
    };
    // Points thrown aside do not end a stay.
    while (0..=LOOK_AHEAD).any(|i| away_m(sum, count, count + i).is_some_and(|m| m < PARKED_M)) {
        let p = plane.to_plane(points[count].at);
        sum = Point::new(sum.x_m + p.x_m, sum.y_m + p.y_m);
        count += 1;
    }
    let stayed = |r: &Range<usize>| {
        let times_s = points[r.start].time_s.zip(points[r.end - 1].time_s);
        times_s.is_some_and(|(a, b)| b - a >= PARKED_S)
    };
    points[count - 1].time_s.is_none_or(|s| s - began_s >= PARKED_S).then_some(())?;
    let mut from_m: Vec<f64> = (0..count).filter_map(|i| away_m(sum, count, i)).collect();
    let apart_m = from_m.clone();
    let (_, median_m, _) = from_m.select_nth_unstable_by(count / 2, f64::total_cmp);
    let near_m = (3.0 * *median_m).clamp(0.5 * near_m, PARKED_M);
    let within = |m: &f64| *m <= near_m;
    let stay = apart_m.iter().position(within)?..apart_m.iter().rposition(within)? + 1;
    stayed(&stay).then_some(stay)
}

/// How many points from the first on belong together.
fn first_group(points: &[TrackPoint], near_m: f64) -> usize {
    let plane = LocalPlane::at_position(points[0].at);
    let (mut sum, mut count) = (Point::default(), 1);
    let away_m = |sum: Point, count: usize, i: usize| {
        let mean = Point::new(sum.x_m / count as f64, sum.y_m / count as f64);
        points.get(i).map(|p| plane.to_plane(p.at).distance_m(mean))
    };
    while let Some(next_m) = away_m(sum, count, count) {
        // Points thrown aside do not end a rest; a drive goes on moving away.
        let back = |i: usize| away_m(sum, count, count + i).is_some_and(|m| m < near_m);
        let thrown = next_m < 2.0 * near_m && (1..=LOOK_AHEAD).any(back);
        if next_m >= near_m && !thrown {
            break;
        }
        let p = plane.to_plane(points[count].at);
        sum = Point::new(sum.x_m + p.x_m, sum.y_m + p.y_m);
        count += 1;
    }
    count
}

fn spot(points: &[TrackPoint]) -> TrackSpot {
    let (first, last) = (points[0], points[points.len() - 1]);
    let plane = LocalPlane::at_position(first.at);
    let n = points.len() as f64;
    let sum = points
        .iter()
        .map(|p| plane.to_plane(p.at))
        .fold(Point::default(), |s, p| Point::new(s.x_m + p.x_m, s.y_m + p.y_m));
    TrackSpot {
        at: plane.to_position(Point::new(sum.x_m / n, sum.y_m / n)),
        weight: n / (1.0 + (n - 1.0) * LIKENESS),
        times_s: first.time_s.zip(last.time_s),
        extent_m: distance_m(first.at, last.at),
        begins: false,
    }
}
