//! What simulated drives cost and how far two seeds stand apart, by their number; on the demo island and, where the data
//! is there, on a country. Prints, asserts nothing.
use std::path::Path;
use std::time::Instant;

use waymask::ask::rerate::{NewLayer, RerateQuestion, Wanted, rerate};
use waymask::base::progress::Silent;
use waymask::build::{self, BuildOptions};
use waymask::layer::Layer;
use waymask::layer::model::SegmentRow;

mod figures;
#[allow(dead_code)]
#[path = "../tests/suite/need.rs"]
mod need;

const DRIVES: [u32; 5] = [16, 64, 256, 512, 1024];

fn main() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let folder = tempfile::tempdir().expect("a temporary folder");
    let samples = root.join("data-samples");
    measure("Varrow", &samples.join("varrow.osm.pbf"), &samples.join("varrow-elevation.tif"), folder.path());
    if let Some(andorra) = need::data("andorra") {
        measure("Andorra", &andorra.join("andorra-2025.osm.pbf"), &andorra, folder.path());
    }
}

fn measure(name: &str, extract: &Path, elevation: &Path, folder: &Path) {
    let layer = folder.join(format!("{name}.gpkg"));
    let mut options = BuildOptions::new(extract.to_owned(), layer.clone());
    options.elevation = vec![elevation.to_owned()];
    build::build(&options, &Silent).expect("the region builds");
    println!("{name}: kilometres whose figures keep to the limit between two seeds");
    println!("  drives     time  outage share to 0.005  (rms)  95th percentile outage to 10 %  same rating");
    for drives in DRIVES {
        let began = Instant::now();
        let [a, b] = [1, 2].map(|seed| rated(&layer, drives, seed, folder));
        let seconds = began.elapsed().as_secs_f64() / 2.0;
        print_row(drives, seconds, &a, &b);
        figures::alone(&format!("{name} rated again, {drives} drives"), seconds);
    }
}

fn rated(layer: &Path, drives: u32, seed: u32, folder: &Path) -> Vec<SegmentRow> {
    let output = folder.join("again.gpkg");
    let values = vec![format!("link.drives={drives}"), format!("link.seed={seed}")];
    let question = RerateQuestion {
        wanted: Wanted::Values(values),
        output: Some(NewLayer { path: output.clone(), overwrite: true }),
        threads: None,
    };
    let stored = Layer::open(layer).expect("the layer opens");
    rerate(&stored, &question, &Silent).expect("the layer is rated again");
    Layer::open(&output).and_then(|l| l.segments()).expect("the layer reads")
}

fn print_row(drives: u32, seconds: f64, a: &[SegmentRow], b: &[SegmentRow]) {
    let pairs = || a.iter().zip(b).filter(|(a, _)| a.highway != waymask::base::words::Highway::Ferry);
    let all_m: f64 = pairs().map(|(a, _)| a.length_m).sum();
    let share = |keep: &dyn Fn(&SegmentRow, &SegmentRow) -> bool| -> f64 {
        100.0 * pairs().filter(|(a, b)| keep(a, b)).map(|(a, _)| a.length_m).sum::<f64>() / all_m
    };
    let off = |a: &SegmentRow, b: &SegmentRow| a.outage_share - b.outage_share;
    let rms = (pairs().map(|(a, b)| a.length_m * off(a, b).powi(2)).sum::<f64>() / all_m).sqrt();
    let near = |a: f64, b: f64| (a - b).abs() <= 0.1 * a.max(b);
    println!(
        "  {drives:6}  {seconds:5.1} s  {:17.1} %  {rms:.4}  {:27.1} %  {:9.1} %",
        share(&|a, b| off(a, b).abs() <= 0.005),
        share(&|a, b| near(a.outage_p95_s, b.outage_p95_s)),
        share(&|a, b| a.rating == b.rating),
    );
}
