//! A country built on one core, stage by stage; reading compared with osmium-tool and writing with ogr2ogr, same data, same run.
//!
//! Prints seconds, rates and ratios; asserts nothing, since machines differ.
use std::path::Path;
use std::process::Command;
use std::time::Instant;

use waymask::base::geodesy::Position;
use waymask::base::progress::Silent;
use waymask::build::{self, BuildOptions};
use waymask::layer::model::{BuildRecord, SegmentRow};
use waymask::layer::{Bounds, Layer, LayerWriter};

mod figures;
#[allow(dead_code)]
#[path = "../tests/suite/need.rs"]
mod need;

/// Runs of which the median counts.
const RUNS: usize = 5;
/// Segments written, and the same by ogr2ogr.
const ROWS: usize = 100_000;

fn main() {
    let Some(andorra) = need::data("andorra") else { return };
    let folder = tempfile::tempdir().expect("a temporary folder");
    read_beside_osmium(&andorra.join("andorra-2025.osm.pbf"));
    let layer = folder.path().join("andorra.gpkg");
    build_country(&andorra, &layer);
    write_beside_ogr2ogr(&layer, folder.path());
}

/// Median seconds of several runs.
fn median_s(mut work: impl FnMut()) -> f64 {
    let mut seconds: Vec<f64> = (0..RUNS)
        .map(|_| {
            let began = Instant::now();
            work();
            began.elapsed().as_secs_f64()
        })
        .collect();
    seconds.sort_by(f64::total_cmp);
    seconds[RUNS / 2]
}

/// Seconds of a peer, where it is there and does not fail.
fn peer_s(name: &str, args: &[&str]) -> Option<f64> {
    let mut ran = true;
    let seconds = median_s(|| {
        ran &= Command::new(name).args(args).output().is_ok_and(|o| o.status.success());
    });
    ran.then_some(seconds)
}

fn one_core<T: Send>(work: impl FnOnce() -> T + Send) -> T {
    rayon::ThreadPoolBuilder::new().num_threads(1).build().expect("one worker").install(work)
}

/// waymask reads twice, resolves coordinates, parses tags and assembles areas; osmium only counts.
fn read_beside_osmium(extract: &Path) {
    let ours_s = one_core(|| {
        median_s(|| {
            waymask::map::extract::read(extract, &Silent).expect("the extract reads");
        })
    });
    let path = extract.to_string_lossy();
    let counting_s = peer_s("osmium", &["fileinfo", "-e", &path]);
    figures::beside("reading, against counting", ours_s, "osmium fileinfo -e", counting_s);
    let args = ["tags-filter", &path, "w/highway", "-f", "pbf", "-o", "/dev/null", "--overwrite"];
    figures::beside(
        "reading, against extracting roads",
        ours_s,
        "osmium tags-filter w/highway",
        peer_s("osmium", &args),
    );
}

fn build_country(data: &Path, output: &Path) {
    let options = BuildOptions {
        elevation: vec![data.to_owned()],
        overwrite: true,
        threads: Some(1),
        ..BuildOptions::new(data.join("andorra-2025.osm.pbf"), output.to_owned())
    };
    let built = build::build(&options, &Silent).expect("Andorra builds");
    let km: f64 = built.record.km_by_rating.values().sum();
    println!("Andorra, one core, {km:.0} km of road:");
    for stage in &built.stages {
        println!("  {:8} {:7.2} s  {:9.0} {}/s", stage.name, stage.seconds, stage.rate().unwrap_or(0.0), stage.unit);
        figures::alone(&format!("Andorra, one core: {}", stage.name), stage.seconds);
    }
    figures::alone("Andorra, one core: all stages", built.stages.iter().map(|s| s.seconds).sum());
    println!("  peak {} MB", peak_mb());
}

fn peak_mb() -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find(|l| l.starts_with("VmHWM:"));
    line.and_then(|l| l.split_whitespace().nth(1)?.parse::<u64>().ok()).unwrap_or(0) / 1024
}

/// Real rows, repeated to a large layer; ogr2ogr copies the table just written.
fn write_beside_ogr2ogr(layer: &Path, folder: &Path) {
    let rows = Layer::open(layer).and_then(|l| l.segments_in(Bounds::from_deg(-180.0, -90.0, 180.0, 90.0)));
    let rows = rows.expect("the layer reads");
    let many = folder.join("many.gpkg");
    let ours_s = median_s(|| write_many(&rows, &many));
    let (from, to) = (many.to_string_lossy(), folder.join("copy.gpkg"));
    let to = to.to_string_lossy();
    let args = ["-q", "-overwrite", &to, &from, "segments"];
    figures::beside(&format!("writing {ROWS} segments"), ours_s, "ogr2ogr", peer_s("ogr2ogr", &args));
}

fn write_many(rows: &[SegmentRow], path: &Path) {
    let mut writer = LayerWriter::create(path, true).expect("the layer begins");
    for (i, row) in rows.iter().cycle().take(ROWS).enumerate() {
        // Spread over degrees as a large region would be.
        let shift = (i / rows.len()) as i32 * 3_000_000;
        let line = row.line.iter().map(|p| Position { lon_e7: p.lon_e7 + shift, lat_e7: p.lat_e7 }).collect();
        // A way and its part appear once in a layer.
        let way_id = row.way_id + (i / rows.len()) as i64 * 1_000_000_000_000;
        writer
            .segment(&SegmentRow { segment_id: i as i64 + 1, way_id, line, ..row.clone() })
            .expect("a row is written");
    }
    writer.finish(&BuildRecord::default()).expect("the layer ends");
}
