//! What holds the ground up on one side: retaining walls, cliffs, banks, and cuttings tagged on the road.
use super::support::{ANTENNA_M, World, network_of};
use waymask::base::geodesy::{LocalPlane, Point};
use waymask::base::window::{Elevation, ElevationGrid, PlaneToPixel};
use waymask::base::words::RoadClass;
use waymask::map::extract::model::*;
use waymask::physics::sky::ground::{Eye, Ground};
use waymask::physics::sky::mask::{AZIMUTH_BINS, SkyGrid, azimuth_bin};
use waymask::physics::sky::solid::SolidPainter;
use waymask::profile::{Profile, Roadside};

/// Low enough for banks of a few metres to be seen.
const LOW: SkyGrid = SkyGrid { floor_deg: 2.0 };
/// A bin is a mean over five degrees of azimuth.
const TOL_DEG: f64 = 0.3;

/// A road drawn northward over 400 m, its carriageway 6 m wide.
fn road(change: impl FnOnce(&mut Road)) -> Road {
    let plane = LocalPlane::at(7.5, 46.2);
    let node = |(id, y_m): (i64, f64)| RoadNode { id, at: plane.to_position(Point::new(0.0, y_m)) };
    let nodes = [(1, -200.0), (2, 200.0)].map(node).to_vec();
    let mut road = Road { lanes: Some(1), width_m: Some(6.0), ..Road::untagged(7, RoadClass::Unclassified, nodes) };
    change(&mut road);
    road
}

fn world(change: impl FnOnce(&mut Road)) -> World {
    let mut world = World::default();
    world.extract.roads = vec![road(change)];
    world.network = network_of(&world.extract.roads, &Profile::default());
    world
}

/// Horizons west and east of a place, degrees, and whether a default hides anything.
fn west_east(world: &World, x_m: f64, roadside: &Roadside, elevation: Option<&Elevation>) -> ([f64; 2], bool) {
    let profile = Profile { roadside: roadside.clone(), ..Profile::default() };
    let solids = world.solids_on(elevation, &profile, LOW.floor_deg);
    let mut horizon = [-90.0; AZIMUTH_BINS];
    let at = Point::new(x_m, 0.0);
    let ground = elevation.and_then(|e| Ground::around(e, at, 500.0, 5.0));
    let eye = Eye { ground, ..Eye::level(at, ANTENNA_M) };
    let painted = SolidPainter::new(LOW).paint(&solids, &eye, None, &mut horizon);
    let deg = |azimuth| f64::from(horizon[azimuth_bin(azimuth)]).max(0.0);
    ([deg(271.0), deg(91.0)], painted.assumed)
}

fn depth(cutting_depth_m: f64) -> Roadside {
    Roadside { cutting_depth_m, ..Roadside::default() }
}

fn close(got: [f64; 2], want: [f64; 2]) {
    assert!((0..2).all(|i| (got[i] - want[i]).abs() < TOL_DEG), "{got:?} {want:?}");
}

const BOTH: Sides = Sides { left: true, right: true };
const LEFT: Sides = Sides { left: true, right: false };
const RIGHT: Sides = Sides { left: false, right: true };

#[test]
fn a_cutting_rises_on_its_sides_by_the_assumed_depth() {
    // 8 m deep, banks of 1.5 to 1: the rim stands 3 + 1.5 + 12 m from the middle, 6 m over the panel.
    let rim_deg = (6.0f64 / 16.5).atan().to_degrees();
    for (sides, want) in [(BOTH, [rim_deg; 2]), (LEFT, [rim_deg, 0.0]), (RIGHT, [0.0, rim_deg])] {
        let (got, assumed) = west_east(&world(|r| r.cutting = sides), 0.0, &depth(8.0), None);
        close(got, want);
        assert!(assumed, "no tag tells the depth");
    }
    // The same way drawn southward: its left is the other side of the land.
    let southward = world(|r| {
        r.cutting = LEFT;
        r.nodes.reverse();
    });
    close(west_east(&southward, 0.0, &depth(8.0), None).0, [0.0, rim_deg]);
    // Off the middle of the road the nearer rim stands higher.
    let (got, _) = west_east(&world(|r| r.cutting = BOTH), 1.5, &depth(8.0), None);
    close(got, [(6.0f64 / 18.0).atan().to_degrees(), (6.0f64 / 15.0).atan().to_degrees()]);
}

#[test]
fn a_hollow_way_is_steep() {
    let hollow = world(|r| (r.cutting, r.hollow_way) = (BOTH, true));
    // 3 + 0.5 + 0.3 x 5 m from the middle, 3 m over the panel.
    close(west_east(&hollow, 0.0, &depth(5.0), None).0, [(3.0f64 / 5.0).atan().to_degrees(); 2]);
}

#[test]
fn the_default_depth_hides_none_of_the_default_cone() {
    // The default is honest, not a dark stripe along every tagged cutting: 1 m over the panel, 9 m away.
    let (got, _) = west_east(&world(|r| r.cutting = BOTH), 0.0, &Roadside::default(), None);
    close(got, [(1.0f64 / 9.0).atan().to_degrees(); 2]);
    assert!(got[0] < Profile::default().terminal.floor_deg());
}

#[test]
fn the_rim_of_a_cutting_is_level_ground_to_those_above_it() {
    let (got, _) = west_east(&world(|r| r.cutting = BOTH), 30.0, &depth(8.0), None);
    close(got, [0.0, 0.0]);
}

#[test]
fn tunnels_and_bridges_have_no_banks_and_embankments_add_nothing() {
    for change in [
        (|r| (r.cutting, r.bridge) = (BOTH, true)) as fn(&mut Road),
        |r| (r.cutting, r.tunnel) = (BOTH, Some(TunnelKind::Tunnel)),
        |r| r.embankment = BOTH,
    ] {
        assert_eq!(west_east(&world(change), 0.0, &depth(20.0), None), ([0.0, 0.0], false));
    }
}

/// Level ground at 500 m, with pixels of a size.
fn level(pixel_m: f64) -> Elevation {
    let n = (600.0 / pixel_m) as usize;
    let (middle, per_km) = ((n - 1) as f64 / 2.0, 1_000.0 / pixel_m);
    let map = PlaneToPixel { column: [middle, per_km, 0.0, 0.0, 0.0, 0.0], row: [middle, 0.0, -per_km, 0.0, 0.0, 0.0] };
    Elevation {
        grids: vec![ElevationGrid { columns: n, rows: n, values_m: vec![500.0; n * n], map, pixel_m, surface: false }],
    }
}

#[test]
fn a_raster_that_shows_banks_is_believed_alone() {
    let cutting = world(|r| r.cutting = BOTH);
    let rim_deg = (6.0f64 / 16.5).atan().to_degrees();
    close(west_east(&cutting, 0.0, &depth(8.0), Some(&level(1.0))).0, [0.0, 0.0]);
    // A coarse one is not: the bank counts from the road, whatever the pixel around it says.
    close(west_east(&cutting, 0.0, &depth(8.0), Some(&level(30.0))).0, [rim_deg, rim_deg]);
}

#[test]
fn walls_that_hold_the_ground_rise_for_those_below() {
    // Drawn northward, the high side is on the left: west. 5 m high, 6 m from the panel.
    for (kind, both_sides) in [
        (BarrierKind::RetainingWall, false),
        (BarrierKind::Cliff, false),
        (BarrierKind::Bank, false),
        (BarrierKind::Wall, true),
        (BarrierKind::NoiseBarrier, true),
    ] {
        let mut world = World::default();
        world.add_barrier(kind, &[(0.0, -200.0), (0.0, 200.0)], Some(5.0));
        let angle_deg = (3.0f64 / 6.0).atan().to_degrees();
        let roadside = Roadside::default();
        let (below, above) = (west_east(&world, 6.0, &roadside, None).0, west_east(&world, -6.0, &roadside, None).0);
        close(below, [angle_deg, 0.0]);
        close(above, [0.0, if both_sides { angle_deg } else { 0.0 }]);
    }
}

#[test]
fn barriers_without_a_height_are_assumed() {
    for (kind, default_m) in [
        (BarrierKind::Wall, 2.0),
        (BarrierKind::RetainingWall, 3.0),
        (BarrierKind::Bank, 3.0),
        (BarrierKind::NoiseBarrier, 4.0),
        (BarrierKind::Cliff, 10.0),
    ] {
        let mut world = World::default();
        world.add_barrier(kind, &[(0.0, -200.0), (0.0, 200.0)], None);
        let (got, assumed) = west_east(&world, 3.0, &Roadside::default(), None);
        let over_m: f64 = default_m - ANTENNA_M;
        close(got, [(over_m / 3.0).atan().to_degrees(), 0.0]);
        assert_eq!(assumed, over_m > 0.0, "{kind:?}");
    }
}
