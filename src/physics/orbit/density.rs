//! Expected satellites by direction, in closed form, for circular shells whose nodes and phases are
//! evenly spread.
//!
//! With u the angle along the orbit from the node, a satellite's latitude is `asin(sin i sin u)` with
//! u uniform; on the unit sphere that is `N / (2 pi^2 sqrt(sin^2 i - sin^2 lat))` per steradian, growing
//! without bound (but integrable) towards `lat = i`. All integrals below treat that edge exactly.
use std::f64::consts::{FRAC_PI_2, PI, TAU};

use super::geometry::{CircularOrbit, GeostationaryArc, SkyDirection};
use super::quadrature::EndRule;
use crate::physics::sky::mask::{AZIMUTH_BINS, AZIMUTH_STEP_DEG, SkyGrid};
use crate::profile::{Constellation, Shell};

/// Shells flatter than this are computed as if inclined so, sine of the inclination: a band of
/// 0.006 degrees around the equator instead of a line.
const LEAST_SIN_INCLINATION: f64 = 1e-4;
/// Nodes of the one-dimensional count; 64 more change it by less than 1e-6.
const COUNT_NODES: usize = 64;
/// Nodes per cell and coordinate.
const CELL_NODES: usize = 12;
/// Sines this close count as touching: the pole under a polar shell is met, not missed by rounding.
const TOUCHING: f64 = 1e-12;

/// Sine of the inclination; retrograde shells reach the same latitudes as their mirror images.
fn sin_inclination(inclination_deg: f64) -> f64 {
    inclination_deg.to_radians().sin().abs().max(LEAST_SIN_INCLINATION)
}

/// Satellites of a shell.
fn satellites(shell: &Shell) -> f64 {
    f64::from(shell.planes) * f64::from(shell.per_plane)
}

/// Probability density of a satellite's latitude, per radian; 0 at and beyond the inclination.
#[cfg(test)]
pub(crate) fn latitude_density(inclination_deg: f64, latitude_deg: f64) -> f64 {
    let (sin_lat, cos_lat) = latitude_deg.to_radians().sin_cos();
    let s = sin_inclination(inclination_deg);
    let room = (s - sin_lat) * (s + sin_lat);
    if room > 0.0 { cos_lat / (PI * room.sqrt()) } else { 0.0 }
}

/// Probability that a satellite stands south of a latitude.
#[cfg(test)]
pub(crate) fn latitude_cdf(inclination_deg: f64, latitude_deg: f64) -> f64 {
    let sine = latitude_deg.to_radians().sin() / sin_inclination(inclination_deg);
    0.5 + sine.clamp(-1.0, 1.0).asin() / PI
}

/// Expected satellites of a shell above an elevation, for an observer at a latitude.
///
/// `N/pi * integral of D(u)/pi du`, where D is the half-width in longitude of the visible circle at
/// the latitude of u; derived here, closed form.
pub fn expected_above(shell: &Shell, latitude_deg: f64, elevation_deg: f64) -> f64 {
    let orbit = CircularOrbit::at_altitude(shell.altitude_km);
    if !orbit.is_above_ground() || !shell.inclination_deg.is_finite() {
        return 0.0;
    }
    let reach = orbit.central_angle_deg(elevation_deg).to_radians().max(0.0);
    let s = sin_inclination(shell.inclination_deg);
    let (sin_l, cos_l) = latitude_deg.to_radians().sin_cos();
    let half_width = |u: f64| {
        let sin_lat = s * u.sin();
        let across = cos_l * (1.0 - sin_lat * sin_lat).sqrt();
        let beyond = reach.cos() - sin_l * sin_lat;
        // Above a pole the whole parallel is either in view or not.
        if across <= beyond.abs() { if beyond > 0.0 { 0.0 } else { PI } } else { (beyond / across).acos() }
    };
    let rule = EndRule::new(COUNT_NODES);
    let kinks = width_kinks(latitude_deg.to_radians(), reach, s);
    let sum: f64 = kinks.windows(2).flat_map(|b| rule.on(b[0], b[1])).map(|(u, w)| w * half_width(u)).sum();
    satellites(shell) * sum / (PI * PI)
}

/// Angles u at which the half-width starts, ends or becomes the whole parallel, in order.
fn width_kinks(latitude: f64, reach: f64, s: f64) -> Vec<f64> {
    let mut kinks = vec![-FRAC_PI_2, FRAC_PI_2];
    for edge in [latitude - reach, latitude + reach] {
        // An edge beyond a pole comes down on the other side: its sine is the same.
        let sine = edge.sin() / s;
        if sine.abs() < 1.0 {
            kinks.push(sine.asin());
        }
    }
    kinks.sort_by(f64::total_cmp);
    kinks
}

/// Expected satellites of all shells above an elevation.
#[cfg(test)]
pub(crate) fn expected_count(constellation: &Constellation, latitude_deg: f64, elevation_deg: f64) -> f64 {
    constellation.shells.iter().map(|s| expected_above(s, latitude_deg, elevation_deg)).sum()
}

/// Expected satellites of a shell per steradian of an observer's sky in a direction:
/// `n(lat) d^2 / (r^2 cos(eta))`, eta the angle at the satellite; 0 where the direction meets the
/// shell at or beyond its inclination. The geometric factor as in Bassa, Hainaut and Galadi-Enriquez 2022
/// (A&A 657, A75); derived here.
#[cfg(test)]
pub(crate) fn density_per_sr(shell: &Shell, latitude_deg: f64, direction: SkyDirection) -> f64 {
    let orbit = CircularOrbit::at_altitude(shell.altitude_km);
    if !orbit.is_above_ground() || !shell.inclination_deg.is_finite() {
        return 0.0;
    }
    let s = sin_inclination(shell.inclination_deg);
    let central = orbit.central_angle_deg(direction.elevation_deg).to_radians();
    let sin_lat = sin_latitude(latitude_deg.to_radians(), central, direction.azimuth_deg.to_radians().cos());
    let room = (s - sin_lat) * (s + sin_lat);
    if room <= 0.0 {
        return 0.0;
    }
    let range = orbit.slant_range_km(direction.elevation_deg) / orbit.radius_km;
    let slant = orbit.nadir_angle_deg(direction.elevation_deg).to_radians().cos();
    satellites(shell) / (2.0 * PI * PI * room.sqrt()) * range * range / slant
}

/// Sine of the latitude a central angle away towards an azimuth.
#[cfg(test)]
fn sin_latitude(latitude: f64, central: f64, cos_azimuth: f64) -> f64 {
    latitude.sin() * central.cos() + latitude.cos() * central.sin() * cos_azimuth
}

/// What is expected in one cell of the sky.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(crate) struct CellCount {
    /// Expected satellites.
    pub all: f64,
    /// Expected satellites away from the geostationary arc.
    pub clear: f64,
    /// The same, each counted with sin(elevation) to the power of the preference.
    pub preferred: f64,
}

impl CellCount {
    fn add(&mut self, other: CellCount, factor: f64) {
        self.all += factor * other.all;
        self.clear += factor * other.clear;
        self.preferred += factor * other.preferred;
    }
}

/// Expected satellites per cell of a grid, all shells, in the order of [`SkyGrid::cell`].
///
/// Cells hold the integral over the cell, not density times area; their sum over a shell is brought
/// to the one-dimensional count.
pub(crate) fn cell_counts(
    constellation: &Constellation,
    latitude_deg: f64,
    elevation_preference: f64,
    grid: SkyGrid,
) -> Vec<CellCount> {
    let exclusion_deg = constellation.geostationary_exclusion_deg;
    let avoid = (exclusion_deg > 0.0).then(|| (GeostationaryArc::at(latitude_deg), exclusion_deg));
    let mut cells = vec![CellCount::default(); grid.cells()];
    for shell in &constellation.shells {
        let target = expected_above(shell, latitude_deg, grid.floor_deg);
        if target <= 0.0 {
            continue;
        }
        let field = ShellField::new(shell, latitude_deg, elevation_preference, avoid.as_ref());
        let counts = field.cells(grid);
        let sum: f64 = counts.iter().map(|c| c.all).sum();
        if sum > 0.0 {
            for (cell, count) in cells.iter_mut().zip(counts) {
                cell.add(count, target / sum);
            }
        }
    }
    cells
}

/// Shares of the expected satellites above an elevation in the quadrants around north, east, south
/// and west (315..45, 45..135, ... degrees); all 0 where there are none.
pub fn quadrant_shares(constellation: &Constellation, latitude_deg: f64, elevation_deg: f64) -> [f64; 4] {
    let grid = SkyGrid { floor_deg: elevation_deg };
    let cells = cell_counts(constellation, latitude_deg, 0.0, grid);
    let mut shares = [0.0; 4];
    for (bin, column) in cells.chunks(grid.rows()).enumerate() {
        let quadrant = (bin + AZIMUTH_BINS / 8) * 4 / AZIMUTH_BINS % 4;
        shares[quadrant] += column.iter().map(|c| c.clear).sum::<f64>();
    }
    let total: f64 = shares.iter().sum();
    if total > 0.0 {
        shares.iter_mut().for_each(|s| *s /= total);
    }
    shares
}

/// One shell over one observer, in azimuth and central angle: there the area of the sphere is
/// `sin(central) d(central) d(azimuth)` and the density depends on the latitude alone.
pub(super) struct ShellField<'a> {
    orbit: CircularOrbit,
    satellites: f64,
    sin_inclination: f64,
    latitude: f64,
    elevation_preference: f64,
    avoid: Option<&'a (GeostationaryArc, f64)>,
    rule: EndRule,
}

impl<'a> ShellField<'a> {
    pub(super) fn new(
        shell: &Shell,
        latitude_deg: f64,
        elevation_preference: f64,
        avoid: Option<&'a (GeostationaryArc, f64)>,
    ) -> Self {
        Self {
            orbit: CircularOrbit::at_altitude(shell.altitude_km),
            satellites: satellites(shell),
            sin_inclination: sin_inclination(shell.inclination_deg),
            latitude: latitude_deg.to_radians(),
            elevation_preference,
            avoid,
            rule: EndRule::new(CELL_NODES),
        }
    }

    /// Counts of all cells of a grid, not yet brought to the one-dimensional count. East and west
    /// mirror each other, so half the azimuths are computed.
    pub(super) fn cells(&self, grid: SkyGrid) -> Vec<CellCount> {
        let mut cells = vec![CellCount::default(); grid.cells()];
        for bin in 0..AZIMUTH_BINS / 2 {
            let low = (bin as f64 * AZIMUTH_STEP_DEG).to_radians();
            let high = ((bin + 1) as f64 * AZIMUTH_STEP_DEG).to_radians();
            for row in 0..grid.rows() {
                let (floor_deg, ceiling_deg) = grid.row_edges_deg(row);
                let inner = self.orbit.central_angle_deg(ceiling_deg).to_radians().max(0.0);
                let outer = self.orbit.central_angle_deg(floor_deg).to_radians();
                let count = self.cell((low, high), (inner, outer));
                cells[grid.cell(bin, row)] = count;
                cells[grid.cell(AZIMUTH_BINS - 1 - bin, row)] = count;
            }
        }
        cells
    }

    /// Integral over azimuths within 0..pi and central angles, radians.
    fn cell(&self, azimuths: (f64, f64), centrals: (f64, f64)) -> CellCount {
        let mut sum = CellCount::default();
        for piece in self.central_kinks(azimuths, centrals).windows(2) {
            for (central, weight) in self.rule.on(piece[0], piece[1]) {
                sum.add(self.ring(azimuths, central), weight * central.sin());
            }
        }
        sum
    }

    /// The range of central angles cut where the edge of the shell (latitude +-i) meets an azimuth
    /// edge of the cell: between cuts the integral over azimuth is smooth.
    ///
    /// `sin L cos c + cos L cos a sin c = m cos(c - p)`, so the edge is met at `c = p +- acos(s/m)`.
    fn central_kinks(&self, azimuths: (f64, f64), (inner, outer): (f64, f64)) -> Vec<f64> {
        let mut kinks = vec![inner, outer];
        for azimuth in [azimuths.0, azimuths.1] {
            let (x, y) = (self.latitude.sin(), self.latitude.cos() * azimuth.cos());
            let (size, phase) = (x.hypot(y), y.atan2(x));
            for s in [self.sin_inclination, -self.sin_inclination] {
                if size >= s.abs() - TOUCHING {
                    let turn = (s / size).clamp(-1.0, 1.0).acos();
                    let met = [phase + turn, phase - turn].map(|c| c.rem_euclid(TAU));
                    kinks.extend(met.iter().filter(|c| inner < **c && **c < outer));
                }
            }
        }
        kinks.sort_by(f64::total_cmp);
        kinks
    }

    /// Integral over the azimuths at one central angle, where the shell is not ended by its inclination.
    fn ring(&self, azimuths: (f64, f64), central: f64) -> CellCount {
        let s = self.sin_inclination;
        let level = self.latitude.sin() * central.cos();
        let swing = (self.latitude.cos() * central.sin()).max(f64::MIN_POSITIVE);
        // From north (0) to south (pi) the latitude only falls: from +i on, down to -i.
        let low = azimuths.0.max(((s - level) / swing).clamp(-1.0, 1.0).acos());
        let high = azimuths.1.min(((-s - level) / swing).clamp(-1.0, 1.0).acos());
        if low >= high {
            return CellCount::default();
        }
        let elevation_deg = self.orbit.elevation_deg(central);
        let (mut all, mut clear) = (0.0, 0.0);
        for (azimuth, weight) in self.rule.on(low, high) {
            let sin_lat = level + swing * azimuth.cos();
            let room = (s - sin_lat) * (s + sin_lat);
            if room > 0.0 {
                let part = weight * self.satellites / (2.0 * PI * PI * room.sqrt());
                all += part;
                if self.is_clear(SkyDirection::new(azimuth.to_degrees(), elevation_deg)) {
                    clear += part;
                }
            }
        }
        let preference = elevation_deg.to_radians().sin().max(0.0).powf(self.elevation_preference);
        CellCount { all, clear, preferred: clear * preference }
    }

    fn is_clear(&self, direction: SkyDirection) -> bool {
        is_clear(self.avoid, direction)
    }
}

/// Whether a direction keeps the given distance in degrees from the geostationary arc.
pub(super) fn is_clear(avoid: Option<&(GeostationaryArc, f64)>, direction: SkyDirection) -> bool {
    avoid.is_none_or(|(arc, limit_deg)| arc.distance_deg(direction).is_none_or(|d| d >= *limit_deg))
}
