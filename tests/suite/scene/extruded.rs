//! A town as extruded footprints, looked at ray by ray: walls are two triangles per edge, undersides flat caps.
//!
//! Shares nothing with the program but the types of an extract: its own map projection, its own reading of heights, its
//! own rule for which outlines their parts replace. Slow and plain on purpose.
use waymask::base::geodesy::Position;
use waymask::map::extract::model::{Building, Extract};

/// Elevations looked at along one azimuth lie this far apart, degrees.
pub const SKYLINE_STEP_DEG: f64 = 0.5;

type Vec3 = [f64; 3];
type Ring = Vec<[f64; 2]>;

/// Metres east and north of an origin, on the ellipsoid of WGS 84 (series of the length of a degree, NIMA TR8350.2).
pub struct Map {
    lon_deg: f64,
    lat_deg: f64,
    east_m: f64,
    north_m: f64,
}

impl Map {
    pub fn at(lon_deg: f64, lat_deg: f64) -> Self {
        let lat = lat_deg.to_radians();
        Self {
            lon_deg,
            lat_deg,
            east_m: 111_412.84 * lat.cos() - 93.5 * (3.0 * lat).cos() + 0.118 * (5.0 * lat).cos(),
            north_m: 111_132.92 - 559.82 * (2.0 * lat).cos() + 1.175 * (4.0 * lat).cos(),
        }
    }
    pub fn place(&self, p: &Position) -> [f64; 2] {
        let (lon, lat) = (f64::from(p.lon_e7) / 1e7, f64::from(p.lat_e7) / 1e7);
        [(lon - self.lon_deg) * self.east_m, (lat - self.lat_deg) * self.north_m]
    }
}

/// One prism of the town.
pub struct Prism {
    /// Index into the extract's buildings.
    pub building: usize,
    pub rings: Vec<Ring>,
    pub bottom_m: f64,
    pub top_m: f64,
    low: [f64; 2],
    high: [f64; 2],
}

/// Even-odd rule over all rings: a hole is outside.
pub fn inside(rings: &[Ring], p: [f64; 2]) -> bool {
    let mut odd = false;
    for ring in rings {
        for i in 0..ring.len() {
            let (a, b) = (ring[i], ring[(i + 1) % ring.len()]);
            if (a[1] > p[1]) != (b[1] > p[1]) && p[0] < a[0] + (p[1] - a[1]) / (b[1] - a[1]) * (b[0] - a[0]) {
                odd = !odd;
            }
        }
    }
    odd
}

/// `height` reaches to the top of the roof; levels do not count the roof, so its height or storeys (3 m each) come on top;
/// without any of them two storeys.
fn top_m(b: &Building) -> f64 {
    let given = |v: Option<f32>| v.map(f64::from).filter(|v| *v > 0.0);
    let roof = given(b.roof_height_m).unwrap_or_else(|| 3.0 * given(b.roof_levels).unwrap_or(0.0));
    given(b.height_m).or(given(b.levels).map(|n| 3.0 * n + roof)).unwrap_or(6.0)
}

impl Prism {
    fn new(map: &Map, building: usize, b: &Building) -> Self {
        let rings: Vec<Ring> = std::iter::once(&b.area.outer)
            .chain(&b.area.inners)
            .map(|r| r.iter().map(|p| map.place(p)).collect())
            .collect();
        let fold = |f: fn(f64, f64) -> f64, from: f64, axis: usize| rings[0].iter().map(|p| p[axis]).fold(from, f);
        let low = [fold(f64::min, f64::MAX, 0), fold(f64::min, f64::MAX, 1)];
        let high = [fold(f64::max, f64::MIN, 0), fold(f64::max, f64::MIN, 1)];
        Self { building, rings, bottom_m: b.min_height_m.map_or(0.0, f64::from), top_m: top_m(b), low, high }
    }
    /// A grid of points inside the footprint.
    fn samples(&self) -> Vec<[f64; 2]> {
        let at = |axis: usize, i: usize| self.low[axis] + (i as f64 + 0.5) / 12.0 * (self.high[axis] - self.low[axis]);
        let grid = (0..144).map(|i| [at(0, i % 12), at(1, i / 12)]);
        grid.filter(|p| inside(&self.rings, *p)).collect()
    }
    pub fn contains(&self, p: [f64; 2]) -> bool {
        p[0] >= self.low[0]
            && p[0] <= self.high[0]
            && p[1] >= self.low[1]
            && p[1] <= self.high[1]
            && inside(&self.rings, p)
    }
    /// Nearest distance from a place to its bounding box, metres.
    fn away_m(&self, p: [f64; 2]) -> f64 {
        let off = |axis: usize| (self.low[axis] - p[axis]).max(p[axis] - self.high[axis]).max(0.0);
        off(0).hypot(off(1))
    }
}

/// All prisms of an extract that stand on the ground or over it. Roofs on posts and what is underground are left out,
/// and outlines most of whose ground is taken by parts that stand on it.
pub fn town(extract: &Extract, map: &Map) -> Vec<Prism> {
    let stands = |b: &Building| !b.roof_only && b.layer >= 0 && b.area.outer.len() >= 4;
    let numbered = extract.buildings.iter().enumerate().filter(|(_, b)| stands(b));
    let all: Vec<Prism> = numbered.map(|(i, b)| Prism::new(map, i, b)).collect();
    let is_part = |p: &&Prism| extract.buildings[p.building].part;
    let parts: Vec<&Prism> = all.iter().filter(is_part).filter(|p| p.bottom_m <= 2.5).collect();
    let replaced = |outline: &Prism| {
        let samples = if is_part(&outline) { Vec::new() } else { outline.samples() };
        let taken = samples.iter().filter(|p| parts.iter().any(|part| part.contains(**p))).count();
        2 * taken > samples.len()
    };
    let gone: Vec<usize> = all.iter().filter(|p| replaced(p)).map(|p| p.building).collect();
    all.into_iter().filter(|p| !gone.contains(&p.building)).collect()
}

/// A surface that may stop a ray.
enum Surface<'a> {
    Triangle([Vec3; 3]),
    Cap(&'a [Ring], f64),
}

fn minus(a: Vec3, b: Vec3) -> Vec3 {
    [a[0] - b[0], a[1] - b[1], a[2] - b[2]]
}
fn cross(a: Vec3, b: Vec3) -> Vec3 {
    [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]]
}
fn dot(a: Vec3, b: Vec3) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

/// Whether a ray meets a triangle (Moller and Trumbore 1997).
fn meets([a, b, c]: &[Vec3; 3], eye: Vec3, ray: Vec3) -> bool {
    let (ab, ac) = (minus(*b, *a), minus(*c, *a));
    let p = cross(ray, ac);
    let det = dot(ab, p);
    if det.abs() < 1e-12 {
        return false;
    }
    let from = minus(eye, *a);
    let u = dot(from, p) / det;
    let q = cross(from, ab);
    let v = dot(ray, q) / det;
    u >= 0.0 && v >= 0.0 && u + v <= 1.0 && dot(ac, q) / det > 0.0
}

impl Surface<'_> {
    fn stops(&self, eye: Vec3, ray: Vec3) -> bool {
        match self {
            Self::Triangle(corners) => meets(corners, eye, ray),
            Self::Cap(rings, z_m) => {
                let t = (z_m - eye[2]) / ray[2];
                t > 0.0 && inside(rings, [eye[0] + t * ray[0], eye[1] + t * ray[1]])
            }
        }
    }
}

/// What is around one place: every surface that may reach above the lowest elevation of the cone.
pub struct View<'a> {
    eye: Vec3,
    surfaces: Vec<Surface<'a>>,
}

impl<'a> View<'a> {
    /// From a place on the ground, `eye_m` above it.
    pub fn new(town: &'a [Prism], at: [f64; 2], eye_m: f64, floor_deg: f64) -> Self {
        let reaches = |top_m: f64, away_m: f64| top_m - eye_m > away_m * floor_deg.to_radians().tan();
        let mut surfaces = Vec::new();
        for prism in town.iter().filter(|p| reaches(p.top_m, p.away_m(at))) {
            for ring in &prism.rings {
                for i in 0..ring.len() {
                    let ([ax, ay], [bx, by]) = (ring[i], ring[(i + 1) % ring.len()]);
                    let foot = [[ax, ay, prism.bottom_m], [bx, by, prism.bottom_m]];
                    let head = [[ax, ay, prism.top_m], [bx, by, prism.top_m]];
                    surfaces.push(Surface::Triangle([foot[0], foot[1], head[0]]));
                    surfaces.push(Surface::Triangle([foot[1], head[1], head[0]]));
                }
            }
            if prism.bottom_m > eye_m {
                surfaces.push(Surface::Cap(&prism.rings, prism.bottom_m));
            }
        }
        Self { eye: [at[0], at[1], eye_m], surfaces }
    }
    /// Whether the sky is hidden in a direction.
    pub fn hidden(&self, azimuth_deg: f64, elevation_deg: f64) -> bool {
        let ((sin_a, cos_a), (sin_e, cos_e)) =
            (azimuth_deg.to_radians().sin_cos(), elevation_deg.to_radians().sin_cos());
        let ray = [sin_a * cos_e, cos_a * cos_e, sin_e];
        self.surfaces.iter().any(|s| s.stops(self.eye, ray))
    }
    /// Along the rays of one bin of azimuths: the lowest open and the highest hidden elevation met, degrees.
    pub fn skyline_deg(&self, from_deg: f64, width_deg: f64, floor_deg: f64) -> (f64, f64) {
        let (mut lowest_open, mut highest_hidden) = (90.0f64, floor_deg);
        for ray in 0..20 {
            let azimuth_deg = from_deg + (f64::from(ray) + 0.5) / 20.0 * width_deg;
            let steps = ((90.0 - floor_deg) / SKYLINE_STEP_DEG) as usize;
            for elevation_deg in (0..steps).map(|i| floor_deg + (i as f64 + 0.5) * SKYLINE_STEP_DEG) {
                if self.hidden(azimuth_deg, elevation_deg) {
                    highest_hidden = highest_hidden.max(elevation_deg);
                } else {
                    lowest_open = lowest_open.min(elevation_deg);
                }
            }
        }
        (lowest_open, highest_hidden)
    }
    /// Open share of the cone above an elevation: rays evenly spread over its solid angle along a golden-angle spiral.
    pub fn open_share(&self, floor_deg: f64, rays: usize) -> f64 {
        let golden_deg = 180.0 * (3.0 - 5.0f64.sqrt());
        let floor = floor_deg.to_radians().sin();
        let open = (0..rays).filter(|i| {
            let sine = floor + (*i as f64 + 0.5) / rays as f64 * (1.0 - floor);
            !self.hidden((*i as f64 * golden_deg) % 360.0, sine.asin().to_degrees())
        });
        open.count() as f64 / rays as f64
    }
}
