//! A layer rated again from what it holds.
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use waymask::ask::rerate::{Change, NewLayer, RerateAnswer, RerateQuestion, Wanted, rerate};
use waymask::base::progress::{Progress, Silent};
use waymask::base::words::Rating;
use waymask::layer::model::{EdgeRow, OverheadRow, SegmentRow};
use waymask::layer::{Bounds, Layer};
use waymask::profile::{Profile, source};

use crate::build::country;
use crate::build::kit::{Place, Sketch, sample};

fn question(set: &str) -> RerateQuestion {
    RerateQuestion { wanted: Wanted::Values(vec![set.to_owned()]), output: None, threads: None }
}

fn rated(layer: &Path, set: &str) -> RerateAnswer {
    rerate(&Layer::open(layer).unwrap(), &question(set), &Silent).unwrap()
}

fn again(layer: &Path, set: &str, folder: &Path) -> PathBuf {
    let path = folder.join("again.gpkg");
    let output = Some(NewLayer { path: path.clone(), overwrite: true });
    rerate(&Layer::open(layer).unwrap(), &RerateQuestion { output, ..question(set) }, &Silent).unwrap();
    path
}

fn few_drives() -> Profile {
    let mut profile = Profile::default();
    profile.link.drives = 8;
    profile
}

fn island(profile: Profile) -> Place {
    Sketch::at(47.0).build_with(profile, |o, _| {
        o.extract = sample("varrow.osm.pbf");
        o.elevation = vec![sample("varrow-elevation.tif")];
    })
}

/// Under the unchanged profile everything comes back: ratings, figures, overheads, edges, boxes, record. Pages of the file may
/// lie elsewhere, since a build joins districts.
fn assert_reproduced(layer: &Path, unchanged: &str) {
    let folder = tempfile::tempdir().unwrap();
    let output = again(layer, unchanged, folder.path());
    let (built, rated) = (contents(layer), contents(&output));
    assert_eq!(built.keys().collect::<Vec<_>>(), rated.keys().collect::<Vec<_>>());
    for (table, rows) in &built {
        let other = &rated[table];
        let apart = rows.iter().zip(other).position(|(a, b)| a != b);
        let shown = apart.map(|at| (&rows[at], &other[at]));
        assert!(rows == other, "{table}: {} and {} rows, first difference {shown:?}", rows.len(), other.len());
    }
}

/// All rows of all tables of a file, as text.
fn contents(path: &Path) -> BTreeMap<String, Vec<String>> {
    let file = rusqlite::Connection::open(path).unwrap();
    let mut tables = file.prepare("SELECT name FROM sqlite_master WHERE type = 'table'").unwrap();
    let names = tables.query_map([], |r| r.get::<_, String>(0)).unwrap().map(Result::unwrap);
    // Nodes of an R-tree hold boxes in the order they came; the boxes themselves are looked at.
    let told = names.filter(|name| !name.starts_with("rtree_") || name.ends_with("_geom"));
    let rows = |name: &String| {
        // Keys of nodes count as they were written.
        let sql = match name.as_str() {
            "nodes" => "SELECT node_id, geom FROM nodes ORDER BY 1".to_owned(),
            "rtree_nodes_geom" => format!("SELECT minx, miny, maxx, maxy FROM {name} ORDER BY 1, 2"),
            _ => format!("SELECT * FROM \"{name}\" ORDER BY 1"),
        };
        let mut all = file.prepare(&sql).unwrap();
        let columns = all.column_count();
        let row = |r: &rusqlite::Row<'_>| {
            Ok((0..columns).map(|i| format!("{:?}", r.get_ref(i).unwrap())).collect::<Vec<_>>().join(" | "))
        };
        all.query_map([], row).unwrap().map(Result::unwrap).collect::<Vec<String>>()
    };
    told.map(|name| (name.clone(), rows(&name))).collect()
}

#[test]
fn the_unchanged_profile_gives_the_island_back_to_the_last_figure() {
    assert_reproduced(&island(few_drives()).path, "link.drives=8");
    // A usable sky that turns with the vehicle.
    let mut turning = few_drives();
    turning.terminal = waymask::profile::presets::find("windscreen").unwrap().profile().unwrap().terminal;
    assert_reproduced(&island(turning).path, "link.drives=8");
}

#[test]
fn heavy_the_unchanged_profile_gives_a_country_back_to_the_last_byte() {
    let Some(layer) = country::andorra() else { return };
    assert_reproduced(&layer, country::DRIVES);
}

/// What a segment rests on is found in a build, for the lane that decided there; the rest must be a new build's.
fn figures(layer: &Path) -> (Vec<SegmentRow>, Vec<EdgeRow>, Vec<OverheadRow>) {
    let layer = Layer::open(layer).unwrap();
    let mut rows = layer.segments().unwrap();
    for row in &mut rows {
        (row.evidence_canopy, row.evidence_building) = Default::default();
        row.evidence = Default::default();
        (row.overhang, row.overhang_reason) = Default::default();
    }
    let everywhere = Bounds::from_deg(-180.0, -90.0, 180.0, 90.0);
    (rows, layer.edges().map(|e| e.unwrap()).collect(), layer.overheads_in(everywhere).unwrap())
}

#[test]
fn another_profile_gives_what_a_build_with_it_gives() {
    let place = island(few_drives());
    let folder = tempfile::tempdir().unwrap();
    for set in
        ["link.usable_share=0.3", "vehicle.speed_factor=0.7", "link.reselection_s=2.5", "rating.gaps_outage_s=9.0"]
    {
        let built = island(source::with_values(&few_drives(), &[set.to_owned()]).unwrap());
        let (want, got) = (figures(&built.path), figures(&again(&place.path, set, folder.path())));
        for (want, got) in want.0.iter().zip(&got.0) {
            assert_eq!(want, got, "{set}");
        }
        assert!(want == got, "{set}: edges or overheads differ");
        assert!(want != figures(&place.path), "{set} changes nothing");
    }
}

fn only(answered: &RerateAnswer) -> &Change {
    assert_eq!(answered.changes.len(), 1);
    &answered.changes[0]
}

#[test]
fn changes_move_roads_the_way_they_should() {
    let mut profile = few_drives();
    profile.link.drives = 64;
    let place = island(profile);
    let km = |c: &Change| c.outcome.km_by_rating.values().sum::<f64>();
    let stored_km: f64 = place.rows.iter().map(|r| r.length_m / 1000.0).sum();
    for (set, worse) in [
        ("link.usable_share=0.1", true),
        ("link.usable_share=1.0", false),
        ("link.awareness=0.0", true),
        ("link.margin_db=20.0", false),
        ("terminal.scan_half_angle_deg=35", true),
    ] {
        let answered = rated(&place.path, set);
        let change = only(&answered);
        assert!((km(change) - stored_km).abs() < 1e-6, "{set}: {}", km(change));
        let moved_km: f64 = change.moves.iter().map(|m| m.2).sum();
        assert!((moved_km - change.better_km - change.worse_km).abs() < 1e-9 && moved_km > 0.2, "{set}: {change:?}");
        let (more, less) =
            if worse { (change.worse_km, change.better_km) } else { (change.better_km, change.worse_km) };
        // Luck moves some roads the other way.
        assert!(more > less, "{set}: {change:?}");
        let down = change.outcome.outage_share - answered.stored.outage_share;
        assert_eq!(down > 0.0, worse, "{set}: {down}");
    }
}

#[test]
fn another_margin_or_scatter_is_what_a_build_with_it_gives() {
    let place = island(few_drives());
    for set in
        ["link.margin_db=3.0", "link.margin_db=8.0", "canopy.between_ln=0.2", "canopy.within_ln=0.8", "link.hold_s=5.0"]
    {
        let built = island(source::with_values(&few_drives(), &[set.to_owned()]).unwrap());
        let answered = rated(&place.path, set);
        let change = only(&answered);
        let (outage_s, time_s) = (built.outage_s(), built.layer.edges().map(|e| e.unwrap().time_s).sum::<f64>());
        let (told, stored) = (change.outcome.outage_share, answered.stored.outage_share);
        println!("{set}: stored {stored:.4}, from masks {told:.4}, built {:.4}", outage_s / time_s);
        // Columns of the built layer are stored in steps.
        assert!((told - outage_s / time_s).abs() < 1e-4 && (told - stored).abs() > 1e-5, "{set}: {told} {stored}");
        for rating in Rating::ALL {
            let km = |of: f64| (of * 1000.0).round();
            let in_built = built.rows.iter().filter(|r| r.rating == *rating).map(|r| r.length_m / 1000.0).sum::<f64>();
            let from_masks = change.outcome.km_by_rating.get(rating).copied().unwrap_or_default();
            assert_eq!(km(from_masks), km(in_built), "{set} {rating}");
        }
    }
}

#[test]
fn a_sweep_sorts_by_what_moves_and_says_what_it_cannot_answer() {
    let mut sketch = Sketch::at(46.0);
    sketch.line(&[(-600.0, 0.0), (600.0, 0.0)], &[("highway", "unclassified"), ("lanes", "1")]);
    sketch.area([-500.0, -60.0, 500.0, 60.0], &[("natural", "wood")]);
    let place = sketch.build(few_drives());
    let answered =
        rerate(&place.layer, &RerateQuestion { wanted: Wanted::Sweep, output: None, threads: None }, &Silent).unwrap();
    assert_eq!(answered.not_reproduced_km, Some(0.0));
    let moved: Vec<f64> = answered.changes.iter().map(|c| c.better_km + c.worse_km).collect();
    assert!(moved.is_sorted_by(|a, b| a >= b) && moved[0] > 0.0 && moved.len() > 15, "{moved:?}");
    assert!(answered.changes.iter().all(|c| c.what.len() == 1), "one at a time");
    for key in ["vehicle.antenna_height_m", "terminal.scan_half_angle_deg", "canopy.season"] {
        assert!(answered.refused.iter().any(|refused| refused.key == key), "{key}");
    }
}

/// Fails where anything is rated.
struct NothingRated;

impl Progress for NothingRated {
    fn begin(&self, _: &str, _: &'static str, _: Option<u64>) {}
    fn advance(&self, _: u64) {
        panic!("a stroke was rated");
    }
    fn end(&self) {}
    fn warn(&self, _: &str) {}
}

#[test]
fn what_cannot_be_written_is_said_before_anything_is_rated() {
    let mut sketch = Sketch::at(47.0);
    sketch.line(&[(-200.0, 0.0), (200.0, 0.0)], &[("highway", "tertiary")]);
    let place = sketch.build(few_drives());
    let folder = tempfile::tempdir().unwrap();
    let taken = folder.path().join("taken.gpkg");
    std::fs::write(&taken, "kept").unwrap();
    for (set, output, fact) in
        [("link.seed=2", taken.clone(), "exists already"), ("link.seed=2", place.path.clone(), "is also an input")]
    {
        let output = Some(NewLayer { path: output, overwrite: false });
        let text =
            rerate(&place.layer, &RerateQuestion { output, ..question(set) }, &NothingRated).unwrap_err().to_string();
        assert!(text.contains(fact), "{text}");
    }
    assert_eq!(std::fs::read_to_string(&taken).unwrap(), "kept");
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1, "nothing half-written stays");
}
