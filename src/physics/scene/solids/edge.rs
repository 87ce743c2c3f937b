//! One upright edge of something solid.
use crate::base::geodesy::Point;
use crate::base::words::PerCase;

/// One upright edge.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct SolidEdge {
    /// First end.
    pub a: Point,
    /// Last end.
    pub b: Point,
    /// Top above the ground at its foot, metres; the same three times where a tag gave it, and [`NOTHING_M`] in a case in which it
    /// does not stand here.
    pub heights_m: PerCase<f64>,
    /// Height of the ground at its foot above the vertical datum, metres; `None` without elevation.
    pub base_z_m: Option<f64>,
    /// It only rises for those who stand right of the line from `a` to `b` (a cliff's high side is on its left).
    pub right_only: bool,
    /// It rises only for those nearer than this, metres: whoever stands farther from the rim of a cutting stands outside of
    /// the cutting, as high as the rim.
    pub seen_within_m: f64,
    /// Building it belongs to, index into [`crate::map::extract::model::Extract::buildings`].
    pub building: Option<u32>,
    /// Its height is a default, not a tag.
    pub assumed: bool,
}

/// Height of what does not stand here.
pub(crate) const NOTHING_M: f64 = f64::NEG_INFINITY;

impl SolidEdge {
    /// Its top in the case in which it is highest.
    pub(crate) fn highest_m(&self) -> f64 {
        self.heights_m.each_ref().into_iter().copied().fold(NOTHING_M, f64::max)
    }
    /// The part of it nearer to a place than a distance; `None` where there is none.
    pub(crate) fn nearer_than(&self, p: Point, distance_m: f64) -> Option<Self> {
        if distance_m == f64::INFINITY {
            return Some(*self);
        }
        let (ex, ey) = (self.b.x_m - self.a.x_m, self.b.y_m - self.a.y_m);
        let (px, py) = (p.x_m - self.a.x_m, p.y_m - self.a.y_m);
        let squared = ex * ex + ey * ey;
        if squared <= 0.0 {
            return None;
        }
        // Along the edge, its ends at 0 and 1: the foot of the perpendicular, and half the chord of the disc.
        let foot = (px * ex + py * ey) / squared;
        let aside_squared = px * px + py * py - foot * foot * squared;
        let half = ((distance_m * distance_m - aside_squared).max(0.0) / squared).sqrt();
        let (from, to) = ((foot - half).max(0.0), (foot + half).min(1.0));
        (from < to).then(|| Self { a: self.a.towards(self.b, from), b: self.a.towards(self.b, to), ..*self })
    }
}
