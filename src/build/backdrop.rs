//! Names of places and water on their way to a layer: kept with a plan, and written when its parts are joined.
use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

use super::plan::BuildPlan;
use crate::base::district::District;
use crate::base::error::{Error, Result};
use crate::layer::model::{BuildRecord, GroundLineRow, GroundRow, PlaceRow};
use crate::layer::{BackdropSink, LayerJoin};
use crate::map::divide::{BackdropFile, read_backdrop};
use crate::map::extract::model::Backdrop;

/// The name of the file in a work folder: this, digits of its hash, and the ending.
const BEGIN: &str = "backdrop-";
const ENDING: &str = ".waymask";
/// Hexadecimal digits of the hash in the name.
const DIGITS: usize = 32;

/// Where a work folder holds the file with some sum.
fn path_in(folder: &Path, sha256: &str) -> PathBuf {
    let digits: String = sha256.chars().filter(char::is_ascii_hexdigit).take(DIGITS).collect();
    folder.join(format!("{BEGIN}{digits}{ENDING}"))
}

/// Puts a plan into its work folder, and its file beside it; those of other plans go. Shards that work in one folder keep the
/// same bytes.
///
/// # Errors
/// The disk fails.
pub(super) fn keep_with_plan(folder: &Path, plan: &BuildPlan, file: &BackdropFile) -> Result<PathBuf> {
    let kept = path_in(folder, &file.sha256);
    let failed = |e| Error::io(&kept, "cannot be kept", &e, "check the disk, then run again");
    fs::rename(&file.path, &kept).map_err(failed)?;
    plan.write(folder)?;
    for path in fs::read_dir(folder).into_iter().flatten().flatten().map(|e| e.path()) {
        let name = path.file_name().unwrap_or_default().to_string_lossy();
        if name.starts_with(BEGIN) && name.ends_with(ENDING) && path != kept {
            // What cannot be removed stays, and harms nothing.
            let _ = fs::remove_file(&path);
        }
    }
    Ok(kept)
}

/// The file of a plan, in the first of some work folders that holds it.
///
/// # Errors
/// None does.
pub(super) fn find(folders: &[PathBuf], plan: &BuildPlan) -> Result<PathBuf> {
    let mut all = folders.iter().map(|folder| path_in(folder, &plan.backdrop));
    all.find(|path| path.is_file()).ok_or_else(|| {
        let folder = folders.first().map_or(Path::new("."), PathBuf::as_path);
        let name = path_in(Path::new(""), &plan.backdrop).display().to_string();
        let fact = format!("names of places and water are missing: {name}");
        let next = "give the work folder in which the build was planned too, or plan again with `waymask shards`";
        Error::file(folder, fact, next)
    })
}

/// Writes what touches some districts of a plan, and counts it.
///
/// # Errors
/// The file is not that of the plan, or the layer cannot be written.
pub(super) fn fill(
    layer: &mut LayerJoin,
    (file, plan): (&Path, &BuildPlan),
    districts: &BTreeSet<District>,
    record: &mut BuildRecord,
) -> Result<()> {
    let mut numbers = RowNumbers::default();
    layer.backdrop(|sink| {
        read_backdrop(file, &plan.backdrop, |thing| match thing.meets(districts) {
            true => numbers.store(sink, thing),
            false => Ok(()),
        })
    })?;
    let RowNumbers { places, ground, lines } = numbers;
    for (name, rows) in [("places", places), ("ground", ground), ("ground lines", lines)] {
        record.counts.insert(name.to_owned(), rows.unsigned_abs());
    }
    Ok(())
}

/// Rows written so far, which number the next ones.
#[derive(Default)]
struct RowNumbers {
    places: i64,
    ground: i64,
    lines: i64,
}

impl RowNumbers {
    fn store(&mut self, sink: &mut BackdropSink, thing: Backdrop) -> Result<()> {
        let text = |name: Option<Box<str>>| name.map(String::from);
        match thing {
            Backdrop::Place(place) => {
                self.places += 1;
                sink.place(&PlaceRow {
                    place_id: self.places,
                    osm_type: place.object,
                    osm_id: place.id,
                    name: place.name.into(),
                    name_en: text(place.name_en),
                    kind: place.kind,
                    population: place.population,
                    rank: place.kind.rank(place.population),
                    at: place.at,
                })
            }
            Backdrop::Area(water) => {
                self.ground += 1;
                let rings = std::iter::once(water.area.outer).chain(water.area.inners).collect();
                sink.ground(&GroundRow { ground_id: self.ground, kind: water.kind, name: text(water.name), rings })
            }
            Backdrop::Line(water) => {
                self.lines += 1;
                let (kind, name, line) = (water.kind, text(water.name), water.line);
                sink.ground_line(&GroundLineRow { ground_line_id: self.lines, kind, name, line })
            }
        }
    }
}
