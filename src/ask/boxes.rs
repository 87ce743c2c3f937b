//! Boxes in which rows of a layer are looked for: around places, around tracks.
use crate::ask::matching::{joins_gaps, may_be_driven};
use crate::ask::track::Track;
use crate::base::geodesy::{LocalPlane, Point, Position, distance_m, lon_on_earth_deg, turn_deg};
use crate::layer::Bounds;

/// Boxes of a track are closed when they are this large, metres.
pub(super) const BOX_M: f64 = 1_000.0;

/// Roads farther than this from the line across a gap are not looked at, metres: valleys that a pass or a tunnel joins lie
/// nearer.
const WIDEST_M: f64 = 10_000.0;

/// Boxes that cover what lies within a distance of a place.
pub(super) fn around(at: Position, within_m: f64) -> Vec<Bounds> {
    widened(Bounds { min: at, max: at }, within_m)
}

/// A box of the track as it grows.
struct Growing {
    start: Position,
    last: Position,
    bounds: Bounds,
    /// Longest step to a neighbour that is joined, metres.
    step_m: f64,
}

impl Growing {
    fn at(point: Position, step_m: f64) -> Self {
        Self { start: point, last: point, bounds: Bounds { min: point, max: point }, step_m }
    }
}

/// Boxes that cover a track, the lines between points up to `gap_m` apart, and a margin around both.
pub(super) fn along(track: &Track, margin_m: f64, gap_m: f64) -> Vec<Bounds> {
    let mut out = Vec::new();
    let mut close = |b: Growing| out.extend(widened(b.bounds, margin_m + 0.5 * b.step_m));
    for piece in &track.pieces {
        let mut open: Option<Growing> = None;
        for at in piece.iter().map(|p| p.at) {
            let Some(mut now) = open.take() else {
                open = Some(Growing::at(at, 0.0));
                continue;
            };
            let step_m = Some(distance_m(now.last, at)).filter(|m| *m <= gap_m).unwrap_or(0.0);
            now.step_m = now.step_m.max(step_m);
            let over = (now.last.lon_deg() - at.lon_deg()).abs() > 180.0;
            open = if over || distance_m(now.start, at) >= BOX_M {
                close(now);
                Some(Growing::at(at, step_m))
            } else {
                Some(Growing { bounds: now.bounds.joined(Bounds { min: at, max: at }), last: at, ..now })
            };
        }
        open.into_iter().for_each(&mut close);
    }
    out
}

/// Boxes that cover the ways over the gaps of a track, where points are farther apart than `gap_m`: a strip along the line
/// across, as wide as it is long up to [`WIDEST_M`] on either side.
pub(super) fn across(track: &Track, margin_m: f64, gap_m: f64) -> Vec<Bounds> {
    let within = track.pieces.iter().filter(|p| joins_gaps(p, gap_m)).flat_map(|p| p.windows(2));
    let within = within.map(|pair| (pair[0], pair[1])).filter(|(a, b)| distance_m(a.at, b.at) > gap_m);
    // Between pieces with times whatever is as far as neighbouring points may be from each other, too.
    let pieces = track.pieces.windows(2).filter_map(|w| Some((*w[0].last()?, *w[1].first()?)));
    let pieces = pieces.filter(|(a, b)| a.time_s.is_some() && b.time_s.is_some());
    let mut out = Vec::new();
    for (a, b) in within.chain(pieces).filter(|(a, b)| may_be_driven(a, b)) {
        let (a, b, apart_m) = (a.at, b.at, distance_m(a.at, b.at));
        let aside_m = margin_m + (0.5 * apart_m).min(WIDEST_M);
        let parts = (apart_m / aside_m).ceil().max(1.0);
        let (lon_deg, lat_deg) = (turn_deg(a.lon_deg(), b.lon_deg()), b.lat_deg() - a.lat_deg());
        for k in 0..=parts as u32 {
            let t = f64::from(k) / parts;
            let lon_deg = lon_on_earth_deg(a.lon_deg() + t * lon_deg);
            out.extend(around(Position::from_deg(lon_deg, a.lat_deg() + t * lat_deg), aside_m));
        }
    }
    out
}

/// A box with a margin around it; two boxes where that reaches over the antimeridian.
pub(super) fn widened(bounds: Bounds, margin_m: f64) -> Vec<Bounds> {
    let moved = |at: Position, by_m: f64| LocalPlane::at_position(at).to_lon_lat(Point::new(by_m, by_m));
    let ((west, south), (east, north)) = (moved(bounds.min, -margin_m), moved(bounds.max, margin_m));
    if east - west >= 360.0 {
        return vec![Bounds::from_deg(-180.0, south, 180.0, north)];
    }
    let mut out = vec![Bounds::from_deg(west.max(-180.0), south, east.min(180.0), north)];
    if east > 180.0 {
        out.push(Bounds::from_deg(-180.0, south, east - 360.0, north));
    }
    if west < -180.0 {
        out.push(Bounds::from_deg(west + 360.0, south, 180.0, north));
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ask::track::read;

    #[test]
    fn boxes_hold_the_line_between_points_and_stop_at_the_antimeridian() {
        let within = |boxes: &[Bounds], lon: f64, lat: f64| {
            let at = Position::from_deg(lon, lat);
            boxes.iter().any(|b| b.meets(Bounds { min: at, max: at }))
        };
        let of = |text: &str| along(&read(text).unwrap(), 300.0, 1_500.0);
        // 1.2 km apart: the middle is in, and 300 m beside it.
        let across = of("42.5,1.5 42.5,1.5146");
        assert!(within(&across, 1.5073, 42.5) && within(&across, 1.5073, 42.5026));
        // 5 km apart: not joined, so nothing is read between them.
        assert!(!within(&of("42.5,1.5 42.5,1.56"), 1.53, 42.5));
        let fiji = of("-16.8,179.995 -16.8,-179.995");
        assert!(within(&fiji, 179.999, -16.8) && within(&fiji, -179.999, -16.8) && within(&fiji, 180.0, -16.8));
        assert!(!within(&fiji, 0.0, -16.8), "the rest of the parallel is not read");
        assert!(within(&of("89.99999,0 89.99999,90"), 10.0, 89.9999));
    }
}
