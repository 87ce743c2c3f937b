//! Trees and the road above, under and between them, in whole builds.
use waymask::base::words::{BlockerEvidence, Evidence, Overhang};
use waymask::profile::Profile;

use crate::build::kit::{Place, Sketch, write_raster};

fn quick() -> Profile {
    let mut profile = Profile::default();
    profile.link.drives = 8;
    profile
}

const SECONDARY: &[(&str, &str)] = &[("highway", "secondary"), ("ref", "A1")];

/// A wooded valley, 60 m deep and 300 m wide, under a straight road from south to north; its bridge is in three pieces, of
/// which the way of the middle one is returned.
fn viaduct() -> (Sketch, i64) {
    let mut sketch = Sketch::at(46.0);
    let y = [-1500.0, -150.0, -50.0, 50.0, 150.0, 1500.0];
    let nodes: Vec<i64> = y.iter().map(|y| sketch.node(0.0, *y, &[])).collect();
    let bridge = [SECONDARY, &[("bridge", "yes"), ("layer", "1")]].concat();
    let ways: Vec<i64> = nodes
        .windows(2)
        .enumerate()
        .map(|(i, pair)| sketch.way(pair, if (1..4).contains(&i) { &bridge } else { SECONDARY }))
        .collect();
    sketch.area([-400.0, -1600.0, 400.0, 1600.0], &[("natural", "wood"), ("leaf_type", "needleleaved")]);
    sketch.area([900.0, 900.0, 910.0, 910.0], &[("building", "yes")]);
    (sketch, ways[2])
}

/// Truth: below the middle piece trees end at least 20 m under the deck, and those of the valley's sides reach no more than
/// 6 degrees above the panel.
#[test]
fn trees_far_below_a_viaduct_do_not_block_it() {
    for pixel_m in [5.0, 30.0, 90.0] {
        let (sketch, middle) = viaduct();
        let place = sketch.build_with(quick(), |options, folder| {
            let path = folder.join("ground.tif");
            write_raster(&path, &sketch.plane, 2000.0, pixel_m, |p| {
                100.0 - 60.0 * (1.0 - p.y_m.abs() / 150.0).max(0.0) as f32
            });
            options.elevation = vec![path];
        });
        let rows = place.of_way(middle);
        assert!(rows.iter().all(|r| r.blocked_canopy == 0.0 && r.open_share > 0.999), "{pixel_m} m: {rows:?}");
        // Where the road is on the ground, the wood stands beside it.
        let ashore = place.rows.iter().filter(|r| r.way_id < middle).map(|r| r.blocked_canopy).fold(0.0, f64::max);
        assert!(ashore > 0.2, "{ashore}");
    }
}

#[test]
fn without_elevation_nobody_knows_whether_trees_reach_up_to_a_long_bridge() {
    let (sketch, middle) = viaduct();
    let place = sketch.build(quick());
    let row = place.of_way(middle)[0];
    assert_eq!((row.evidence_canopy, row.evidence), (BlockerEvidence::Unknown, Evidence::Unknown));
    assert!(row.blocked_canopy > 0.1, "unknown is not clear");
    // A short one crosses a stream.
    let mut profile = quick();
    profile.canopy.low_bridge_m = 150.0;
    let row = sketch.build(profile).of_way(middle)[0].clone();
    assert_eq!(row.evidence_canopy, BlockerEvidence::Default);
}

/// The overhang of a track 2.6 m wide, with a wood from one distance to another east of it.
fn overhang(tags: &[(&str, &str)], wood: [f64; 2]) -> Overhang {
    let mut sketch = Sketch::at(47.0);
    let track = [&[("highway", "track"), ("tracktype", "grade4")], tags].concat();
    let way = sketch.line(&[(0.0, -100.0), (0.0, 100.0)], &track).0;
    sketch.area([wood[0], -300.0, wood[1], 300.0], &[("natural", "wood"), ("leaf_type", "needleleaved")]);
    let mut profile = quick();
    profile.canopy.crowns_meet_m = 5.0;
    let place: Place = sketch.build(profile);
    place.of_way(way)[0].overhang_reason
}

#[test]
fn crowns_hang_over_a_road_between_trees_and_over_none_in_a_tunnel_or_under_a_roof() {
    assert_eq!(overhang(&[], [-60.0, 60.0]), Overhang::Crowns);
    // The same trees on one side only: they hide half the sky, and hang over nothing.
    assert_eq!(overhang(&[], [1.4, 60.0]), Overhang::None);
    for cover in [("tunnel", "yes"), ("covered", "yes"), ("tunnel", "avalanche_protector")] {
        assert_eq!(overhang(&[cover], [-60.0, 60.0]), Overhang::None, "{cover:?}");
    }
    // A track that is cut wider.
    assert_eq!(overhang(&[("width", "7")], [-60.0, 60.0]), Overhang::None);
}
