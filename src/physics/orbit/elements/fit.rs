//! Circular shells found in the elements of real satellites.
//!
//! **Altitude** of a shell is the mean distance of its satellites from the earth's centre over a revolution,
//! less 6371 km, because that is what the closed form and the timelines take it for
//! ([`crate::physics::orbit::geometry::CircularOrbit`]): directions and numbers in view depend on the distance
//! itself. A mean motion says that distance only through the earth's flattening:
//! `r = a'' (1 - 3/4 J2 (Re/a'')^2 (3 cos^2 i - 1))`, a'' the mean semi-major axis after Brouwer (SGP4's
//! short-period terms without those that average out). Kepler's law on the mean motion as given would be
//! off by up to 3.5 km (equatorial) or -1.8 km (polar). What remains is the sphere: seen from sea level the
//! height above the observer is 7 km less at the equator and 14 km more at a pole than the shell's
//! altitude, which is +2 % and -4 % of the satellites expected above 25 degrees.
use std::collections::BTreeMap;
use std::f64::consts::TAU;

use jiff::Timestamp;

use super::model::MeanElements;
use super::satellite::brouwer;
use crate::physics::orbit::geometry::EARTH_RADIUS_KM;
use crate::profile::Shell;

/// From this eccentricity an orbit is not a circle: its height changes by 70 km over a revolution.
const ECCENTRIC_FROM: f64 = 0.005;
/// Below this a satellite comes down within weeks, kilometres.
const LOWEST_KM: f64 = 250.0;
/// A satellite whose mean height changes faster is on its way up or down, kilometres a day. Drag at 500 km
/// and the noise of published elements stay below a tenth of it.
const MOVING_KM_DAY: f64 = 1.0;
/// A shell's satellites lie this close to its mean: degrees of inclination, kilometres of height.
const HALF_BOX: (f64, f64) = (0.2, 8.0);
/// Cells in which the first guess of a shell is looked for; a half box is four of them.
const CELL: (f64, f64) = (HALF_BOX.0 / 4.0, HALF_BOX.1 / 4.0);
/// The fewest satellites of a shell, and its least share of all.
const LEAST: (usize, f64) = (3, 0.01);
/// Satellites in no shell are counted together in classes of this width, degrees of inclination and kilometres of height.
const CLASS: (f64, f64) = (0.5, 20.0);
/// Heights and inclinations that a shell may have, kilometres and degrees.
const ALTITUDES_KM: std::ops::RangeInclusive<f64> = 150.0..=36_000.0;
const INCLINATIONS_DEG: (f64, f64) = (0.1, 179.9);
/// Satellites that share the inclination (degrees) of a shell this many times larger, below it or close
/// to it, are on their way to it or waiting for a place.
const WAITING: (f64, usize) = (0.5, 10);
/// Planes are told apart up to this many.
const MOST_PLANES: u32 = 720;
/// Nodes form planes if they agree with evenly spaced ones at least so well (1 exactly, 0 not at all).
const PLANES_AGREE: f64 = 0.3;
/// The fewest planes that agree this nearly as well as the best are taken: multiples agree as well.
const NEARLY: f64 = 0.9;
/// A plane counts if it holds at least this share of what the fullest holds.
const OCCUPIED: f64 = 0.2;
/// Nodes of orbits flatter than this mean nothing, degrees.
const FLAT_DEG: f64 = 0.5;
/// Planes times satellites per plane may miss the count by this share.
const COUNT_SLACK: f64 = 0.01;

/// A shell and who is in it.
#[derive(Debug, Clone, PartialEq)]
pub struct FittedShell {
    /// The shell; its count may differ from the members by 1 % where planes are not equally full.
    pub shell: Shell,
    /// Places of its satellites in the list of elements, ascending.
    pub members: Vec<usize>,
}

/// Shells of a list of elements, and what is in none.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ShellFit {
    /// Shells, the largest first.
    pub shells: Vec<FittedShell>,
    /// Left out: eccentric orbits.
    pub eccentric: u64,
    /// Left out: coming down, or on the way up.
    pub moving: u64,
    /// Left out: in no shell.
    pub stray: u64,
}

/// A circular orbit's place among shells.
#[derive(Debug, Clone, Copy)]
struct Circle {
    index: usize,
    inclination_deg: f64,
    altitude_km: f64,
    /// Node, radians, at the latest epoch of all.
    node: f64,
}

enum Motion {
    Circle(Circle),
    Eccentric,
    Moving,
}

/// Mean height over the sphere and drift of the node of elements.
struct MeanOrbit {
    altitude_km: f64,
    rise_km_day: f64,
    node_rad_day: f64,
}

fn mean_orbit(elements: &MeanElements) -> Option<MeanOrbit> {
    let orbit = brouwer(elements).ok()?;
    let model = sgp4::WGS72;
    let axis = (model.ke / orbit.mean_motion).powf(2.0 / 3.0);
    let parameter = axis * (1.0 - elements.eccentricity * elements.eccentricity);
    let flattening = model.j2 / (parameter * parameter);
    let cos_i = orbit.inclination.cos();
    let radius_km = model.ae * axis * (1.0 - 0.75 * flattening * (3.0 * cos_i * cos_i - 1.0));
    // From n^2 a^3 constant: da/a = -2/3 dn/n; files carry half of dn/dt.
    let rise_km_day = -2.0 / 3.0 * radius_km * 2.0 * elements.half_motion_rate_rev_day2 / elements.mean_motion_rev_day;
    let node_rad_day = -1.5 * flattening * orbit.mean_motion * cos_i * 1_440.0;
    Some(MeanOrbit { altitude_km: radius_km - EARTH_RADIUS_KM, rise_km_day, node_rad_day })
}

/// Mean height of an orbit over the sphere of 6371 km, kilometres; nothing where the elements do not describe an orbit.
pub fn mean_altitude_km(elements: &MeanElements) -> Option<f64> {
    mean_orbit(elements).map(|orbit| orbit.altitude_km)
}

fn kind(index: usize, elements: &MeanElements, latest: Timestamp) -> Motion {
    if elements.eccentricity >= ECCENTRIC_FROM {
        return Motion::Eccentric;
    }
    match mean_orbit(elements) {
        Some(orbit) if orbit.altitude_km >= LOWEST_KM && orbit.rise_km_day.abs() <= MOVING_KM_DAY => {
            let days = latest.duration_since(elements.epoch).as_secs_f64() / 86_400.0;
            let node = (elements.node_deg.to_radians() + orbit.node_rad_day * days).rem_euclid(TAU);
            let (inclination_deg, altitude_km) = (elements.inclination_deg, orbit.altitude_km);
            Motion::Circle(Circle { index, inclination_deg, altitude_km, node })
        }
        _ => Motion::Moving,
    }
}

/// Finds the shells: again and again the place in inclination and height where most orbits lie together.
pub fn shells(objects: &[MeanElements]) -> ShellFit {
    let mut fit = ShellFit::default();
    let latest = objects.iter().map(|o| o.epoch).max().unwrap_or_default();
    let mut rest = Vec::new();
    for (index, elements) in objects.iter().enumerate() {
        match kind(index, elements, latest) {
            Motion::Circle(circle) => rest.push(circle),
            Motion::Eccentric => fit.eccentric += 1,
            Motion::Moving => fit.moving += 1,
        }
    }
    let least = LEAST.0.max((LEAST.1 * rest.len() as f64) as usize);
    let mut groups = Vec::new();
    while let Some(centre) = densest(&rest) {
        let (group, others) = rest.iter().partition::<Vec<_>, _>(|c| is_near(c, centre));
        // A cell's own orbits lie within its box, so a group is never empty and this ends.
        if group.len() < least {
            break;
        }
        groups.push(group);
        rest = others;
    }
    fit.stray = rest.len() as u64;
    groups.sort_by_key(|g| std::cmp::Reverse(g.len()));
    let waiting: Vec<bool> = groups.iter().map(|g| groups.iter().any(|other| is_waiting(g, other))).collect();
    for (group, waiting) in groups.iter().zip(waiting) {
        if waiting {
            fit.stray += group.len() as u64;
        } else {
            fit.shells.push(fitted(group));
        }
    }
    fit
}

fn is_near(circle: &Circle, (inclination_deg, altitude_km): (f64, f64)) -> bool {
    (circle.inclination_deg - inclination_deg).abs() <= HALF_BOX.0
        && (circle.altitude_km - altitude_km).abs() <= HALF_BOX.1
}

/// The centre of the box that holds the most orbits: from the best cell, moved to the mean of its
/// neighbours until it stays.
fn densest(circles: &[Circle]) -> Option<(f64, f64)> {
    let cell = |c: &Circle| ((c.inclination_deg / CELL.0).floor() as i32, (c.altitude_km / CELL.1).floor() as i32);
    let mut counts: BTreeMap<(i32, i32), usize> = BTreeMap::new();
    circles.iter().for_each(|c| *counts.entry(cell(c)).or_default() += 1);
    let around = |(x, y): (i32, i32)| -> usize {
        let row = |dx: i32| counts.range((x + dx, y - 3)..=(x + dx, y + 3)).map(|(_, n)| n).sum::<usize>();
        (-3..=3).map(row).sum()
    };
    let best = counts.keys().rev().max_by_key(|key| around(**key))?;
    let mut centre = ((f64::from(best.0) + 0.5) * CELL.0, (f64::from(best.1) + 0.5) * CELL.1);
    for _ in 0..20 {
        let moved = mean_of(circles.iter().filter(|c| is_near(c, centre)));
        if moved == centre {
            break;
        }
        centre = moved;
    }
    Some(centre)
}

fn mean_of<'a>(circles: impl Iterator<Item = &'a Circle>) -> (f64, f64) {
    let (mut inclination, mut altitude, mut n) = (0.0, 0.0, 0.0);
    for c in circles {
        inclination += c.inclination_deg;
        altitude += c.altitude_km;
        n += 1.0;
    }
    (inclination / n, altitude / n)
}

/// Whether a group is only on its way to a far larger one of the same inclination, or waits next to it.
fn is_waiting(group: &[Circle], other: &[Circle]) -> bool {
    let ((inclination, altitude), (its_inclination, its_altitude)) = (mean_of(group.iter()), mean_of(other.iter()));
    other.len() >= WAITING.1 * group.len()
        && (inclination - its_inclination).abs() <= WAITING.0
        && altitude < its_altitude + 2.0 * HALF_BOX.1
}

fn fitted(group: &[Circle]) -> FittedShell {
    let (inclination_deg, altitude_km) = mean_of(group.iter());
    let nodes: Vec<f64> = group.iter().map(|c| c.node).collect();
    let planes = if inclination_deg.min(180.0 - inclination_deg) < FLAT_DEG { 1 } else { planes(&nodes) };
    let (planes, per_plane) = layout(group.len() as u32, planes);
    let shell = Shell {
        altitude_km: round_to(altitude_km, 0.1),
        inclination_deg: round_to(inclination_deg, 0.01),
        planes,
        per_plane,
    };
    let mut members: Vec<usize> = group.iter().map(|c| c.index).collect();
    members.sort_unstable();
    FittedShell { shell, members }
}

/// Shells that say where satellites in no shell are expected: one for each class of inclination and mean height, every
/// satellite in a plane of its own. What swings between heights counts at its mean; what has none that a shell may have is
/// in none.
pub fn loose_shells<'a>(objects: impl IntoIterator<Item = &'a MeanElements>) -> Vec<Shell> {
    let mut classes: BTreeMap<(i32, i32), (u32, f64, f64)> = BTreeMap::new();
    for elements in objects {
        let Some(altitude_km) = mean_altitude_km(elements).filter(|km| ALTITUDES_KM.contains(km)) else { continue };
        let key = ((elements.inclination_deg / CLASS.0).floor() as i32, (altitude_km / CLASS.1).floor() as i32);
        let (count, inclinations_deg, altitudes_km) = classes.entry(key).or_default();
        *count += 1;
        *inclinations_deg += elements.inclination_deg;
        *altitudes_km += altitude_km;
    }
    let shell = |(count, inclinations_deg, altitudes_km): (u32, f64, f64)| Shell {
        altitude_km: round_to(altitudes_km / f64::from(count), 0.1),
        inclination_deg: round_to(inclinations_deg / f64::from(count), 0.01)
            .clamp(INCLINATIONS_DEG.0, INCLINATIONS_DEG.1),
        planes: count,
        per_plane: 1,
    };
    classes.into_values().map(shell).collect()
}

fn round_to(value: f64, step: f64) -> f64 {
    (value / step).round() / (1.0 / step).round()
}

/// How many orbital planes nodes form: the smallest number of even spacings with which they agree, less the
/// empty ones. As many as satellites where no spacing agrees.
fn planes(nodes: &[f64]) -> u32 {
    let most = (nodes.len() as u32).min(MOST_PLANES);
    let agreement: Vec<(f64, f64)> = (1..=most).map(|p| resultant(nodes, f64::from(p))).collect();
    let best = agreement.iter().map(|a| a.0).fold(0.0, f64::max);
    let found = agreement.iter().position(|a| a.0 >= NEARLY * best);
    let Some(k) = found.filter(|_| best >= PLANES_AGREE) else { return nodes.len() as u32 };
    let (spacings, phase) = (k + 1, agreement[k].1);
    let mut filled = vec![0.0; spacings];
    for node in nodes {
        let place = ((node * spacings as f64 - phase) / TAU).round() as i64;
        filled[place.rem_euclid(spacings as i64) as usize] += 1.0;
    }
    let fullest = filled.iter().copied().fold(0.0, f64::max);
    filled.iter().filter(|n| **n >= OCCUPIED * fullest).count() as u32
}

/// Length and phase of the mean of unit vectors at multiples of angles.
fn resultant(angles: &[f64], times: f64) -> (f64, f64) {
    let (sin, cos) = angles.iter().fold((0.0, 0.0), |(s, c), a| {
        let (sin, cos) = (a * times).sin_cos();
        (s + sin, c + cos)
    });
    (sin.hypot(cos) / angles.len() as f64, sin.atan2(cos))
}

/// Planes and satellites per plane that give the count: the number that matters most is their product.
fn layout(count: u32, planes: u32) -> (u32, u32) {
    let per_plane = |p: u32| ((f64::from(count) / f64::from(p)).round() as u32).max(1);
    let off = |p: u32| (f64::from(p * per_plane(p)) - f64::from(count)).abs() / f64::from(count);
    let around = (0..planes).flat_map(|d| [planes - d, planes + d]);
    let best = around.take_while(|p| *p >= 1).find(|p| off(*p) <= COUNT_SLACK).unwrap_or(planes);
    (best, per_plane(best))
}
