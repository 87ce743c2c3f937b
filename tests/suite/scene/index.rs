//! What lies near a window is found, also across the antimeridian.
use waymask::base::geodesy::LocalPlane;
use waymask::base::index::SegmentIndex;
use waymask::map::extract::model::LeafType;
use waymask::physics::scene::index::{FeatureIndex, Nearby, Window};

use super::support::{World, square};

fn near(world: &World, lon_deg: f64, lat_deg: f64) -> Nearby {
    let window = Window::new(LocalPlane::at(lon_deg, lat_deg), 100.0);
    FeatureIndex::new(&world.extract, &world.network, &world.heights()).near(&window)
}

#[test]
fn windows_find_what_reaches_into_their_border() {
    let window = Window::new(LocalPlane::at(179.9995, -17.0), 100.0);
    let mut world = World { window, ..World::default() };
    // The antimeridian is 53 m east of the origin.
    world.add_wood(&square(-40.0, 0.0, 10.0), LeafType::Mixed);
    world.add_building(&square(120.0, 0.0, 10.0), 9.0);
    world.add_road(&[(150.0, -20.0), (150.0, 20.0)], 6.0, 3.0, None);
    world.add_wood(&square(0.0, 900.0, 50.0), LeafType::Mixed);
    for lon_deg in [179.9995, -179.9995] {
        let found = near(&world, lon_deg, -17.0);
        assert_eq!(
            (found.canopy, found.buildings, found.segments),
            (vec![0], vec![0], vec![SegmentIndex::new(0)]),
            "{lon_deg}"
        );
    }
    assert_eq!(near(&world, 0.0, -17.0), Nearby::default());
    assert_eq!(near(&world, f64::NAN, -17.0), Nearby::default());
}

#[test]
fn a_tower_is_found_from_as_far_as_it_reaches() {
    // 298 m above the panel at 410 m are 36 degrees, over the whole bin; a shed as far off reaches nobody.
    let mut world = World::default();
    world.add_building(&square(540.0, 0.0, 40.0), 300.0);
    world.add_building(&square(0.0, 500.0, 10.0), 9.0);
    assert_eq!(near(&world, 7.5, 46.2).buildings, vec![0]);
    let (horizon, _) = world.solid_mask((90.0, 0.0), 2.0);
    assert!(horizon[waymask::physics::sky::mask::azimuth_bin(90.0)] > 35.0);
}
