//! Costs between nodes compared with networkx (PyPI), from the table that `waymask edges` writes.
use std::path::{Path, PathBuf};
use std::process::Command;

use waymask::ask::route::{Directions, EdgeTable, RouteNetwork, RouteRules, Weights};
use waymask::base::progress::Silent;
use waymask::build::{self, BuildOptions};
use waymask::layer::Layer;
use waymask::profile::Profile;

use crate::build::country;
use crate::build::kit::sample;
use crate::need;

const PAIRS: usize = 200;
const WEIGHTS: [(u64, u64); 3] = [(1, 0), (0, 1), (1_000_000, 2_500_000)];
const ALL: RouteRules = RouteRules { unpaved: true, boarded: true, private: true, height_m: 3.0 };

/// SplitMix64 (S. Vigna, public domain).
fn draw(state: &mut u64) -> u64 {
    *state = state.wrapping_add(0x9E37_79B9_7F4A_7C15);
    let z = (*state ^ (*state >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    let z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    z ^ (z >> 31)
}

/// Both answers for seeded pairs of nodes under some rules; how many pairs are joined.
fn compared(python: &Path, layer: &Path, folder: &Path, rules: RouteRules) -> usize {
    let mut table = EdgeTable::default();
    let mut nodes = Vec::new();
    for row in Layer::open(layer).unwrap().edges() {
        let row = row.unwrap();
        nodes.extend([row.from_node, row.to_node]);
        table.add(&row);
    }
    let mut state = 20_260_101;
    let mut pick = || nodes[(draw(&mut state) % nodes.len() as u64) as usize];
    let pairs: Vec<(i64, i64)> = (0..PAIRS).map(|_| (pick(), pick())).collect();
    let (csv, asked) = (folder.join("edges.csv"), folder.join("asked.json"));
    let out = Command::new(env!("CARGO_BIN_EXE_waymask"))
        .arg("edges")
        .arg(layer)
        .arg("-o")
        .arg(&csv)
        .arg("--overwrite")
        .output()
        .unwrap();
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    let question = serde_json::json!({"pairs": pairs, "weights": WEIGHTS, "rules": {
        "unpaved": rules.unpaved, "boarded": rules.boarded, "private": rules.private, "height_m": rules.height_m}});
    std::fs::write(&asked, question.to_string()).unwrap();
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/suite/ask/reference.py");
    let out = Command::new(python).arg(script).arg(&csv).arg(&asked).output().unwrap();
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    let theirs: Vec<Vec<Option<u64>>> = serde_json::from_slice(&out.stdout).unwrap();
    let network = RouteNetwork::new(&table, &rules, Directions::Kept);
    for ((time, outage), theirs) in WEIGHTS.into_iter().zip(&theirs) {
        let weights = Weights { time, outage };
        for ((from, to), theirs) in pairs.iter().zip(theirs) {
            let ends = (table.node(*from).unwrap(), table.node(*to).unwrap());
            let ours = network.between(ends.0, ends.1, weights).map(|t| weights.sum(t));
            assert_eq!(ours, theirs.map(u128::from), "{from} to {to}, weights {time} and {outage}");
        }
    }
    theirs[0].iter().flatten().count()
}

fn build(extract: PathBuf, folder: &Path) -> PathBuf {
    let mut profile = Profile::default();
    profile.link.drives = 4;
    let options = BuildOptions { profile, ..BuildOptions::new(extract, folder.join("place.gpkg")) };
    build::build(&options, &Silent).unwrap();
    options.output
}

#[test]
fn ways_on_the_island_cost_what_networkx_finds() {
    let Some(python) = need::python("networkx") else { return };
    let folder = tempfile::tempdir().unwrap();
    let layer = build(sample("varrow.osm.pbf"), folder.path());
    let joined = compared(&python, &layer, folder.path(), ALL);
    let paved = compared(&python, &layer, folder.path(), RouteRules { unpaved: false, boarded: false, ..ALL });
    println!("of {PAIRS} pairs joined: {joined}, without tracks and ferry {paved}");
    assert!(joined > PAIRS / 2 && paved < joined, "{joined} {paved}");
}

#[test]
fn heavy_ways_in_a_country_cost_what_networkx_finds() {
    let Some(layer) = country::andorra() else { return };
    let Some(python) = need::python("networkx") else { return };
    let folder = tempfile::tempdir().unwrap();
    let joined = compared(&python, &layer, folder.path(), ALL);
    let strict = RouteRules { unpaved: false, boarded: false, private: false, height_m: 4.0 };
    let paved = compared(&python, &layer, folder.path(), strict);
    println!("of {PAIRS} pairs joined: {joined}, on paved public roads of 4 m {paved}");
    assert!(joined > PAIRS / 2 && paved < joined, "{joined} {paved}");
}
