//! Constructed roads and skies.
use waymask::base::words::{OverheadKind, ValueFrom};
use waymask::physics::link::draw::Draw;
use waymask::physics::link::model::Stretch;
use waymask::physics::orbit::model::{Sighting, Timeline};
use waymask::physics::scene::overheads::overhead::Overhead;
use waymask::physics::sky::leaves::LeafOdds;
use waymask::physics::sky::mask::{AZIMUTH_BINS, Mask, SkyGrid};
use waymask::profile::Profile;

pub const GRID: SkyGrid = SkyGrid { floor_deg: 25.0 };

/// A panel that sees down to 25 degrees, every satellite usable, 64 drives; the signal as it is, every slot aware, crowns alone
/// scatter.
pub fn profile() -> Profile {
    let mut profile = Profile::default();
    (profile.link.hold_s, profile.link.reacquire_s, profile.link.awareness) = (0.0, 0.0, 1.0);
    profile.link.glimpse_s = 0.0;
    (profile.canopy.between_ln, profile.canopy.within_ln) = (0.0, 0.7);
    profile.terminal.scan_half_angle_deg = 65.0;
    profile.link.usable_share = 1.0;
    profile.link.drives = 64;
    profile
}

/// Open road.
pub fn stretch(length_m: f64, speed_mps: f64, heading_deg: f32) -> Stretch {
    let masks = vec![Mask::open(GRID), Mask::open(GRID)];
    Stretch { length_m, speed_mps, masks, headings_deg: vec![heading_deg; 2], overheads: vec![] }
}

/// The stretch with every mask changed by `paint`.
pub fn painted(mut stretch: Stretch, paint: impl Fn(&mut Mask)) -> Stretch {
    stretch.masks.iter_mut().for_each(paint);
    stretch
}

/// A stretch without any sky.
pub fn dark(length_m: f64, speed_mps: f64) -> Stretch {
    painted(stretch(length_m, speed_mps, 0.0), |m| m.terrain_deg = [90.0; AZIMUTH_BINS])
}

/// An endless deck with its underside 4.9 m above the road, antenna at 2 m, thickness 1.6 m.
pub fn deck(start_m: f64, width_m: f64, heading_deg: f64) -> Overhead {
    Overhead {
        kind: OverheadKind::RoadDeck,
        osm_id: 1,
        start_m,
        end_m: start_m + width_m,
        heading_start_deg: heading_deg,
        heading_end_deg: heading_deg,
        skew_deg: 0.0,
        left_m: f64::INFINITY,
        right_m: f64::INFINITY,
        left_closed: false,
        right_closed: false,
        clearance_m: 2.9,
        thickness_m: 1.6,
        underside_above_road_m: 4.9,
        underside_from: ValueFrom::Default,
        deck_width_m: width_m,
    }
}

pub fn sighting(satellite: u32, azimuth_deg: f64, elevation_deg: f64) -> Sighting {
    Sighting { satellite, azimuth_deg: azimuth_deg as f32, elevation_deg: elevation_deg as f32 }
}

/// A timeline made second by second; sightings are put in the order of satellites.
pub fn timeline(seconds: usize, sky: impl Fn(usize) -> Vec<Sighting>) -> Timeline {
    let mut timeline = Timeline { latitude_deg: 45.0, sightings: vec![], starts: vec![0] };
    for second in 0..seconds {
        let mut seen = sky(second);
        seen.sort_by_key(|s| s.satellite);
        timeline.sightings.extend(seen);
        timeline.starts.push(timeline.sightings.len() as u32);
    }
    timeline
}

/// A timeline of satellites that stand still: (azimuth, elevation) of each, degrees.
pub fn still_timeline(seconds: usize, directions: &[(f64, f64)]) -> Timeline {
    let seen: Vec<_> = directions.iter().enumerate().map(|(i, &(az, el))| sighting(i as u32, az, el)).collect();
    timeline(seconds, |_| seen.clone())
}

/// Satellites on straight lines 550 km over a flat earth at 7.3 km/s, `visible` of them above 25
/// degrees on average; one that leaves the square of 3000 km returns under a new number.
pub fn flying_timeline(seconds: usize, visible: f64, seed: u64) -> Timeline {
    const SIDE_KM: f64 = 3000.0;
    const HEIGHT_KM: f64 = 550.0;
    let radius_km = HEIGHT_KM / 25_f64.to_radians().tan();
    let count = (visible * SIDE_KM * SIDE_KM / (std::f64::consts::PI * radius_km * radius_km)).round() as u32;
    let key = Draw::root(seed);
    timeline(seconds, |second| {
        let place = |satellite: u32| {
            let draw = |name: u64| key.of(u64::from(satellite)).of(name).unit();
            let course =
                (if satellite.is_multiple_of(2) { 53.0 } else { 127.0 } + 4.0 * draw(1)) * std::f64::consts::PI / 180.0;
            let along_km = 7.3 * second as f64;
            let (x, y) = (draw(2) * SIDE_KM + along_km * course.sin(), draw(3) * SIDE_KM + along_km * course.cos());
            let wraps = (x / SIDE_KM).floor() - (y / SIDE_KM).floor();
            let (x, y) = (x.rem_euclid(SIDE_KM) - SIDE_KM / 2.0, y.rem_euclid(SIDE_KM) - SIDE_KM / 2.0);
            let azimuth_deg = x.atan2(y).to_degrees().rem_euclid(360.0);
            let elevation_deg = HEIGHT_KM.atan2(x.hypot(y)).to_degrees();
            sighting(satellite + count * (wraps.abs() as u32), azimuth_deg, elevation_deg)
        };
        (0..count).map(place).filter(|s| s.elevation_deg >= 25.0).collect()
    })
}

/// The step of attenuation that [`profile`] blocks with a probability, or the nearest one.
pub fn leaves(probability: f64) -> u8 {
    let odds = LeafOdds::of(&profile());
    let off = |level: &u8| (odds.blocked(*level) - probability).abs();
    (0..=255).min_by(|a, b| off(a).total_cmp(&off(b))).unwrap_or_default()
}

/// Paints canopy of a step of attenuation into the azimuth bins of a range, all elevations up to `top_deg`.
pub fn paint_canopy(mask: &mut Mask, bins: std::ops::Range<usize>, top_deg: f64, level: u8) {
    for bin in bins {
        for row in (0..GRID.rows()).filter(|&row| GRID.row_deg(row) < top_deg) {
            mask.canopy[GRID.cell(bin % AZIMUTH_BINS, row)] = level;
        }
    }
}

pub fn assert_near(got: f64, want: f64, tolerance: f64, what: &str) {
    assert!((got - want).abs() <= tolerance, "{what}: got {got}, want {want} within {tolerance}");
}
