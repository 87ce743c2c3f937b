//! Layers, parts and plans of builds, packed rasters.
use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::sync::LazyLock;

use rusqlite::Connection;
use rusqlite::config::DbConfig;
use rusqlite::types::Value;
use waymask::ask;
use waymask::ask::place::SkyQuestion;
use waymask::base::progress::Silent;
use waymask::build::{self, BuildOptions, ShardOptions};
use waymask::layer::{Bounds, Layer, PartFile};
use waymask::physics::sky::pack;
use waymask::profile::Profile;
use waymask::relief::{ElevationKind, Sources};

use crate::kit::Sketch;
use crate::target::{Outcome, Reader, Target, outcome};

pub const TARGETS: &[Target] = &[
    Target::new(
        "layers",
        || vec![BUILT.layer.clone()],
        |folder| {
            let path = folder.join("x.gpkg");
            Box::new(move |input| {
                fs::write(&path, input).expect("a temporary file");
                read_layer(&path)
            })
        },
    )
    .longest(1 << 20),
    Target::new(
        "layer_cells",
        || cells_of(&BUILT.layer, |_| true),
        |folder| cells(folder, "x.gpkg", &BUILT.layer, read_layer),
    )
    .longest(8_192)
    .most_mb(200),
    Target::new(
        "part_cells",
        || cells_of(&BUILT.part, |table| table == "part"),
        |folder| cells(folder, "x.part", &BUILT.part, |path| outcome(&PartFile::open::<serde_json::Value>(path))),
    )
    .longest(8_192),
    Target::new(
        "plans",
        || vec![BUILT.plan.clone()],
        |folder| {
            let folder = folder.to_owned();
            Box::new(move |input| {
                fs::write(folder.join("plan.json"), input).expect("a temporary file");
                outcome(&build::found_plan(&folder))
            })
        },
    )
    .longest(16_384),
    Target::new("zipped_rasters", zip_seeds, |folder| {
        let path = folder.join("x.zip");
        Box::new(move |input| {
            fs::write(&path, input).expect("a temporary file");
            outcome(&Sources::open(std::slice::from_ref(&path), ElevationKind::BareEarth))
        })
    }),
];

/// A layer, a part and a plan.
struct BuiltFiles {
    layer: Vec<u8>,
    part: Vec<u8>,
    plan: Vec<u8>,
}

static BUILT: LazyLock<BuiltFiles> = LazyLock::new(|| {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let mut sketch = Sketch::at(47.1);
    let street: Vec<i64> = (0..4).map(|i| sketch.node(-300.0 + 200.0 * f64::from(i), 0.0, &[])).collect();
    sketch.way(&street, &[("highway", "tertiary"), ("name", "Pier Street"), ("maxheight", "4")]);
    let end = sketch.node(0.0, 300.0, &[]);
    sketch.way(&[street[2], end], &[("highway", "residential")]);
    sketch.line(&[(-200.0, -60.0), (-200.0, 60.0)], &[("highway", "footway"), ("bridge", "yes"), ("layer", "1")]);
    sketch.area([-60.0, 20.0, -20.0, 60.0], &[("amenity", "parking"), ("name", "Meadow")]);
    sketch.area([-150.0, 6.0, -120.0, 16.0], &[("building", "yes")]);
    sketch.node(0.0, 600.0, &[("place", "village"), ("name", "Pier"), ("population", "40")]);
    sketch.area([400.0, 400.0, 500.0, 500.0], &[("natural", "water"), ("name", "Mere")]);
    sketch.line(&[(400.0, 600.0), (500.0, 700.0)], &[("waterway", "river")]);
    let mut profile = Profile::default();
    profile.link.drives = 4;
    let output = folder.path().join("x.gpkg");
    let build = BuildOptions { profile, ..BuildOptions::new(sketch.write(folder.path()), output.clone()) };
    let work = folder.path().join("work");
    let options = ShardOptions { build: build.clone(), work: work.clone() };
    build::plan_shards(&options, &Silent).expect("planned");
    build::rate_shard(&options, build::Shard { nth: 1, count: 1 }, &Silent).expect("rated");
    build::build(&build, &Silent).expect("built");
    let read = |path: &Path| fs::read(path).expect("a file of a build");
    let is_part = |path: &PathBuf| path.is_file() && read(path).starts_with(b"SQLite format 3");
    let mut files: Vec<PathBuf> =
        fs::read_dir(&work).expect("a work folder").map(|e| e.expect("a file").path()).collect();
    files.sort();
    let part = files.iter().find(|path| is_part(path)).expect("a part");
    BuiltFiles { layer: read(&output), part: read(part), plan: read(&work.join("plan.json")) }
});

/// A cell of every table and column, as `table, column, row, kind of value` and the value.
fn cells_of(file: &[u8], wanted: fn(&str) -> bool) -> Vec<Vec<u8>> {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let path = folder.path().join("x");
    fs::write(&path, file).expect("a temporary file");
    let connection = Connection::open(&path).expect("an SQLite file");
    let mut seeds = Vec::new();
    for (table, (name, columns)) in (0_u8..).zip(columns_of(&connection)) {
        if !wanted(&name) {
            continue;
        }
        for (column, title) in (0_u8..).zip(&columns) {
            let Ok(value) =
                connection.query_row(&format!("SELECT \"{title}\" FROM \"{name}\" LIMIT 1"), [], |r| r.get(0))
            else {
                continue;
            };
            let (kind, bytes) = match value {
                Value::Null => (0, Vec::new()),
                Value::Integer(i) => (1, i.to_le_bytes().to_vec()),
                Value::Real(r) => (2, r.to_le_bytes().to_vec()),
                Value::Text(text) => (3, text.into_bytes()),
                Value::Blob(blob) => (4, blob),
            };
            seeds.push([&[table, column, 0, kind][..], &bytes].concat());
        }
    }
    seeds
}

/// Tables of rows with their columns, in a fixed order.
fn columns_of(connection: &Connection) -> Vec<(String, Vec<String>)> {
    let names = |query: &str| -> Vec<String> {
        let mut statement = connection.prepare(query).expect("a query");
        statement.query_map([], |row| row.get(0)).expect("rows").collect::<Result<_, _>>().expect("names")
    };
    names("SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%' ORDER BY name")
        .into_iter()
        .map(|table| {
            let columns = names(&format!("SELECT name FROM pragma_table_info('{table}')"));
            (table, columns)
        })
        .collect()
}

/// Puts a value into one cell of a file, has it read, and puts back what was there.
fn cells(folder: &Path, name: &str, file: &[u8], read: fn(&Path) -> Outcome) -> Reader {
    let path = folder.join(name);
    fs::write(&path, file).expect("a temporary file");
    let connection = Connection::open(&path).expect("an SQLite file");
    let settings = "PRAGMA synchronous = OFF; PRAGMA journal_mode = MEMORY; PRAGMA ignore_check_constraints = ON;";
    connection.execute_batch(settings).expect("settings");
    // Those of a GeoPackage call functions that are not here.
    connection.set_db_config(DbConfig::SQLITE_DBCONFIG_ENABLE_TRIGGER, false).expect("no triggers");
    let all = columns_of(&connection);
    let whole = file.to_vec();
    Box::new(move |input| {
        let Some(([table, column, row, kind], value)) = input.split_first_chunk::<4>() else { return String::new() };
        let (table, columns) = &all[usize::from(*table) % all.len()];
        let column = &columns[usize::from(*column) % columns.len()];
        let mut word = [0; 8];
        word.iter_mut().zip(value).for_each(|(to, from)| *to = *from);
        let value = match kind % 5 {
            0 => Value::Null,
            1 => Value::Integer(i64::from_le_bytes(word)),
            2 => Value::Real(f64::from_le_bytes(word)),
            3 => Value::Text(String::from_utf8_lossy(value).into_owned()),
            _ => Value::Blob(value.to_vec()),
        };
        let at = format!("rowid = (SELECT rowid FROM \"{table}\" LIMIT 1 OFFSET {})", row % 4);
        let Ok(before) =
            connection.query_row(&format!("SELECT \"{column}\", rowid FROM \"{table}\" WHERE {at}"), [], |r| {
                Ok((r.get::<_, Value>(0)?, r.get::<_, i64>(1)?))
            })
        else {
            return String::new();
        };
        // A key moves its row.
        if connection.execute(&format!("UPDATE \"{table}\" SET \"{column}\" = ?1 WHERE {at}"), [&value]).is_err() {
            return "not stored".to_owned();
        }
        let came = read(&path);
        let back = format!("UPDATE \"{table}\" SET \"{column}\" = ?1 WHERE rowid = ?2");
        if connection.execute(&back, (&before.0, before.1)).is_ok_and(|rows| rows == 1) {
            return format!("{table} {column} {came}");
        }
        fs::write(&path, &whole).expect("a temporary file");
        format!("{table} {column} moved {came}")
    })
}

/// Reads all of a layer, as far as it can be read.
fn read_layer(path: &Path) -> Outcome {
    let layer = match Layer::open(path) {
        Ok(layer) => layer,
        refused => return outcome(&refused),
    };
    let everywhere = Bounds::from_deg(-180.0, -90.0, 180.0, 90.0);
    let mut came = Vec::new();
    let grid = pack::unpack;
    came.push(outcome(&layer.segments()));
    came.push(outcome(&layer.segments_in(everywhere)));
    came.push(outcome(&layer.lanes()));
    came.push(outcome(&layer.runs()));
    came.push(outcome(&layer.edges().collect::<Result<Vec<_>, _>>()));
    came.push(outcome(&layer.nodes()));
    came.push(outcome(&layer.overheads_in(everywhere)));
    came.push(outcome(&layer.stops()));
    came.push(outcome(&layer.outages()));
    came.push(outcome(&layer.named_places()));
    came.push(outcome(&layer.ground()));
    came.push(outcome(&layer.ground_lines()));
    came.push(outcome(&layer.names()));
    came.push(outcome(&layer.counts()));
    came.push(outcome(&layer.extent()));
    came.push(outcome(&layer.ways_in(&[everywhere])));
    came.push(outcome(&layer.each_way_nodes(|_| Ok(()))));
    came.push(outcome(&layer.each_masks(|row| {
        let _ = grid(&row.packed);
        Ok(())
    })));
    came.push(outcome(&layer.each_end_masks(|row| {
        let _ = grid(&row.packed);
        Ok(())
    })));
    let sky = SkyQuestion { at_deg: (47.1, -28.001), within_m: 100.0, backward: false, passes: None };
    came.push(outcome(&ask::sky(&layer, &sky)));
    came.push(outcome(&ask::search::find(&layer, "Pier")));
    came.retain(|one| one != "read");
    came.concat()
}

fn zip_seeds() -> Vec<Vec<u8>> {
    let mut file = std::io::Cursor::new(Vec::new());
    let mut zip = zip::ZipWriter::new(&mut file);
    zip.start_file("N47W028.hgt", zip::write::SimpleFileOptions::default()).expect("a file");
    zip.write_all(&[0; 100]).expect("bytes");
    zip.start_file("a/b.tif", zip::write::SimpleFileOptions::default()).expect("a file");
    zip.write_all(b"II*\0").expect("bytes");
    zip.finish().expect("an archive");
    vec![file.into_inner()]
}
