//! The roadside in whole builds: rasters, seasons, sides, and what an answer rests on.
use jiff::civil::date;
use waymask::base::words::{BlockerEvidence, Evidence, InputRole, Overhang, TerrainEvidence};
use waymask::build::{BuildOptions, SeasonOf};
use waymask::layer::model::SegmentRow;
use waymask::profile::{Profile, Season};
use waymask::relief::ElevationKind;

use crate::build::kit::{Place, Sketch, write_raster};

/// A straight road from south to north, 1 km long.
fn road(sketch: &mut Sketch, tags: &[(&str, &str)]) -> i64 {
    sketch.line(&[(0.0, -500.0), (0.0, 500.0)], tags).0
}

/// The same with building and wood far away, so that neither is unknown.
fn known(tags: &[(&str, &str)]) -> (Sketch, i64) {
    let mut sketch = Sketch::around(47.0, -28.1);
    let way = road(&mut sketch, tags);
    for n in 0..10 {
        let x = 900.0 + 20.0 * f64::from(n);
        sketch.area([x, 900.0, x + 10.0, 910.0], &[("building", "yes")]);
        sketch.area([x, -910.0, x + 10.0, -900.0], &[("natural", "wood")]);
    }
    (sketch, way)
}

const UNCLASSIFIED: &[(&str, &str)] = &[("highway", "unclassified")];

fn quick() -> Profile {
    let mut profile = Profile::default();
    profile.link.drives = 8;
    profile
}

fn mean(rows: &[&SegmentRow], of: impl Fn(&SegmentRow) -> f64) -> f64 {
    rows.iter().map(|r| of(r)).sum::<f64>() / rows.len() as f64
}

fn all<T: PartialEq + std::fmt::Debug>(rows: &[&SegmentRow], of: impl Fn(&SegmentRow) -> T) -> T {
    let first = of(rows[0]);
    assert!(rows.iter().all(|r| of(r) == first), "{:?}", rows.iter().map(|r| of(r)).collect::<Vec<_>>());
    first
}

/// Builds with a raster beside the extract.
fn with_raster(
    sketch: &Sketch,
    name: &str,
    pixel_m: f64,
    height_m: impl Fn(f64, f64) -> f32,
    change: impl FnOnce(&mut BuildOptions, std::path::PathBuf),
) -> Place {
    sketch.build_with(quick(), |options, folder| {
        let path = folder.join(name);
        write_raster(&path, &sketch.plane, 700.0, pixel_m, |p| height_m(p.x_m, p.y_m));
        change(options, path);
    })
}

#[test]
fn a_canopy_raster_in_any_unit_replaces_default_heights_and_the_rows_say_so() {
    let (mut sketch, way) = known(UNCLASSIFIED);
    sketch.area([-100.0, -500.0, 100.0, 500.0], &[("landuse", "forest"), ("leaf_type", "needleleaved")]);
    let by_default = sketch.build(quick());
    // Decimetres; the southern half is felled.
    let raster = |_: f64, y: f64| if y > 0.0 { 200.0 } else { 1.0 };
    let shown = with_raster(&sketch, "heights.tif", 1.0, raster, |o, path| {
        (o.canopy, o.canopy_scale) = (vec![path], Some(0.1));
    });
    // Two of the five rows on each side; the middle one is both.
    let half = |place: &Place, north: bool| -> f64 {
        let rows = place.of_way(way);
        assert_eq!(rows.len(), 5);
        mean(if north { &rows[3..] } else { &rows[..2] }, |r| r.blocked_canopy)
    };
    assert!(half(&by_default, true) > 0.3 && half(&by_default, false) > 0.3);
    assert!(half(&shown, true) > 0.3, "{}", half(&shown, true));
    assert!(half(&shown, false) < 0.1 * half(&by_default, false), "{}", half(&shown, false));
    assert_eq!(all(&by_default.of_way(way), |r| r.evidence_canopy), BlockerEvidence::Default);
    assert_eq!(all(&by_default.of_way(way), |r| r.evidence), Evidence::Unknown, "terrain is not known here");
    assert_eq!(all(&shown.of_way(way), |r| r.evidence_canopy), BlockerEvidence::Raster);
    let said = shown.built.record.assumed.iter().find(|s| s.contains("trees near roads: ")).unwrap();
    // Near the road about half of the wood stands and half is felled; nothing grows outside it. The line of districts lies
    // between the two.
    let hectares: Vec<f64> = said.split_whitespace().filter_map(|w| w.parse().ok()).collect();
    let [both, mapped_only, shown_only] = hectares[..] else { panic!("{said}") };
    assert!((both - mapped_only).abs() < 0.3 * both && shown_only < 0.2 * both, "{said}");
    let roles: Vec<InputRole> = shown.built.record.inputs.iter().map(|i| i.role).collect();
    assert_eq!(roles, [InputRole::Extract, InputRole::Canopy]);
}

#[test]
fn a_surface_over_bare_earth_counts_its_trees_and_buildings_once() {
    let (mut sketch, way) = known(UNCLASSIFIED);
    sketch.area([10.0, -500.0, 40.0, 500.0], &[("building", "yes"), ("height", "12")]);
    let build = |tops: bool| {
        sketch.build_with(quick(), |options, folder| {
            let (bare, surface) = (folder.join("bare.tif"), folder.join("tops.tif"));
            write_raster(&bare, &sketch.plane, 700.0, 2.0, |p| 100.0 + 0.02 * p.x_m as f32);
            write_raster(&surface, &sketch.plane, 700.0, 2.0, |p| {
                let building = p.x_m > 10.0 && p.x_m < 40.0;
                let wood = p.x_m < -8.0 && p.x_m > -60.0 && p.y_m > 0.0;
                100.0
                    + 0.02 * p.x_m as f32
                    + if building {
                        12.0
                    } else if wood {
                        18.0
                    } else {
                        0.2
                    }
            });
            options.elevation = vec![bare];
            options.surface = if tops { vec![surface] } else { Vec::new() };
        })
    };
    let (map, both) = (build(false), build(true));
    let blocked = |place: &Place, of: fn(&SegmentRow) -> f64| mean(&place.of_way(way), of);
    assert_eq!(blocked(&map, |r| r.blocked_canopy), 0.0);
    assert!(blocked(&both, |r| r.blocked_canopy) > 0.05, "the wood that the map does not have");
    // South of the wood only the building stands: nothing there is a tree, and it counts as before.
    let south = |place: &Place, of: fn(&SegmentRow) -> f64| {
        let rows = place.of_way(way);
        let rows: Vec<_> = rows.into_iter().filter(|r| r.line.iter().all(|p| p.lat_deg() < 46.999)).collect();
        assert!(!rows.is_empty());
        mean(&rows, of)
    };
    let (before, after) = (south(&map, |r| r.blocked_building), south(&both, |r| r.blocked_building));
    assert!(before > 0.1 && (before - after).abs() < 0.002, "{before} {after}");
    assert!(south(&both, |r| r.blocked_canopy) < 0.001);
}

#[test]
fn a_surface_as_elevation_stands_for_the_trees_in_it() {
    let (mut sketch, way) = known(UNCLASSIFIED);
    sketch.area([8.0, -500.0, 60.0, 500.0], &[("landuse", "forest"), ("leaf_type", "needleleaved"), ("height", "18")]);
    let tops = |x: f64, _: f64| if x > 8.0 && x < 60.0 { 118.0 } else { 100.0 };
    let place = with_raster(&sketch, "tops.tif", 2.0, tops, |o, path| {
        (o.elevation, o.elevation_kind) = (vec![path], ElevationKind::Surface);
    });
    let rows = place.of_way(way);
    // Closed form: 16 m above the panel, some 9.4 m away (half a pixel either way), endless on one side.
    assert!(mean(&rows, |r| r.blocked_terrain) > 0.15, "{}", mean(&rows, |r| r.blocked_terrain));
    assert_eq!(mean(&rows, |r| r.blocked_canopy), 0.0, "not counted twice");
    assert_eq!(all(&rows, |r| r.evidence_canopy), BlockerEvidence::Raster);
    assert!(place.built.record.assumed.iter().any(|s| s.contains("elevation is that of a surface")));
    // Pixels of 100 m hide what stands beside the road: there the map's trees count.
    let coarse = with_raster(
        &sketch,
        "coarse.tif",
        100.0,
        |_, _| 100.0,
        |o, path| {
            (o.elevation, o.elevation_kind) = (vec![path], ElevationKind::Surface);
        },
    );
    assert!(mean(&coarse.of_way(way), |r| r.blocked_canopy) > 0.1);
}

#[test]
fn the_road_lies_below_the_crowns_a_surface_has_over_it() {
    let (sketch, way) = known(UNCLASSIFIED);
    let least = |crown: bool| {
        // Walls of rock on both sides; a crown hangs over the road for 20 m.
        let tops = |x: f64, y: f64| match () {
            () if x.abs() > 12.0 && x.abs() < 30.0 => 140.0,
            () if crown && y.abs() < 10.0 => 112.0,
            () => 100.0,
        };
        let place = with_raster(&sketch, "tops.tif", 2.0, tops, |o, path| {
            (o.elevation, o.elevation_kind) = (vec![path], ElevationKind::Surface);
        });
        place.of_way(way).iter().map(|r| r.blocked_terrain).fold(1.0, f64::min)
    };
    let (without, with) = (least(false), least(true));
    assert!(without > 0.5 && with > 0.95 * without, "no piece of the road is lifted onto the crown: {without} {with}");
}

#[test]
fn rasters_that_contradict_each_other_or_lie_elsewhere_are_refused() {
    let (sketch, _) = known(UNCLASSIFIED);
    let folder = tempfile::tempdir().unwrap();
    let raster = folder.path().join("raster.tif");
    write_raster(&raster, &sketch.plane, 700.0, 5.0, |_| 3.0);
    let far = folder.path().join("far.tif");
    write_raster(&far, &Sketch::at(48.0).plane, 700.0, 5.0, |_| 3.0);
    let refused = |change: &dyn Fn(&mut BuildOptions)| {
        let mut options = BuildOptions::new(sketch.write(folder.path()), folder.path().join("out.gpkg"));
        change(&mut options);
        let error = waymask::build::build(&options, &waymask::base::progress::Silent).unwrap_err();
        assert!(!options.output.exists());
        error.to_string()
    };
    let one = || vec![raster.clone()];
    let text = refused(&|o| (o.surface, o.elevation_kind) = (one(), ElevationKind::Surface));
    assert!(text.contains("raster.tif") && text.contains("--elevation"), "{text}");
    let text = refused(&|o| o.surface = one());
    assert!(text.contains("--elevation-kind surface"), "{text}");
    let text = refused(&|o| (o.elevation, o.elevation_kind, o.canopy) = (one(), ElevationKind::Surface, one()));
    assert!(text.contains("twice"), "{text}");
    let text = refused(&|o| o.canopy = vec![far.clone()]);
    assert!(text.contains("far.tif") && text.contains("--canopy"), "{text}");
    // Centimetres taken for metres lie where they should: the unit is what is wrong.
    let centimetres = folder.path().join("centimetres.tif");
    write_raster(&centimetres, &sketch.plane, 700.0, 5.0, |_| 1200.0);
    let text = refused(&|o| o.canopy = vec![centimetres.clone()]);
    assert!(text.contains("80 m") && text.contains("--canopy-scale"), "{text}");
    let text = refused(&|o| (o.elevation, o.surface) = (one(), vec![far.clone()]));
    assert!(text.contains("far.tif") && text.contains("--surface"), "{text}");
}

#[test]
fn a_season_moves_deciduous_stretches_and_leaves_spruce_alone() {
    let blocked = |leaves: &[(&str, &str)], season: SeasonOf| {
        let (mut sketch, way) = known(UNCLASSIFIED);
        let tags: Vec<_> = [("landuse", "forest")].iter().chain(leaves).copied().collect();
        sketch.area([-60.0, -500.0, 60.0, 500.0], &tags);
        let place = sketch.build_with(Profile::default(), |o, _| o.season = Some(season));
        let rows = place.of_way(way);
        (mean(&rows, |r| r.blocked_canopy), mean(&rows, |r| r.outage_share), place.built.record.profile.canopy.season)
    };
    let (july, january) = (SeasonOf::Date(date(2026, 7, 1)), SeasonOf::Date(date(2027, 1, 15)));
    let spruce = &[("leaf_type", "needleleaved")][..];
    let larch = &[("leaf_type", "needleleaved"), ("leaf_cycle", "deciduous")][..];
    let beech = &[("leaf_type", "broadleaved")][..];
    let (summer, winter) = (blocked(spruce, july), blocked(spruce, january));
    assert_eq!((summer.2, winter.2), (Season::LeafOn, Season::LeafOff));
    assert_eq!((summer.0, summer.1), (winter.0, winter.1), "spruce stays green");
    for deciduous in [larch, beech] {
        let (summer, winter) = (blocked(deciduous, july), blocked(deciduous, january));
        // Bare crowns of 20 m still cost more than the margin in most places.
        assert!(winter.0 < 0.9 * summer.0 && winter.1 < summer.1, "{deciduous:?} {summer:?} {winter:?}");
        let named = blocked(deciduous, SeasonOf::Named(Season::LeafOff));
        assert_eq!(named, winter);
    }
}

#[test]
fn planted_trees_stay_on_their_side_whichever_way_the_road_is_drawn() {
    // The trees stand west of the road: left of a way drawn northward, right of one drawn southward.
    let down = |points: &[(f64, f64)], side: &str| {
        let mut sketch = Sketch::at(47.0);
        let (way, _) = sketch.line(points, &[("highway", "tertiary"), ("lanes", "1"), ("tree_lined", side)]);
        let place = sketch.build(quick());
        let rows = place.of_way(way);
        (mean(&rows, |r| r.blocked_canopy), rows[0].evidence_canopy)
    };
    let (up, dn) = ([(0.0, -500.0), (0.0, 500.0)], [(0.0, 500.0), (0.0, -500.0)]);
    let (northward, southward, both) = (down(&up, "left"), down(&dn, "right"), down(&up, "both"));
    assert!(northward.0 > 0.03 && both.0 > northward.0, "{northward:?} {both:?}");
    assert!((northward.0 - southward.0).abs() < 1e-3, "{northward:?} {southward:?}");
    assert_eq!(northward.1, BlockerEvidence::Default);
    assert_eq!(down(&up, "no").0, 0.0);
}

#[test]
fn unknown_is_not_clear() {
    let mut roads_only = Sketch::at(47.0);
    let way = road(&mut roads_only, UNCLASSIFIED);
    let rows_only = roads_only.build(quick());
    let row = rows_only.of_way(way)[0];
    assert_eq!(
        (row.evidence_terrain, row.evidence_canopy, row.evidence_building),
        (TerrainEvidence::None, BlockerEvidence::Unknown, BlockerEvidence::Unknown)
    );
    assert_eq!(row.evidence, Evidence::Unknown);
    let (sketch, way) = known(UNCLASSIFIED);
    let flat = with_raster(&sketch, "flat.tif", 50.0, |_, _| 10.0, |o, path| o.elevation = vec![path]);
    let row = flat.of_way(way)[0];
    assert_eq!(
        (row.evidence_terrain, row.evidence_canopy, row.evidence_building),
        (TerrainEvidence::Raster, BlockerEvidence::Map, BlockerEvidence::Map)
    );
    assert_eq!(row.evidence, Evidence::Data);
    let km = &flat.built.record.km_by_evidence;
    let of = |prefix: &str| km.iter().filter(|(k, _)| k.starts_with(prefix)).map(|(_, v)| v).sum::<f64>();
    let total: f64 = flat.built.record.km_by_rating.values().sum();
    for cause in ["terrain:", "canopy:", "buildings:", "rating:"] {
        assert!((of(cause) - total).abs() < 0.01, "{km:?}");
    }
}

#[test]
fn overhang_says_why() {
    let reason = |road_tags: &[(&str, &str)], wood: bool| {
        let (mut sketch, way) = known(road_tags);
        if wood {
            sketch.area([-60.0, -500.0, 60.0, 500.0], &[("natural", "wood"), ("leaf_type", "needleleaved")]);
        }
        let mut profile = quick();
        profile.canopy.crowns_meet_m = 5.0;
        let place = sketch.build(profile);
        let row = place.of_way(way)[1];
        (row.overhang, row.overhang_reason)
    };
    let track = &[("highway", "track"), ("tracktype", "grade4")][..];
    let low = &[("highway", "track"), ("tracktype", "grade4"), ("maxheight", "2.1")][..];
    assert_eq!(reason(track, true), (true, Overhang::Crowns));
    assert_eq!(reason(low, false), (true, Overhang::Clearance));
    assert_eq!(reason(low, true), (true, Overhang::Both));
    assert_eq!(reason(track, false), (false, Overhang::None));
    assert_eq!(reason(&[("highway", "primary")], true), (false, Overhang::None), "a wide road's crowns do not meet");
    // Unless a raster shows that they do.
    let (sketch, way) = known(&[("highway", "primary")]);
    let over = with_raster(
        &sketch,
        "crowns.tif",
        1.0,
        |x, _| if x.abs() < 8.0 { 12.0 } else { 0.0 },
        |o, path| {
            o.canopy = vec![path];
        },
    );
    assert_eq!((over.of_way(way)[1].overhang, over.of_way(way)[1].overhang_reason), (true, Overhang::Crowns));
    let beside = with_raster(
        &sketch,
        "crowns.tif",
        1.0,
        |x, _| if x.abs() > 8.0 { 12.0 } else { 0.0 },
        |o, path| {
            o.canopy = vec![path];
        },
    );
    assert_eq!(beside.of_way(way)[1].overhang_reason, Overhang::None);
}
