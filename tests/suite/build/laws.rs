//! What must hold whatever the place.
use waymask::base::words::TerrainEvidence;
use waymask::profile::{Profile, Shell};

use crate::build::kit::{Sketch, write_raster};
use crate::extract_builder::Obj;
use crate::need;

/// A crossing of a two-lane road and a track with woods, buildings, a deck and a tunnel.
fn village() -> Sketch {
    let mut s = Sketch::at(44.0);
    let cross = s.node(0.0, 0.0, &[]);
    let (w, e) = (s.node(-900.0, 40.0, &[]), s.node(1000.0, -60.0, &[]));
    let mid = s.node(500.0, -20.0, &[]);
    s.way(&[w, cross, mid], &[("highway", "secondary"), ("name", "Long Street")]);
    s.way(&[mid, e], &[("highway", "secondary"), ("name", "Long Street"), ("tunnel", "yes")]);
    let (n, t) = (s.node(30.0, 800.0, &[]), s.node(-20.0, -700.0, &[]));
    s.way(&[n, cross, t], &[("highway", "track")]);
    s.area([-700.0, -200.0, -100.0, 200.0], &[("natural", "wood"), ("height", "18")]);
    s.area([40.0, 8.0, 60.0, 30.0], &[("building", "yes"), ("building:levels", "4")]);
    s.area([70.0, -40.0, 110.0, -12.0], &[("building", "yes")]);
    s.line(&[(250.0, -60.0), (250.0, 60.0)], &[("railway", "rail"), ("bridge", "yes"), ("layer", "1")]);
    s.line(&[(0.0, 300.0), (200.0, 310.0)], &[("natural", "tree_row")]);
    s
}

fn few_drives() -> Profile {
    let mut profile = Profile::default();
    profile.link.drives = 16;
    profile
}

#[test]
fn threads_change_no_byte() {
    let bytes = |threads| {
        let place = village().build_with(few_drives(), |o, folder| {
            o.threads = Some(threads);
            let raster = folder.join("ground.tif");
            write_raster(&raster, &village().plane, 4000.0, 30.0, |p| {
                (0.1 * p.x_m + (p.y_m / 90.0).sin() * 40.0) as f32
            });
            o.elevation = vec![raster];
        });
        std::fs::read(&place.path).unwrap()
    };
    let one = bytes(1);
    assert!(one == bytes(2), "two threads wrote other bytes than one");
    assert!(one == bytes(5), "five threads wrote other bytes than one");
}

#[test]
fn the_order_of_objects_changes_nothing() {
    let sketch = village();
    let rows = sketch.build(few_drives()).rows;
    let mut turned = Sketch::at(44.0);
    // Nodes, ways and relations stay in their groups, as every file has them.
    let (mut nodes, mut ways): (Vec<Obj>, Vec<Obj>) =
        sketch.objects.into_iter().partition(|o| matches!(o, Obj::Node { .. }));
    nodes.reverse();
    ways.reverse();
    turned.objects = nodes.into_iter().chain(ways).collect();
    assert_eq!(turned.build(few_drives()).rows, rows);
}

#[test]
fn adding_an_obstacle_never_opens_sky() {
    let base = village().build(few_drives());
    type Add = fn(&mut Sketch);
    let additions: [(&str, Add); 4] = [
        ("building", |s| {
            s.area([-300.0, 20.0, -200.0, 40.0], &[("building", "yes"), ("height", "20")]);
        }),
        ("wood", |s| {
            s.area([300.0, -200.0, 600.0, 200.0], &[("landuse", "forest")]);
        }),
        ("deck", |s| {
            s.line(&[(-400.0, -60.0), (-400.0, 90.0)], &[("highway", "footway"), ("bridge", "yes"), ("layer", "1")]);
        }),
        ("wall", |s| {
            s.line(&[(-100.0, 8.0), (-20.0, 8.0)], &[("barrier", "wall"), ("height", "4")]);
        }),
    ];
    for (what, add) in additions {
        let mut sketch = village();
        add(&mut sketch);
        let more = sketch.build(few_drives());
        let mut closed = 0;
        for (a, b) in base.rows.iter().zip(&more.rows) {
            assert_eq!((a.way_id, a.part), (b.way_id, b.part));
            // Stored shares are rounded to four places.
            assert!(
                b.open_share <= a.open_share + 2e-4,
                "{what} opened way {}: {} {}",
                a.way_id,
                a.open_share,
                b.open_share
            );
            closed += usize::from(b.open_share < a.open_share - 1e-3);
        }
        assert!(closed > 0, "{what} closed nothing");
    }
}

#[test]
fn splitting_a_way_keeps_its_outage_time() {
    let road = |split: bool| {
        let mut s = Sketch::at(44.0);
        let nodes: Vec<i64> = (0..=8).map(|i| s.node(250.0 * f64::from(i) * 0.999, 0.0, &[])).collect();
        let tags = [("highway", "tertiary"), ("name", "Split Lane")];
        if split {
            s.way(&nodes[..=2], &tags);
            s.way(&nodes[2..=5], &tags);
            s.way(&nodes[5..], &tags);
        } else {
            s.way(&nodes, &tags);
        }
        s.area([100.0, -300.0, 1700.0, 300.0], &[("natural", "wood")]);
        s.line(&[(1850.0, -50.0), (1850.0, 50.0)], &[("highway", "primary"), ("bridge", "yes"), ("layer", "1")]);
        s.build(few_drives()).outage_s()
    };
    let (whole, split) = (road(false), road(true));
    assert!(whole > 2.0, "{whole}");
    // Stored seconds are rounded to a thousandth, edge by edge.
    assert!((whole - split).abs() < 0.02, "{whole} {split}");
}

/// Seen from near the pole a shell turns evenly round the horizon: no azimuth is preferred.
#[test]
fn rotating_scene_and_heading_together_changes_nothing_where_no_azimuth_is_preferred() {
    let mut profile = Profile::default();
    profile.constellation.shells =
        vec![Shell { altitude_km: 1200.0, inclination_deg: 82.0, planes: 60, per_plane: 40 }];
    let open = |turned: bool| {
        let mut s = Sketch::at(89.5);
        let turn = |(x, y): (f64, f64)| if turned { (y, -x) } else { (x, y) };
        let (road, _) =
            s.line(&[(-400.0, 0.0), (400.0, 0.0)].map(turn), &[("highway", "residential"), ("oneway", "yes")]);
        let walls = [[(-500.0, 9.0), (100.0, 9.0)], [(-50.0, -7.0), (500.0, -7.0)]];
        for wall in walls {
            s.line(&wall.map(turn), &[("barrier", "wall"), ("height", "14")]);
        }
        let place = s.build(profile.clone());
        place.of_way(road).iter().map(|r| (r.open_share, r.blocked_building)).collect::<Vec<_>>()
    };
    for (a, b) in open(false).iter().zip(open(true)) {
        // At 89.5 degrees the azimuths are not quite alike.
        assert!((a.0 - b.0).abs() < 0.02 && (a.1 - b.1).abs() < 0.02, "{a:?} {b:?}");
        assert!(a.1 > 0.1);
    }
}

#[test]
fn real_extracts_build_and_their_kilometres_add_up() {
    let names = [
        "pbf_cases/frankfurt-interchange.osm.pbf",
        "pbf_cases/lauf-missing-nodes.osm.pbf",
        "pbf_cases/manhattan.osm.pbf",
    ];
    for name in names {
        let Some(extract) = need::data(name) else { return };
        let mut profile = Profile::default();
        profile.link.drives = 4;
        profile.sampling.station_spacing_m = 20.0;
        let place = Sketch::at(0.0).build_with(profile, |o, _| o.extract = extract);
        let km: f64 = place.built.record.km_by_rating.values().sum();
        let rows_km: f64 = place.rows.iter().map(|r| r.length_m / 1000.0).sum();
        assert!((km - rows_km).abs() < 0.1, "{name}: {km} {rows_km}");
        let shares = |r: &waymask::layer::model::SegmentRow| {
            r.open_share + r.blocked_cover + r.blocked_deck + r.blocked_building + r.blocked_terrain + r.blocked_canopy
        };
        for row in &place.rows {
            assert!((shares(row) - 1.0).abs() < 1e-3, "{name} way {}: {}", row.way_id, shares(row));
            assert!(row.evidence_terrain == TerrainEvidence::None);
        }
    }
}
