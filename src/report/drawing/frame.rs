//! The piece of the earth that a map shows, and where things lie on it.
use crate::base::geodesy::{LocalPlane, Point, Position};

/// A place on the picture, user units from its upper left corner.
pub(in crate::report) type Xy = (f64, f64);

/// Width of the picture, user units.
pub(in crate::report) const WIDTH: f64 = 560.0;
/// Lowest and highest picture, user units.
const HEIGHTS: (f64, f64) = (340.0, 600.0);
/// Room around the trip, user units: for marks and labels.
const ROOM: f64 = 44.0;
/// Least side shown, metres: a trip of a few hundred metres is not blown up without end.
const LEAST_M: f64 = 1_000.0;

/// An equirectangular picture around a trip, north up.
#[derive(Debug, Clone, Copy)]
pub(in crate::report) struct Frame {
    plane: LocalPlane,
    /// User units per metre.
    pub scale: f64,
    /// User units.
    pub height: f64,
}

impl Frame {
    /// The frame around some places; nothing without any.
    pub fn around(places: impl Iterator<Item = Position> + Clone) -> Option<Self> {
        let first = LocalPlane::at_position(places.clone().next()?);
        let corners = places.map(|p| first.to_plane(p)).map(|p| (p.x_m, p.x_m, p.y_m, p.y_m));
        let (w, e, s, n) = corners.reduce(|a, b| (a.0.min(b.0), a.1.max(b.1), a.2.min(b.2), a.3.max(b.3)))?;
        let plane = LocalPlane::at_position(first.to_position(Point::new((w + e) / 2.0, (s + n) / 2.0)));
        let (wide_m, high_m) = ((e - w).max(LEAST_M), (n - s).max(LEAST_M));
        let across = (WIDTH - 2.0 * ROOM) / wide_m;
        let height = (high_m * across + 2.0 * ROOM).clamp(HEIGHTS.0, HEIGHTS.1);
        Some(Self { plane, scale: across.min((height - 2.0 * ROOM) / high_m), height })
    }
    /// Where a position lies on the picture.
    pub fn place(&self, at: Position) -> Xy {
        let p = self.plane.to_plane(at);
        (WIDTH / 2.0 + p.x_m * self.scale, self.height / 2.0 - p.y_m * self.scale)
    }
    /// A line on the picture.
    pub fn line(&self, line: &[Position]) -> Vec<Xy> {
        line.iter().map(|p| self.place(*p)).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn north_is_up_and_everything_lies_inside() {
        let at = |lon, lat| Position::from_deg(lon, lat);
        for far in [0.000_1, 0.05, 1.0, 3.0] {
            for (w, h) in [(1.0, 1.0), (1.0, 0.02), (0.02, 1.0)] {
                let (sw, ne) = (at(1.5, 42.5), at(1.5 + w * far, 42.5 + h * far));
                let frame = Frame::around([sw, ne].into_iter()).unwrap();
                let ((x0, y0), (x1, y1)) = (frame.place(sw), frame.place(ne));
                assert!(x0 < x1 && y0 > y1);
                assert!(x0 >= ROOM - 15.0 && x1 <= WIDTH - ROOM + 15.0 && y1 >= ROOM - 15.0, "{far} {w} {h}");
                assert!(y0 <= frame.height - ROOM + 15.0 && frame.height <= HEIGHTS.1);
            }
        }
        assert!(Frame::around(std::iter::empty()).is_none());
    }
}
