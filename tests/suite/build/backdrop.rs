//! Names of places and water in the layer: written whoever rates the roads, and never a reason to rate them again.
use std::path::{Path, PathBuf};

use waymask::base::progress::Silent;
use waymask::build::{self, BuildOptions, MergeOptions};
use waymask::layer::{Bounds, JoinedLayer, Layer};
use waymask::map::district::region::Region;
use waymask::profile::Profile;

use crate::build::kit::Sketch;
use crate::extract_builder::Map;

/// A road from west to east through three districts, a lake and a village in each but the last, and a river through all.
fn valley(name: &str) -> Sketch {
    let mut s = Sketch::around(47.125, -28.125);
    let nodes: Vec<i64> = (0..=50).map(|k| s.node(-25_000.0 + 1_000.0 * f64::from(k), 0.0, &[])).collect();
    for pair in nodes.windows(2) {
        s.way(pair, &[("highway", "secondary")]);
    }
    for x_m in [-20_000.0, 0.0] {
        s.node(x_m, 2_000.0, &[("place", "village"), ("name", name), ("population", "2600")]);
        s.area([x_m, 3_000.0, x_m + 600.0, 3_400.0], &[("natural", "water"), ("water", "lake"), ("name", name)]);
    }
    s.line(&[(-24_000.0, 500.0), (0.0, 800.0), (24_000.0, 500.0)], &[("waterway", "river"), ("name", "Long Water")]);
    s
}

struct Bench {
    home: tempfile::TempDir,
}

impl Bench {
    fn at(&self, name: &str) -> PathBuf {
        self.home.path().join(name)
    }
    fn built(&self, sketch: &Sketch, output: &str, work: Option<&str>) -> Vec<u8> {
        let extract = self.at("map.osm.pbf");
        std::fs::write(&extract, Map::of(&sketch.objects).bytes()).unwrap();
        let mut profile = Profile::default();
        profile.link.drives = 4;
        let work = work.map(|name| self.at(name));
        let options = BuildOptions { profile, work, overwrite: true, ..BuildOptions::new(extract, self.at(output)) };
        build::build(&options, &Silent).unwrap();
        std::fs::read(&options.output).unwrap()
    }
    fn parts(&self, work: &str) -> Vec<String> {
        let names = std::fs::read_dir(self.at(work)).unwrap().map(|e| e.unwrap().file_name().into_string().unwrap());
        let mut parts: Vec<String> = names.filter(|name| name.ends_with(".gpkg")).collect();
        parts.sort();
        parts
    }
}

fn names(path: &Path) -> [Vec<String>; 3] {
    let layer = Layer::open(path).unwrap();
    [
        layer
            .named_places()
            .unwrap()
            .into_iter()
            .map(|place| format!("{} {} {}", place.kind, place.name, place.rank))
            .collect(),
        layer.ground().unwrap().into_iter().map(|water| format!("{} {}", water.kind, water.name.unwrap())).collect(),
        layer
            .ground_lines()
            .unwrap()
            .into_iter()
            .map(|water| format!("{} {}", water.kind, water.name.unwrap()))
            .collect(),
    ]
}

#[test]
fn other_names_and_water_are_in_the_layer_and_no_district_is_rated_again() {
    let bench = Bench { home: tempfile::tempdir().unwrap() };
    bench.built(&valley("Old"), "a.gpkg", Some("work"));
    let parts = bench.parts("work");
    assert_eq!(parts.len(), 3);
    let whole = names(&bench.at("a.gpkg"));
    assert_eq!(whole, [vec!["village Old 4"; 2], vec!["lake Old"; 2], vec!["river Long Water"]]);
    let layer = Layer::open(&bench.at("a.gpkg")).unwrap();
    let counts = ["places", "ground", "ground lines"].map(|name| layer.record().counts[name]);
    assert_eq!(counts, [2, 2, 1]);
    let west = Bounds::from_deg(-28.5, 47.0, -28.3, 47.3);
    assert_eq!(layer.named_places_in(west).unwrap().len(), 1);
    let lake = layer.ground_in(west).unwrap().remove(0);
    assert_eq!(lake.rings[0].len(), 5, "a square has four corners: {lake:?}");

    let updated = bench.built(&valley("New"), "b.gpkg", Some("work"));
    assert_eq!(bench.parts("work"), parts);
    assert!(updated == bench.built(&valley("New"), "c.gpkg", None), "an update and a new build differ");
    assert_eq!(names(&bench.at("b.gpkg"))[1], ["lake New", "lake New"]);
    let kept = std::fs::read_dir(bench.at("work")).unwrap().flatten();
    let kept = kept.filter(|e| e.file_name().to_string_lossy().starts_with("backdrop-")).count();
    assert_eq!(kept, 1, "that of the old map is gone");
}

#[test]
fn a_layer_of_some_districts_has_what_touches_them() {
    let bench = Bench { home: tempfile::tempdir().unwrap() };
    let whole = bench.built(&valley("Mere"), "whole.gpkg", Some("work"));
    let merged = |west: f64, east: f64, output: &str| {
        let output = bench.at(output);
        let options = MergeOptions {
            folders: vec![bench.at("work")],
            output: output.clone(),
            overwrite: true,
            region: Region::bounds(west, 47.01, east, 47.24).unwrap(),
            how: JoinedLayer::Whole,
        };
        build::merge(&options, &Silent).unwrap();
        output
    };
    let one = |west, east, output| names(&merged(west, east, output)).map(|rows| rows.len());
    assert_eq!(one(-28.49, -28.26, "west.gpkg"), [1, 1, 1]);
    assert_eq!(one(-27.99, -27.76, "east.gpkg"), [0, 0, 1], "the river, whole");
    assert!(whole == std::fs::read(merged(-28.49, -27.76, "all.gpkg")).unwrap());
}
