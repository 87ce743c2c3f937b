//! Buildings of a file of outlines in place of the map's.
use std::path::{Path, PathBuf};

use waymask::base::words::InputRole;
use waymask::profile::Profile;
use waymask::relief::FootprintFile;

use crate::build::kit::{Place, Sketch};

/// A road to the north with a row of untagged buildings 6 m east of its middle, from y = -100 to 100.
fn street() -> Sketch {
    let mut s = Sketch::at(46.0);
    s.line(&[(0.0, -100.0), (0.0, 100.0)], &[("highway", "residential"), ("oneway", "yes")]);
    for k in 0..10 {
        let y = -100.0 + 20.0 * f64::from(k);
        s.area([6.0, y, 24.0, y + 20.0], &[("building", "yes")]);
    }
    s
}

/// One outline as long as the row, with attributes, as GeoJSON.
fn outline(sketch: &Sketch, east_m: f64, properties: &str) -> String {
    let corner = |x: f64, y: f64| {
        let (lon, lat) = sketch.plane.to_lon_lat(waymask::base::geodesy::Point::new(x, y));
        format!("[{lon:.8},{lat:.8}]")
    };
    let ring = [(east_m, -100.0), (east_m + 18.0, -100.0), (east_m + 18.0, 100.0), (east_m, 100.0), (east_m, -100.0)];
    let ring: Vec<String> = ring.iter().map(|(x, y)| corner(*x, *y)).collect();
    format!(
        r#"{{"type":"Feature","properties":{{{properties}}},"geometry":{{"type":"Polygon","coordinates":[[{}]]}}}}"#,
        ring.join(",")
    )
}

fn written(folder: &Path, features: &[String]) -> PathBuf {
    let path = folder.join("outlines.geojson");
    let text = format!(r#"{{"type":"FeatureCollection","features":[{}]}}"#, features.join(","));
    std::fs::write(&path, text).unwrap();
    path
}

fn with(sketch: &Sketch, features: &[String]) -> Place {
    sketch.build_with(Profile::default(), |options, folder| {
        let (path, height_column) = (written(folder, features), "height_m".to_owned());
        options.buildings = Some(FootprintFile { path, layer: None, height_column });
    })
}

fn blocked(place: &Place) -> f64 {
    place.rows.iter().map(|r| r.blocked_building).sum::<f64>() / place.rows.len() as f64
}

/// The same row with a tag in the map.
fn tagged(height: &str) -> Place {
    let mut s = Sketch::at(46.0);
    s.line(&[(0.0, -100.0), (0.0, 100.0)], &[("highway", "residential"), ("oneway", "yes")]);
    s.area([6.0, -100.0, 24.0, 100.0], &[("building", "yes"), ("height", height)]);
    s.build(Profile::default())
}

#[test]
fn heights_of_the_file_count_as_heights_of_the_map_do() {
    let sketch = street();
    let high = with(&sketch, &[outline(&sketch, 6.0, r#""height_m":25.0"#)]);
    let text = with(&sketch, &[outline(&sketch, 6.0, r#""height_m":" 25 ""#)]);
    let (of_file, of_text, of_tag, of_default) =
        (blocked(&high), blocked(&text), blocked(&tagged("25")), blocked(&sketch.build(Profile::default())));
    assert!((of_file - of_tag).abs() < 1e-3 && of_file == of_text, "{of_file} {of_text} {of_tag}");
    assert!(of_file > of_default + 0.05, "{of_file} {of_default}");
    let said = high.built.record.assumed.join("\n");
    assert!(
        said.contains("1 building from the file given, 1 of them with a height, used instead of 10 of the map"),
        "{said}"
    );
    let input = high.built.record.inputs.iter().find(|i| i.role == InputRole::Buildings).unwrap();
    assert_eq!((input.name.as_str(), input.sha256.len()), ("outlines.geojson", 64));
}

#[test]
fn what_does_not_overlap_stays_and_a_lower_file_opens_sky() {
    let sketch = street();
    let before = blocked(&sketch.build(Profile::default()));
    // 3 m higher than nothing: the file says the row is a row of sheds.
    let low = blocked(&with(&sketch, &[outline(&sketch, 6.0, r#""height_m":3.0"#)]));
    assert!(low < before - 0.02, "{low} {before}");
    // Outlines 100 m away, and outlines that share a wall, replace nothing.
    for east_m in [100.0, 24.0] {
        // As high as their kind, so that the map's are drawn nowhere.
        let beside = with(&sketch, &[outline(&sketch, east_m, r#""height_m":8.0"#)]);
        assert!(blocked(&beside) >= before - 1e-6, "{east_m}: {} {before}", blocked(&beside));
    }
}

#[test]
fn a_shed_in_the_corner_of_a_tower_is_not_the_tower() {
    let tower = tagged("25");
    let shed_beside = |size_m: f64| {
        let mut s = Sketch::at(46.0);
        s.line(&[(0.0, -100.0), (0.0, 100.0)], &[("highway", "residential"), ("oneway", "yes")]);
        s.area([6.0, -100.0, 24.0, 100.0], &[("building", "yes"), ("height", "25")]);
        let corner = |x: f64, y: f64| {
            let (lon, lat) = s.plane.to_lon_lat(waymask::base::geodesy::Point::new(x, y));
            format!("[{lon:.8},{lat:.8}]")
        };
        let ring =
            [(7.0, -90.0), (7.0 + size_m, -90.0), (7.0, -90.0 + size_m), (7.0, -90.0)].map(|(x, y)| corner(x, y));
        let shed = format!(
            r#"{{"type":"Feature","properties":{{"height_m":2.5}},"geometry":{{"type":"Polygon","coordinates":[[{}]]}}}}"#,
            ring.join(",")
        );
        with(&s, &[shed])
    };
    for size_m in [2.0, 8.0] {
        assert!(blocked(&shed_beside(size_m)) >= blocked(&tower) - 1e-9, "{size_m}");
    }
}

#[test]
fn outlines_without_a_height_take_none_away() {
    let tower = tagged("25");
    let mut s = Sketch::at(46.0);
    s.line(&[(0.0, -100.0), (0.0, 100.0)], &[("highway", "residential"), ("oneway", "yes")]);
    s.area([6.0, -100.0, 24.0, 100.0], &[("building", "yes"), ("height", "25")]);
    for height in ["-3.0", "0", "1e9", "null", "\"tall\""] {
        // One far outline has a height, so that the column is one of heights.
        let far = outline(&s, 900.0, r#""height_m":9.0"#);
        let place = with(&s, &[outline(&s, 6.0, &format!(r#""height_m":{height},"other":"x""#)), far]);
        let count = place.built.record.defects.get("footprint_height").map_or(0, |t| t.count);
        // A column with a word in it is one of texts, and numbers are read from it, too.
        assert_eq!(count, 1, "{height}");
        assert_eq!(blocked(&place), blocked(&tower), "{height}");
    }
    let point =
        r#"{"type":"Feature","properties":{"height_m":9.0},"geometry":{"type":"Point","coordinates":[-28.0,46.0]}}"#;
    let place = with(&s, &[outline(&s, 6.0, r#""height_m":9.0"#), point.to_owned()]);
    assert_eq!(place.built.record.defects["no_footprint"].count, 1);
}

#[test]
fn heights_of_another_unit_stop_the_build() {
    // Twenty buildings of 9 m on the map and in the file, there in kilometres, centimetres, feet (of 30 m) and decimetres.
    let told = |factor: f64| {
        let mut s = Sketch::at(46.0);
        s.line(&[(0.0, -100.0), (0.0, 100.0)], &[("highway", "residential"), ("oneway", "yes")]);
        let mut features = Vec::new();
        for k in 0..20 {
            let east_m = 10.0 + 20.0 * f64::from(k);
            s.area([east_m, -100.0, east_m + 18.0, 100.0], &[("building", "yes"), ("height", "9")]);
            features.push(outline(&s, east_m, &format!(r#""height_m":{}"#, 9.0 * factor)));
        }
        let folder = tempfile::tempdir().unwrap();
        let (output, extract) = (folder.path().join("out.gpkg"), s.write(folder.path()));
        let path = written(folder.path(), &features);
        let buildings = FootprintFile { path, layer: None, height_column: "height_m".to_owned() };
        let new = waymask::build::BuildOptions::new(extract, output);
        let options = waymask::build::BuildOptions { buildings: Some(buildings), ..new };
        waymask::build::build(&options, &waymask::base::progress::Silent).map_err(|e| e.to_string())
    };
    assert!(told(1.0).is_ok());
    assert!(told(0.001).unwrap_err().contains("not plausible for heights of buildings in metres"));
    assert!(told(3.2808).unwrap_err().contains("3.281 times the heights that the map has"));
    assert!(told(10.0).unwrap_err().contains("10.000 times"));
}

#[test]
fn wrong_files_columns_and_places_say_what_to_do() {
    let sketch = street();
    let folder = tempfile::tempdir().unwrap();
    let refused = |path: PathBuf, column: &str, layer: Option<&str>| {
        let (output, extract) = (folder.path().join("out.gpkg"), sketch.write(folder.path()));
        let buildings = FootprintFile { path, layer: layer.map(str::to_owned), height_column: column.to_owned() };
        let options = waymask::build::BuildOptions {
            buildings: Some(buildings),
            ..waymask::build::BuildOptions::new(extract, output.clone())
        };
        let said = waymask::build::build(&options, &waymask::base::progress::Silent).unwrap_err().to_string();
        assert!(!output.exists());
        said
    };
    let good = written(folder.path(), &[outline(&sketch, 6.0, r#""height_m":9.0,"use":"x""#)]);
    let said = refused(good.clone(), "heigth_m", None);
    assert!(said.contains("has no column 'heigth_m'; it has height_m, use\n  Did you mean `height_m`?"), "{said}");
    let said = refused(good.clone(), "height_m", Some("outline"));
    assert!(said.contains("\n  Did you mean `outlines`? Name one"), "{said}");
    let said = refused(good, "height_m", Some("roofs"));
    assert!(said.contains("has no layer 'roofs'; it has outlines") && said.contains("--buildings-layer"), "{said}");
    let said = refused(folder.path().join("missing.gpkg"), "height_m", None);
    assert!(said.contains("missing.gpkg"), "{said}");
    let said = refused(folder.path().to_owned(), "height_m", None);
    assert!(said.contains("is a folder"), "{said}");
    let text = folder.path().join("text.txt");
    std::fs::write(&text, "not a map").unwrap();
    let said = refused(text, "height_m", None);
    assert!(said.contains("is not a vector file that GDAL can read"), "{said}");
    let empty = written(folder.path(), &[outline(&sketch, 6.0, r#""height_m":null,"use":"x""#)]);
    let said = refused(empty, "height_m", None);
    assert!(said.contains("column 'height_m' gives no building height anywhere near the roads"), "{said}");
    let elsewhere = Sketch::at(-12.0);
    let far = written(folder.path(), &[outline(&elsewhere, 6.0, r#""height_m":9.0"#)]);
    let said = refused(far, "height_m", None);
    assert!(said.contains("holds no building near the roads"), "{said}");
}
