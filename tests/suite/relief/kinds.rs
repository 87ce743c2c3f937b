//! Bare earth and surfaces side by side: each place is read as what its source shows.
use std::path::Path;

use proptest::prelude::*;
use waymask::base::geodesy::Point;
use waymask::base::words::BlockerEvidence;
use waymask::build::BuildOptions;
use waymask::profile::Profile;
use waymask::relief::ElevationKind;

use super::plane;
use crate::build::kit::{Place, Sketch, write_raster};

fn few_drives() -> Profile {
    let mut profile = Profile::default();
    profile.link.drives = 4;
    profile
}

/// A road from west to east; rows of houses south of it in both halves, 12 m high, 9 m from its middle.
fn street(houses: bool) -> Sketch {
    let mut s = Sketch::at(44.0);
    s.line(&[(-700.0, 0.0), (700.0, 0.0)], &[("highway", "residential")]);
    if houses {
        for x_m in [-500.0, 300.0] {
            s.area([x_m, -19.0, x_m + 200.0, -9.0], &[("building", "yes"), ("height", "12")]);
        }
    }
    s.node(-690.0, 300.0, &[("natural", "tree"), ("height", "5")]);
    s
}

/// Both rasters: a surface of the west, with the western houses in it, before bare earth of everything.
fn west_is_surface(o: &mut BuildOptions, folder: &Path) {
    let (dsm, dtm) = (folder.join("dsm.tif"), folder.join("dtm.tif"));
    let house = |p: Point| (-500.0..-300.0).contains(&p.x_m) && (-19.0..-9.0).contains(&p.y_m);
    let tops = |p: Point| {
        if p.x_m > 0.0 {
            f32::NAN
        } else if house(p) {
            112.0
        } else {
            100.0
        }
    };
    write_raster(&dsm, &plane(), 1000.0, 1.0, tops);
    write_raster(&dtm, &plane(), 3000.0, 10.0, |_| 100.0);
    (o.elevation, o.elevation_kinds) = (vec![dsm, dtm], vec![Some(ElevationKind::Surface)]);
}

/// Longitude, shares blocked by buildings and terrain, evidence of buildings.
type Told = (f64, f64, f64, BlockerEvidence);

fn rows(place: &Place) -> Vec<Told> {
    place
        .rows
        .iter()
        .map(|r| (r.line[0].lon_deg(), r.blocked_building, r.blocked_terrain, r.evidence_building))
        .collect()
}

#[test]
fn a_house_counts_once_on_either_side_of_the_border() {
    let bare = street(true).build_with(few_drives(), |o, folder| {
        let dtm = folder.join("dtm.tif");
        write_raster(&dtm, &plane(), 3000.0, 10.0, |_| 100.0);
        o.elevation = vec![dtm];
    });
    let mixed = street(true).build_with(few_drives(), west_is_surface);
    let unmapped = street(false).build_with(few_drives(), west_is_surface);
    let of = |place: &Place, east: bool| -> (f64, f64) {
        let rows: Vec<_> = rows(place).into_iter().filter(|r| (r.0 > -28.0) == east).collect();
        let mean = |f: &dyn Fn(&Told) -> f64| rows.iter().map(f).sum::<f64>() / rows.len() as f64;
        (mean(&|r| r.1), mean(&|r| r.2))
    };
    println!(
        "building, terrain: bare {:?} {:?}; mixed {:?} {:?}",
        of(&bare, false),
        of(&bare, true),
        of(&mixed, false),
        of(&mixed, true)
    );
    // East of the border the map counts in full, as without the surface.
    assert!((of(&mixed, true).0 - of(&bare, true).0).abs() < 0.005 && of(&mixed, true).0 > 0.02);
    // West of it the raster shows the houses, mapped or not.
    assert!(of(&mixed, false).0 < 0.005 && (of(&mixed, false).1 - of(&bare, false).0).abs() < 0.02);
    assert!((of(&unmapped, false).1 - of(&mixed, false).1).abs() < 0.005);
    let evidence = |place: &Place, east: bool| {
        rows(place).into_iter().filter(|r| (r.0 > -27.9985) == east).map(|r| r.3).collect::<Vec<_>>()
    };
    assert!(evidence(&mixed, false).contains(&BlockerEvidence::Raster));
    assert!(evidence(&mixed, true).iter().all(|e| *e != BlockerEvidence::Raster), "{:?}", evidence(&mixed, true));
    let told: Vec<_> = mixed.built.record.inputs.iter().filter_map(|i| i.raster.clone()).collect();
    let told: Vec<_> = told.iter().map(|r| (r.kind.as_str(), r.pixel_m.round(), r.metres_per_value)).collect();
    assert_eq!(told, [("surface", 1.0, 1.0), ("bare-earth", 10.0, 1.0)]);
}

/// An obstacle: where it stands, how wide, how high, of what kind.
#[derive(Debug, Clone)]
struct Obstacle(f64, f64, f64, f64, bool);

fn obstacle() -> impl Strategy<Value = Obstacle> {
    (-650.0..650.0, prop_oneof![-60.0..-8.0, 8.0..60.0], 4.0..40.0, 3.0..30.0, any::<bool>())
        .prop_map(|(x, y, w, h, building)| Obstacle(x, y, w, h, building))
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(6))]

    #[test]
    fn adding_an_obstacle_never_opens_sky_whatever_rasters_are_in(
        first in prop::collection::vec(obstacle(), 0..4),
        more in prop::collection::vec(obstacle(), 1..4),
        hilly in any::<bool>(),
        shape in 0usize..3,
    ) {
        let sketch = |obstacles: &[Obstacle]| {
            let mut s = street(false);
            for Obstacle(x, y, w, h, building) in obstacles {
                let (height, tags) = (h.to_string(), if *building { ("building", "yes") } else { ("natural", "wood") });
                let (south, north) = if *y > 0.0 { (*y, y + w) } else { (y - w, *y) };
                s.area([*x, south, x + w, north], &[tags, ("height", &height)]);
            }
            s
        };
        let ground = |p: Point| if hilly { 100.0 + 20.0 * (p.x_m / 150.0).sin() + 0.2 * p.y_m } else { 100.0 };
        let open = |obstacles: &[Obstacle]| {
            let place = sketch(obstacles).build_with(few_drives(), |o, folder| {
                let (dsm, dtm) = (folder.join("dsm.tif"), folder.join("dtm.tif"));
                let border_m = [-2000.0, 0.0, 2000.0][shape];
                let trees = |p: Point| if ((p.x_m / 31.0).sin() * (p.y_m / 23.0).cos()) > 0.8 { 12.0 } else { 0.0 };
                write_raster(&dsm, &plane(), 900.0, 3.0, |p| if p.x_m > border_m { f32::NAN } else { (ground(p) + trees(p)) as f32 });
                write_raster(&dtm, &plane(), 3000.0, 30.0, |p| ground(p) as f32);
                (o.elevation, o.elevation_kinds) = (vec![dsm, dtm], vec![Some(ElevationKind::Surface)]);
            });
            place.rows.iter().map(|r| r.open_share).collect::<Vec<_>>()
        };
        let before = open(&first);
        let after = open(&[first.clone(), more.clone()].concat());
        for (b, a) in before.iter().zip(&after) {
            // Stored shares are rounded to four places.
            prop_assert!(*a <= b + 2e-4, "{b} became {a}: {first:?} and {more:?}, {hilly} {shape}");
        }
    }
}
