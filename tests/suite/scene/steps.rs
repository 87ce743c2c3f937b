//! Nothing beside a road is a switch: widths, distances and the place of the pixel grid move in steps of 5 cm, and the
//! outage share of the same drives never jumps.
//!
//! With trees decided by the centres of their pixels and crowns that met below a width of 5 m, one centimetre of width
//! took the outage share of a track from 0.91 to 0.30, and most widths changed nothing at all.
use waymask::base::geodesy::Point;
use waymask::base::words::RoadClass;
use waymask::map::extract::model::{LeafType, Road, RoadNode};
use waymask::map::network::model::Segment;
use waymask::physics::link::model::Stretch;
use waymask::physics::link::simulate::simulate_under;
use waymask::physics::link::sky::LinkSky;
use waymask::physics::orbit::timeline::shell_timeline;
use waymask::physics::scene::trees::stack::CrownStack;
use waymask::physics::sky::canopy::{CanopyCaster, CanopyScratch};
use waymask::physics::sky::ground::Eye;
use waymask::physics::sky::leaves::LeafOdds;
use waymask::physics::sky::mask::Mask;
use waymask::profile::Profile;

use super::support::{ANTENNA_M, GRID, World, network_of, square};

/// Largest change of the outage share for 5 cm.
const MOST: f64 = 0.03;
/// The same in the slit over a track whose crowns all but meet. It is steep by itself, since the gap over the road opens with the
/// square of its width and a link counts only when it is held: plain drives under satellites in their exact directions change by up
/// to 0.04.
const MOST_IN_A_SLIT: f64 = 0.06;
const STEP_M: f64 = 0.05;

pub(super) struct Drives {
    profile: Profile,
    sky: LinkSky,
    caster: CanopyCaster,
}

impl Drives {
    pub fn new() -> Self {
        let mut profile = Profile::default();
        profile.link.drives = 256;
        let timeline = shell_timeline(46.0, &profile.constellation, GRID.floor_deg, 3600);
        let sky = LinkSky::new(&timeline, GRID, &profile);
        let caster = CanopyCaster::new(GRID, &profile);
        Self { profile, sky, caster }
    }
    /// The mask at a place.
    pub fn mask(&self, world: &World, x_m: f64, y_m: f64) -> Mask {
        let canopy = world.canopy_with(&self.profile, None);
        let mut mask = Mask::open(GRID);
        let eye = Eye::level(Point::new(x_m, y_m), ANTENNA_M);
        self.caster.cast(&CrownStack::of([&canopy]), &eye, &mut CanopyScratch::default(), [&mut mask.canopy]);
        mask
    }
    fn outage_share(&self, world: &World, x_m: f64, y_m: f64) -> f64 {
        self.outage_share_under(self.mask(world, x_m, y_m))
    }
    /// Outage share of a kilometre on which the sky is everywhere that of one place.
    pub fn outage_share_under(&self, mask: Mask) -> f64 {
        let (length_m, speed_mps) = (1000.0, 15.0);
        let stroke = [Stretch {
            length_m,
            speed_mps,
            masks: vec![mask.clone(), mask],
            headings_deg: vec![0.0; 2],
            overheads: vec![],
        }];
        simulate_under(&stroke, &self.sky, &self.profile, 7)[0].outage_share
    }
}

/// The segment of a road 180 m long, of a width, as the network makes it.
fn segment(world: &World, class: RoadClass, width_m: f64, east_m: f64) -> Segment {
    let line = world.line(&[(east_m, -90.0), (east_m, 90.0)]);
    let nodes = line.iter().zip(1..).map(|(at, id)| RoadNode { id, at: *at }).collect();
    let road = Road { width_m: Some(width_m as f32), ..Road::untagged(1, class, nodes) };
    network_of(&[road], &Profile::default()).segments[0].clone()
}

pub(super) fn through_a_wood(class: RoadClass, width_m: f64, east_m: f64) -> (World, f64) {
    let mut world = World::default();
    let segment = segment(&world, class, width_m, east_m);
    let lane_m = f64::from(segment.section.lane_forward_m);
    world.add_wood(&square(0.0, 0.0, 95.0), LeafType::Needleleaved);
    world.network.segments.push(segment);
    (world, lane_m)
}

/// The largest step between neighbours, and where.
fn steepest(shares: &[f64], from: f64) -> (f64, String) {
    let steps = shares.windows(2).enumerate().map(|(i, w)| ((w[1] - w[0]).abs(), i));
    let (step, i) = steps.max_by(|a, b| a.0.total_cmp(&b.0)).unwrap();
    (step, format!("at {:.2}: {:.3} to {:.3}", from + STEP_M * i as f64, shares[i], shares[i + 1]))
}

#[test]
fn the_width_of_a_road_through_a_wood_is_no_switch() {
    let drives = Drives::new();
    for (class, from_m, most, ends) in
        [(RoadClass::Track, 1.5, MOST_IN_A_SLIT, [0.8, 0.15]), (RoadClass::Tertiary, 3.0, MOST, [0.0, 0.15])]
    {
        let shares: Vec<f64> = (0..=180)
            .map(|i| {
                let (world, lane_m) = through_a_wood(class, from_m + STEP_M * f64::from(i), 0.0);
                drives.outage_share(&world, lane_m, 0.0)
            })
            .collect();
        let (step, place) = steepest(&shares, from_m);
        assert!(step <= most, "{class:?} {place}");
        // From crowns that meet to a road that is open but for its sides, and the wider the clearer.
        assert!(shares[0] > ends[0] && shares[180] < ends[1], "{class:?} {} {}", shares[0], shares[180]);
        assert!(shares.windows(41).all(|w| w[40] <= w[0] + 0.01), "{shares:?}");
    }
}

#[test]
fn the_distance_of_a_wood_is_no_switch() {
    let drives = Drives::new();
    let shares: Vec<f64> = (0..=300)
        .map(|i| {
            let near_m = STEP_M * f64::from(i);
            let mut world = World::default();
            for (from_m, to_m) in [(near_m, 95.0), (-95.0, -2.0)] {
                let corners = [(from_m, -95.0), (to_m, -95.0), (to_m, 95.0), (from_m, 95.0)];
                world.add_wood(&corners, LeafType::Needleleaved);
            }
            drives.outage_share(&world, 0.0, 0.0)
        })
        .collect();
    let (step, place) = steepest(&shares, 0.0);
    assert!(step <= MOST, "{place}");
    assert!(shares[0] > 0.4 && shares[300] < 0.1, "{} {}", shares[0], shares[300]);
}

#[test]
fn where_the_pixels_lie_is_no_switch() {
    let drives = Drives::new();
    for (width_m, most) in [(4.0, MOST_IN_A_SLIT), (6.0, MOST)] {
        let shares: Vec<f64> = (0..=40)
            .map(|i| {
                let east_m = STEP_M * f64::from(i);
                let (world, lane_m) = through_a_wood(RoadClass::Track, width_m, east_m);
                drives.outage_share(&world, east_m + lane_m, 0.3 * east_m)
            })
            .collect();
        let (step, place) = steepest(&shares, 0.0);
        let spread = shares.iter().copied().fold(0.0, f64::max) - shares.iter().copied().fold(1.0, f64::min);
        assert!(step <= most && spread <= 0.05, "{width_m} m wide, spread {spread:.3}, {place}");
    }
}

#[test]
fn the_fall_of_the_ground_is_no_switch() {
    use waymask::base::window::{Elevation, ElevationGrid, PlaneToPixel};
    use waymask::physics::sky::ground::Ground;
    // Land that climbs seven metres in ten to the east, in pixels of 30 m.
    let column = [20.0, 1000.0 / 30.0, 0.0, 0.0, 0.0, 0.0];
    let row = [20.0, 0.0, -1000.0 / 30.0, 0.0, 0.0, 0.0];
    let values_m = (0..41 * 41).map(|i| 500.0 + ((i % 41) as f32 - 20.0) * 21.0).collect();
    let grid = ElevationGrid {
        columns: 41,
        rows: 41,
        values_m,
        map: PlaneToPixel { column, row },
        pixel_m: 30.0,
        surface: false,
    };
    let elevation = Elevation { grids: vec![grid] };
    let caster = CanopyCaster::new(GRID, &Profile::default());
    let odds = LeafOdds::of(&Profile::default());
    let blocked: Vec<f64> = (0..=800)
        .map(|i| {
            let near_m = STEP_M * f64::from(i);
            let mut world = World::default();
            world.add_wood(&[(near_m, -95.0), (95.0, -95.0), (95.0, 95.0), (near_m, 95.0)], LeafType::Needleleaved);
            let eye = Eye {
                ground: Ground::around(&elevation, Point::default(), 500.0, 5.0),
                ..Eye::level(Point::default(), ANTENNA_M)
            };
            let mut cells = vec![0; GRID.cells()];
            let canopy = world.canopy().unwrap();
            caster.cast(&CrownStack::of([&canopy]), &eye, &mut CanopyScratch::default(), [&mut cells]);
            cells.iter().map(|c| odds.blocked(*c)).sum::<f64>() / cells.len() as f64
        })
        .collect();
    let (step, place) = steepest(&blocked, 0.0);
    assert!(step <= 0.01, "{step} {place}");
}

/// Shares of pixels against a fine raster of points.
#[test]
fn polygons_and_strips_cover_their_area() {
    use waymask::physics::scene::cover::{cover_capsule, cover_rings};
    use waymask::physics::scene::raster::Raster;
    use waymask::physics::scene::rings::{contains, distance_to_piece_m};
    let raster = Raster::around_origin(12.0, 1.0);
    let ring = |points: &[(f64, f64)]| points.iter().map(|(x, y)| Point::new(*x, *y)).collect::<Vec<_>>();
    // Beyond all borders of the raster, with a hole and slivers.
    let outer = ring(&[(-15.3, -9.7), (3.1, -14.3), (14.7, -3.2), (4.9, 5.5), (5.8, 6.1), (-8.1, 14.6), (-15.3, -9.7)]);
    let hole = ring(&[(-5.2, -5.1), (2.4, -3.3), (-1.2, 4.7), (-5.2, -5.1)]);
    let rings = vec![outer, hole];
    let (a, b) = (Point::new(-6.2, -3.3), Point::new(7.9, 5.1));
    let mut shares = vec![[0.0; 2]; raster.size * raster.size];
    let mut add = |kind: usize, row: usize, columns: std::ops::Range<usize>, share: f64| {
        columns.for_each(|c| shares[row * raster.size + c][kind] += share);
    };
    cover_rings(&raster, &rings, |row, columns, cover| add(0, row, columns, cover.share));
    cover_capsule(&raster, a, b, 2.3, |row, columns, cover| add(1, row, columns, cover.share));
    const FINE: usize = 40;
    for (i, share) in shares.iter().enumerate() {
        let corner = raster.centre(i % raster.size, i / raster.size);
        let points = (0..FINE * FINE).map(|k| {
            let at = |n: usize| (n as f64 + 0.5) / FINE as f64 - 0.5;
            Point::new(corner.x_m + at(k % FINE), corner.y_m + at(k / FINE))
        });
        let counted = points.fold([0.0; 2], |sum, p| {
            let inside = [contains(&rings, p), distance_to_piece_m(p, a, b) < 2.3];
            [0, 1].map(|kind| sum[kind] + f64::from(u8::from(inside[kind])) / (FINE * FINE) as f64)
        });
        assert!((share[0] - counted[0]).abs() < 0.02, "{corner:?} {share:?} {counted:?}");
        assert!((share[1] - counted[1]).abs() < 0.12, "{corner:?} {share:?} {counted:?}");
    }
}
