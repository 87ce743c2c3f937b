//! Surface models in whole builds: what is measured stands there, whatever the map says of its height.
use waymask::base::words::{BlockerEvidence, Cause};
use waymask::layer::model::SegmentRow;
use waymask::profile::Profile;

use crate::build::kit::{Sketch, write_raster};

/// A block of 40 m, 10 m beside a road, in a surface with pixels of a metre; how the map draws it.
fn row(drawn: Option<&[(&str, &str)]>) -> SegmentRow {
    row_in(drawn, 1.0, false)
}

/// The same in pixels of a size, in a surface or in a raster of heights above the ground; without rasters where the size is 0.
fn row_in(drawn: Option<&[(&str, &str)]>, pixel_m: f64, above_ground: bool) -> SegmentRow {
    let mut sketch = Sketch::at(46.0);
    let way = sketch.line(&[(0.0, -120.0), (0.0, 120.0)], &[("highway", "residential")]).0;
    sketch.area([500.0, 500.0, 510.0, 510.0], &[("building", "yes"), ("height", "5")]);
    sketch.area([600.0, 600.0, 620.0, 620.0], &[("landuse", "forest")]);
    if let Some(tags) = drawn {
        sketch.area([10.0, -100.0, 40.0, 100.0], &[&[("building", "yes")], tags].concat());
    }
    let mut profile = Profile::default();
    profile.link.drives = 8;
    if pixel_m == 0.0 {
        return sketch.build(profile).of_way(way)[0].clone();
    }
    let place = sketch.build_with(profile, |options, folder| {
        let (bare, tops) = (folder.join("bare.tif"), folder.join("tops.tif"));
        write_raster(&bare, &sketch.plane, 200.0, 1.0, |_| 100.0);
        let ground_m = if above_ground { 0.0 } else { 100.0 };
        write_raster(&tops, &sketch.plane, 200.0, pixel_m, |p| {
            if (10.0..=40.0).contains(&p.x_m) && p.y_m.abs() <= 100.0 { ground_m + 40.0 } else { ground_m }
        });
        options.elevation = vec![bare];
        if above_ground { options.canopy = vec![tops] } else { options.surface = vec![tops] }
    });
    place.of_way(way)[0].clone()
}

/// Truth: the block mapped with its height, without any raster, which is another path through the program.
#[test]
fn mapping_a_building_without_its_height_does_not_open_the_sky() {
    let unmapped = row(None);
    let by_map = row_in(Some(&[("height", "40")]), 0.0, false).open_share;
    assert!((unmapped.open_share - by_map).abs() < 0.01 && by_map < 0.8, "{} {by_map}", unmapped.open_share);
    for drawn in [&[][..], &[("height", "6")], &[("height", "40")]] {
        let mapped = row(Some(drawn));
        assert!((mapped.open_share - unmapped.open_share).abs() < 0.003, "{drawn:?} {}", mapped.open_share);
        assert_eq!(mapped.main_cause, Cause::Building, "{drawn:?}");
        assert_eq!(mapped.evidence_building, BlockerEvidence::Raster, "{drawn:?}");
        assert!(mapped.blocked_building > 0.2 && mapped.blocked_canopy < 0.001, "{drawn:?}");
    }
}

/// Where pixels are too coarse to tell buildings, and in rasters of heights above the ground, what is higher than a building by the
/// map stays what it was.
#[test]
fn a_footprint_in_a_coarse_raster_does_not_open_the_sky() {
    for (pixel_m, above_ground) in [(2.1, false), (2.5, false), (5.0, false), (1.0, true), (4.0, true)] {
        let unmapped = row_in(None, pixel_m, above_ground);
        assert!(unmapped.open_share < 0.85, "{pixel_m} {above_ground}: {}", unmapped.open_share);
        for drawn in [&[][..], &[("height", "6")], &[("height", "40")]] {
            let mapped = row_in(Some(drawn), pixel_m, above_ground);
            let opened = mapped.open_share - unmapped.open_share;
            assert!(opened < 0.025, "{pixel_m} {above_ground} {drawn:?}: {opened}");
        }
    }
}
