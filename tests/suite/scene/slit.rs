//! The slit over a track whose crowns all but meet, against rays in closed form, many to a cell.
//!
//! A straight slit through an endless wood, the eye in its middle: what a ray meets depends on the distance from the middle alone.
//! While crowns that fill a part of a pixel leant towards what stands beside it, those of either side of a slit narrower than two
//! pixels leant towards each other over the road: the outage share was up to 0.16 too high, and fell by 0.11 for 5 cm.
use waymask::base::words::RoadClass;
use waymask::physics::sky::foliage::blocked_probability;
use waymask::physics::sky::leaves::LeafOdds;
use waymask::physics::sky::mask::{AZIMUTH_BINS, Mask};
use waymask::profile::Profile;

use super::steps::{Drives, through_a_wood};
use super::support::{ANTENNA_M, GRID};

/// Rays along either side of a cell.
const FINE: usize = 15;
/// Margin and scatter at which rays are averaged.
const MEAN_AT: (f64, f64) = (5.0, 0.7);

/// A strip of crowns on either side of the middle: from and to, base and top, all metres.
type Strip = (f64, f64, f64, f64);

/// The crowns of the default profile: cut back over the road, down to the ground at its edge, and the inside of the wood.
fn strips(gap_m: f64, half_m: f64) -> [Strip; 3] {
    [(gap_m, half_m, 4.5, 20.0), (half_m, half_m + 2.0, 0.0, 20.0), (half_m + 2.0, 1e6, 5.0, 20.0)]
}

fn path_m(strips: &[Strip], azimuth_deg: f64, elevation_deg: f64) -> f64 {
    let (across, climb) = (azimuth_deg.to_radians().sin().abs().max(1e-12), elevation_deg.to_radians().tan());
    let along = strips.iter().map(|(from, to, base, top)| {
        let (enters, leaves) = ((base - ANTENNA_M).max(0.0) / climb, (top - ANTENNA_M) / climb);
        ((to / across).min(leaves) - (from / across).max(enters)).max(0.0)
    });
    along.sum::<f64>() / elevation_deg.to_radians().cos()
}

/// A mask whose cells block as much as many rays do in the mean.
fn dense(strips: &[Strip]) -> Mask {
    let odds = LeafOdds::new(MEAN_AT.0, MEAN_AT.1);
    let mut mask = Mask::open(GRID);
    for bin in 0..AZIMUTH_BINS {
        for row in 0..GRID.rows() {
            let (low_deg, high_deg) = GRID.row_edges_deg(row);
            let share = |k: usize| (k as f64 + 0.5) / FINE as f64;
            let rays = (0..FINE * FINE).map(|k| {
                let azimuth_deg = 5.0 * (bin as f64 + share(k / FINE));
                let path_m = path_m(strips, azimuth_deg, low_deg + (high_deg - low_deg) * share(k % FINE));
                blocked_probability(path_m, 0.0, MEAN_AT.0, MEAN_AT.1)
            });
            let blocked = rays.sum::<f64>() / (FINE * FINE) as f64;
            let off = |level: &u8| (odds.blocked(*level) - blocked).abs();
            mask.canopy[GRID.cell(bin, row)] = (0..=255).min_by(|a, b| off(a).total_cmp(&off(b))).unwrap();
        }
    }
    mask
}

#[test]
fn a_slit_is_as_open_as_many_rays_say() {
    let drives = Drives::new();
    let odds = LeafOdds::of(&Profile::default());
    for i in 0..=9 {
        let width_m = 1.5 + 0.25 * f64::from(i);
        let (world, lane_m) = through_a_wood(RoadClass::Track, width_m, 0.0);
        let section = &world.network.segments[0].section;
        let half_m = f64::from(section.width_m.value) / 2.0 + f64::from(section.free.likely.clear_m);
        let dense = dense(&strips(f64::from(section.free.likely.crown_gap_m) / 2.0, half_m));
        let mask = drives.mask(&world, lane_m, 0.0);
        let sky = |mask: &Mask| mask.canopy.iter().map(|c| 1.0 - odds.blocked(*c)).sum::<f64>() / GRID.cells() as f64;
        assert!((sky(&mask) - sky(&dense)).abs() < 0.01, "{width_m} m: {} {}", sky(&mask), sky(&dense));
        // Three rays to a cell instead of many.
        let (found, want) = (drives.outage_share_under(mask), drives.outage_share_under(dense));
        assert!((found - want).abs() < 0.05, "{width_m} m: {found} {want}");
    }
}
