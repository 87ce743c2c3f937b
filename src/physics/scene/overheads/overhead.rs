//! Decks, tunnels, galleries and roofs: blocked intervals along the road, exactly, not sampled.
use crate::base::words::OverheadKind;
use crate::base::words::ValueFrom;

/// A prism over the lane: the road is assumed straight near it, `along` runs along the lane in
/// the direction driven, `across` to the right of it.
///
/// The near edge crosses the lane at `start_m`, the far edge at `end_m`; both edges are turned by
/// `skew_deg` from square. The prism reaches from `left_m` left of the lane to `right_m` right of
/// it and from `clearance_m` to `clearance_m + thickness_m` above the antenna.
#[derive(Debug, Clone, PartialEq)]
pub struct Overhead {
    /// What it is.
    pub kind: OverheadKind,
    /// Id of the way or relation that crosses (or of the road itself for tunnels).
    pub osm_id: i64,
    /// Where its near edge crosses the lane, metres from the start of the segment in the direction driven; may be negative.
    pub start_m: f64,
    /// Where its far edge crosses the lane, metres.
    pub end_m: f64,
    /// Heading of the lane at the near edge, degrees from true north.
    pub heading_start_deg: f64,
    /// Heading of the lane at the far edge (differs in curved tunnels).
    pub heading_end_deg: f64,
    /// Turn of the edges from square to the lane, degrees, -80..=80: the normal of the edges points to
    /// `heading + skew`.
    pub skew_deg: f64,
    /// Distance from the lane to the left side, metres; infinite for endless decks.
    pub left_m: f64,
    /// Distance from the lane to the right side, metres.
    pub right_m: f64,
    /// Whether the left side is closed down to the road (tunnel wall).
    pub left_closed: bool,
    /// Whether the right side is closed.
    pub right_closed: bool,
    /// Underside above the antenna, metres, above zero.
    pub clearance_m: f64,
    /// Thickness with parapets, metres.
    pub thickness_m: f64,
    /// Underside above the road, metres, and where it came from, for the layer.
    pub underside_above_road_m: f64,
    /// `tag`, `elevation` or `default`.
    pub underside_from: ValueFrom,
    /// Width across the deck, metres, for the layer.
    pub deck_width_m: f64,
}

impl Overhead {
    /// Lane positions, metres on the axis of `start_m` and `end_m`, from which the prism hides a
    /// direction: one interval, or `None` where the ray passes beside it.
    ///
    /// Derived here. At height `h` above the antenna the ray stands `h cos(a) / tan el` along and
    /// `h sin(a) / tan el` across, `a` being the azimuth off the heading. Measured along the lane
    /// against edges turned by `skew` that is a drift of `c h`, `c = cos(a - skew) / (cos skew tan el)`,
    /// so the edges hide `start - c h ..= end - c h`. The heights that count run from underside to top,
    /// as far as the ray has not left the sides; they are one range, so the union is one interval.
    /// A ray that meets a closed side below the underside is hidden at the height where it does.
    ///
    /// A bent tunnel ends its shadow by the heading at either mouth; where the ray misses one
    /// half sideways, the shadow reaches to the middle.
    pub fn shadow(&self, azimuth_deg: f64, elevation_deg: f64) -> Option<(f64, f64)> {
        self.shadow_of(azimuth_deg, sideways_per_height(elevation_deg)?, self.skew_tan())
    }

    /// Tangent of the skew, for [`Overhead::shadow_of`].
    pub fn skew_tan(&self) -> f64 {
        self.skew_deg.to_radians().tan()
    }

    /// [`Overhead::shadow`] for those who ask often and keep [`sideways_per_height`] of a direction and
    /// the tangent of the skew.
    pub fn shadow_of(&self, azimuth_deg: f64, per_height: f64, skew_tan: f64) -> Option<(f64, f64)> {
        let drift_m = |heading_deg: f64| self.drift_m(azimuth_deg - heading_deg, per_height, skew_tan);
        let at_start = drift_m(self.heading_start_deg);
        let at_end =
            if self.heading_end_deg == self.heading_start_deg { at_start } else { drift_m(self.heading_end_deg) };
        if at_start.is_none() && at_end.is_none() {
            return None;
        }
        let middle_m = (self.start_m + self.end_m) / 2.0;
        let from_m = at_start.map_or(middle_m, |(_, most)| self.start_m - most);
        let to_m = at_end.map_or(middle_m, |(least, _)| self.end_m - least);
        (to_m > from_m).then_some((from_m, to_m))
    }

    /// Least and greatest drift along the lane, metres, at the heights where a ray can hit.
    fn drift_m(&self, off_heading_deg: f64, per_height: f64, skew_tan: f64) -> Option<(f64, f64)> {
        let (sin, cos) = off_heading_deg.to_radians().sin_cos();
        let across = sin * per_height;
        let along = (cos + sin * skew_tan) * per_height;
        let (low_m, high_m) = self.heights_m(across)?;
        let (a, b) = (along * low_m, along * high_m);
        Some((a.min(b), a.max(b)))
    }

    /// Heights above the antenna, metres, at which a ray moving `across` metres to the right per
    /// metre of height can hit.
    fn heights_m(&self, across: f64) -> Option<(f64, f64)> {
        // Below this a ray needs a kilometre of height to move a millimetre: it stays over the lane.
        const STRAIGHT: f64 = 1e-6;
        let top_m = self.clearance_m + self.thickness_m;
        if across.abs() < STRAIGHT {
            let over_lane = self.left_m >= 0.0 && self.right_m >= 0.0;
            return over_lane.then_some((self.clearance_m, top_m));
        }
        let (near_m, far_m, far_closed) = if across > 0.0 {
            (-self.left_m, self.right_m, self.right_closed)
        } else {
            (-self.right_m, self.left_m, self.left_closed)
        };
        let (enters_m, leaves_m) = (near_m / across.abs(), far_m / across.abs());
        if leaves_m < self.clearance_m {
            return (far_closed && leaves_m >= 0.0).then_some((leaves_m, leaves_m));
        }
        let (low_m, high_m) = (self.clearance_m.max(enters_m), top_m.min(leaves_m));
        (low_m <= high_m).then_some((low_m, high_m))
    }

    /// Whether a direction is hidden at a lane position, metres on the axis of `start_m`.
    pub fn hides(&self, lane_m: f64, azimuth_deg: f64, elevation_deg: f64) -> bool {
        self.shadow(azimuth_deg, elevation_deg).is_some_and(|(from_m, to_m)| from_m <= lane_m && lane_m <= to_m)
    }

    /// From where to where on the lane, metres, a tunnel hides every direction above an elevation; `None` where there is no
    /// such place.
    ///
    /// Between closed walls every ray ends at a wall or at the ceiling, and none of them drifts farther than the reach. So
    /// beyond the reach from both mouths nothing is in sight. A centimetre covers what is rounded.
    pub fn dark_m(&self, floor_deg: f64) -> Option<(f64, f64)> {
        const ROUNDED_M: f64 = 0.01;
        let walled = self.left_closed && self.right_closed && self.left_m >= 0.0 && self.right_m >= 0.0;
        let solid = self.clearance_m >= 0.0 && self.thickness_m >= 0.0;
        if !(walled && solid && floor_deg > 0.0) {
            return None;
        }
        let reach_m = self.reach_m(floor_deg) + ROUNDED_M;
        let (from_m, to_m) = (self.start_m + reach_m, self.end_m - reach_m);
        (from_m < to_m).then_some((from_m, to_m))
    }

    /// How far before `start_m` and behind `end_m` anything above an elevation can be hidden, metres.
    pub fn reach_m(&self, floor_deg: f64) -> f64 {
        let height_m = self.clearance_m + self.thickness_m;
        height_m / (floor_deg.to_radians().tan() * self.skew_deg.to_radians().cos())
    }
}

/// How far a ray goes sideways per metre of height; `None` where it does not rise.
pub fn sideways_per_height(elevation_deg: f64) -> Option<f64> {
    (elevation_deg > 0.0 && elevation_deg <= 90.0).then(|| 1.0 / elevation_deg.to_radians().tan())
}

/// Share 0..=1 of the solid angle above `floor_deg` that no prism hides at a lane position: `steps`
/// azimuths times `steps` bands of equal solid angle, each judged at its middle.
pub fn open_share(overheads: &[Overhead], lane_m: f64, floor_deg: f64, steps: usize) -> f64 {
    let floor_sin = floor_deg.to_radians().sin();
    let middle = |i: usize| (i as f64 + 0.5) / steps as f64;
    let mut open = 0_usize;
    for band in 0..steps {
        let elevation_deg = (floor_sin + (1.0 - floor_sin) * middle(band)).asin().to_degrees();
        open += (0..steps)
            .filter(|&i| !overheads.iter().any(|o| o.hides(lane_m, 360.0 * middle(i), elevation_deg)))
            .count();
    }
    open as f64 / (steps * steps) as f64
}
