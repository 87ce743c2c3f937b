//! How far the ground beside a road lies above the road.
//!
//! An elevation raster says little about the few metres beside a road: its pixel covers road, bank and slope
//! alike, and its noise would tilt near trees and walls by tens of degrees. So the rise counts from nothing at the edge of the road to
//! fully one pixel further out. A bridge stands above its ground: there the land beside the road begins as far below the deck as the
//! ground under it, or the trees of a valley would stand beside a viaduct above them.
use crate::base::geodesy::Point;
use crate::base::window::Elevation;

/// The ground around one station.
#[derive(Debug, Clone, Copy)]
pub struct Ground<'a> {
    elevation: &'a Elevation,
    road_z_m: f64,
    edge_m: f64,
    pixel_m: f64,
    /// How far the ground under the road lies below it, metres.
    below_m: f64,
}

impl<'a> Ground<'a> {
    /// The ground around a station whose road lies at `road_z_m`; `edge_m` is the distance from the station
    /// to where the land beside the road begins. `None` where the station has no elevation.
    pub fn around(elevation: &'a Elevation, at: Point, road_z_m: f64, edge_m: f64) -> Option<Self> {
        let pixel_m = elevation.grids.iter().find(|g| g.height_m(at).is_some())?.pixel_m;
        road_z_m.is_finite().then_some(Self { elevation, road_z_m, edge_m, pixel_m, below_m: 0.0 })
    }
    /// The same for a road on a bridge over the ground at a place. A deck is not known to lie below its ground.
    pub fn under_deck(self, at: Point) -> Self {
        let ground_z_m = self.elevation.height_m(at).map_or(self.road_z_m, f64::from);
        Self { below_m: (self.road_z_m - ground_z_m).max(0.0), ..self }
    }
    /// How far the ground under the road lies below it, metres: 0 but on bridges.
    pub fn below_m(&self) -> f64 {
        self.below_m
    }
    /// Share 0..=1 of the ground's rise that counts at a distance from the station.
    pub fn share(&self, distance_m: f64) -> f64 {
        ((distance_m - self.edge_m) / self.pixel_m.max(f64::MIN_POSITIVE)).clamp(0.0, 1.0)
    }
    /// Rise of the ground at a place over the road, metres, as far as it counts; `None` over voids.
    pub fn lift_m(&self, p: Point, distance_m: f64) -> Option<f64> {
        let share = self.share(distance_m);
        if share == 0.0 {
            return Some(-self.below_m);
        }
        self.elevation.height_m(p).map(|z| self.blended_m(f64::from(z), share))
    }
    /// The same for a foot of known height.
    pub(crate) fn lift_of_m(&self, base_z_m: f64, distance_m: f64) -> f64 {
        self.blended_m(base_z_m, self.share(distance_m))
    }
    fn blended_m(&self, z_m: f64, share: f64) -> f64 {
        share * (z_m - self.road_z_m) - (1.0 - share) * self.below_m
    }
}

/// Where the panel is, and the ground around it where known.
#[derive(Debug, Clone, Copy)]
pub struct Eye<'a> {
    /// On the lane, in the plane of the cell.
    pub at: Point,
    /// Height of the panel above the road, metres.
    pub antenna_height_m: f64,
    /// The ground around; `None` takes the land as level with the road.
    pub ground: Option<Ground<'a>>,
    /// What the map says counts up to this distance, metres; farther away it counts where `shown` has no surface.
    pub within_m: f64,
    /// Elevation that shows trees and buildings in places; `None` over bare earth.
    pub shown: Option<&'a Elevation>,
}

impl Eye<'_> {
    /// A panel on level land without elevation.
    pub fn level(at: Point, antenna_height_m: f64) -> Self {
        Self { at, antenna_height_m, ground: None, within_m: f64::INFINITY, shown: None }
    }
    /// Whether what the map says of a place counts.
    pub(crate) fn counts(&self, p: Point, distance_m: f64) -> bool {
        distance_m <= self.within_m || self.shown.is_none_or(|elevation| !elevation.is_surface(p))
    }
}

/// Unit vectors (east, north) of evenly spaced azimuths, each in the middle of its share of the circle.
///
/// `count` is a multiple of four; quadrants are exact turns of each other, so that a scene turned by a right angle
/// gives a turned mask to the last bit.
pub(crate) fn directions(count: usize) -> Vec<(f64, f64)> {
    let quarter: Vec<(f64, f64)> =
        (0..count / 4).map(|i| ((i as f64 + 0.5) * 360.0 / count as f64).to_radians().sin_cos()).collect();
    let turned = |turns: usize| {
        quarter.iter().map(move |(x, y)| match turns {
            0 => (*x, *y),
            1 => (*y, -*x),
            2 => (-*x, -*y),
            _ => (-*y, *x),
        })
    };
    (0..4).flat_map(turned).collect()
}
