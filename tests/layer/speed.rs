//! Writing beside `ogr2ogr` copying the same file, in one run.
use std::process::Command;
use std::time::Instant;

use crate::rows;
use waymask::layer::LayerWriter;

/// Writing may take at most this many times the copy: it makes the rows as well, and this build is not a release build.
const MOST: f64 = 4.0;

#[test]
fn heavy_writing_beside_ogr2ogr() {
    const COUNT: i64 = 100_000;
    let (folder, path) = rows::folder();
    let start = Instant::now();
    let mut writer = LayerWriter::create(&path, false).unwrap();
    (1..=COUNT).for_each(|id| writer.segment(&rows::segment(id)).unwrap());
    writer.finish(&rows::record()).unwrap();
    let written_s = start.elapsed().as_secs_f64();
    let copy = folder.path().join("copy.gpkg");
    let start = Instant::now();
    let done = Command::new("ogr2ogr").arg("-q").arg(&copy).arg(&path).arg("segments").output();
    if !done.is_ok_and(|o| o.status.success()) {
        println!("skipped: no ogr2ogr (Debian package gdal-bin)");
        return;
    }
    let copied_s = start.elapsed().as_secs_f64();
    let size = |p: &std::path::Path| std::fs::metadata(p).unwrap().len() as f64 / 1e6;
    println!(
        "{COUNT} segments: written in {written_s:.2} s ({:.1} MB), copied by ogr2ogr in {copied_s:.2} s ({:.1} MB), ratio {:.2}",
        size(&path),
        size(&copy),
        written_s / copied_s
    );
    assert!(written_s <= MOST * copied_s, "{written_s} s against {copied_s} s");
}
