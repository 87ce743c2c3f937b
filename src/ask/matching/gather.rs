//! Points so near to each other that their movement may be noise are taken together.
//!
//! Section 4.1 of the paper drops such points. Dropping picks the points that noise carried far, and loses what the
//! others know; here they are averaged, so that none is picked and none is lost.
use super::model::TrackPoint;
use crate::base::geodesy::{LocalPlane, Point, Position, distance_m};

/// How much alike the errors of points in a row are: a receiver's error drifts, it is not drawn anew every second.
/// Many points together count as much as `1 / LIKENESS` points with errors of their own.
const LIKENESS: f64 = 0.5;

/// So many points behind one thrown aside tell whether the vehicle rests. One in seven lies beyond two standard
/// deviations in the plane; four in a row do once in 3000.
const LOOK_AHEAD: usize = 3;

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
}

/// The spots of a track. `near_m`: a point this near to the mean of those before belongs to them. The first and the last
/// point stay by themselves, since a drive begins and ends there.
pub(super) fn gathered(points: &[TrackPoint], near_m: f64) -> Vec<TrackSpot> {
    let [first, middle @ .., last] = points else { return points.iter().map(|p| spot(&[*p])).collect() };
    let mut out = vec![spot(&[*first])];
    let mut rest = middle;
    while !rest.is_empty() {
        let (group, others) = rest.split_at(first_group(rest, near_m));
        out.push(spot(group));
        rest = others;
    }
    out.push(spot(&[*last]));
    out
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
    }
}
