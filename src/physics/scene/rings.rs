//! Rings and lines in the plane of a cell: plain geometry.
use crate::base::geodesy::{LocalPlane, Point, Position};
use crate::map::extract::model::Area;

/// Rings of an area in a plane, outer ring first.
pub(crate) fn rings_on_plane(plane: &LocalPlane, area: &Area) -> Vec<Vec<Point>> {
    std::iter::once(&area.outer).chain(&area.inners).map(|ring| line_on_plane(plane, ring)).collect()
}

/// A line of positions in a plane.
pub(crate) fn line_on_plane(plane: &LocalPlane, line: &[Position]) -> Vec<Point> {
    line.iter().map(|p| plane.to_plane(*p)).collect()
}

/// Consecutive points of every ring.
pub fn edges(rings: &[Vec<Point>]) -> impl Iterator<Item = (Point, Point)> + '_ {
    rings.iter().flat_map(|r| r.windows(2).map(|w| (w[0], w[1])))
}

/// Whether a point lies inside closed rings (even-odd).
pub fn contains(rings: &[Vec<Point>], p: Point) -> bool {
    let mut inside = false;
    for (a, b) in edges(rings) {
        let straddles = (a.y_m > p.y_m) != (b.y_m > p.y_m);
        if straddles && p.x_m < a.x_m + (p.y_m - a.y_m) / (b.y_m - a.y_m) * (b.x_m - a.x_m) {
            inside = !inside;
        }
    }
    inside
}

/// Distance from a point to the first edge of the rings met along an azimuth, metres, and the
/// azimuth of that edge.
pub(crate) fn ray_to_rings(rings: &[Vec<Point>], from: Point, azimuth_deg: f64) -> Option<(f64, f64)> {
    let ahead = from.moved(azimuth_deg, 1.0);
    edges(rings)
        .filter_map(|(p, q)| {
            let (t, u) = meet(from, ahead, p, q)?;
            (t >= 0.0 && (0.0..=1.0).contains(&u)).then(|| (t, p.azimuth_deg(q)))
        })
        .min_by(|a, b| a.0.total_cmp(&b.0))
}

/// Where two straight lines meet, as shares of `a..b` and `p..q`; `None` where parallel.
pub fn meet(a: Point, b: Point, p: Point, q: Point) -> Option<(f64, f64)> {
    let (rx, ry) = (b.x_m - a.x_m, b.y_m - a.y_m);
    let (sx, sy) = (q.x_m - p.x_m, q.y_m - p.y_m);
    let cross = rx * sy - ry * sx;
    if cross.abs() <= f64::EPSILON * (rx.hypot(ry) * sx.hypot(sy)) {
        return None;
    }
    let (dx, dy) = (p.x_m - a.x_m, p.y_m - a.y_m);
    Some(((dx * sy - dy * sx) / cross, (dx * ry - dy * rx) / cross))
}

/// Distance from a point to a straight piece, metres.
pub fn distance_to_piece_m(p: Point, a: Point, b: Point) -> f64 {
    p.distance_m(nearest_on_piece(p, a, b))
}

/// The point of a straight piece that is nearest to a point.
pub(super) fn nearest_on_piece(p: Point, a: Point, b: Point) -> Point {
    let (ex, ey) = (b.x_m - a.x_m, b.y_m - a.y_m);
    let squared = ex * ex + ey * ey;
    let t = if squared > 0.0 { ((p.x_m - a.x_m) * ex + (p.y_m - a.y_m) * ey) / squared } else { 0.0 };
    a.towards(b, t.clamp(0.0, 1.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_first_edge_along_a_ray_is_found() {
        let ring: Vec<Point> =
            [(0.0, 0.0), (10.0, 0.0), (10.0, 6.0), (0.0, 6.0), (0.0, 0.0)].map(|(x, y)| Point::new(x, y)).to_vec();
        let (d, azimuth) = ray_to_rings(&[ring], Point::new(3.0, 2.0), 0.0).unwrap();
        assert!((d - 4.0).abs() < 1e-9 && (azimuth - 270.0).abs() < 1e-9);
    }
}
