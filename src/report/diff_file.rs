//! Segments that changed, as lines for a map or as rows: written one by one, since there may be more than memory holds.
use std::io::Write;
use std::path::Path;

use serde::Serialize;
use serde_json::json;

use super::formats::Format;
use super::rows::{Fixed, Quoted, csv_failed, row_writer, table};
use crate::ask::diff::{SegmentChange, SegmentTold};
use crate::base::caution::{self, Caution};
use crate::base::error::Result;
use crate::base::files::{cannot_write, ending, unknown_ending};
use crate::base::words::{Cause, Evidence, Rating};

/// A file of changes being written.
pub struct ChangesFile<'a> {
    path: &'a Path,
    rows: u64,
    to: ChangesForm<'a>,
}

enum ChangesForm<'a> {
    Csv(Box<csv::Writer<&'a mut dyn Write>>),
    GeoJson(&'a mut dyn Write),
}

/// The form of a file of changes, by the ending of its name.
///
/// # Errors
/// The ending is neither `.geojson` nor `.csv`.
pub fn changes_format(path: &Path) -> Result<Format> {
    match Format::of_ending(&ending(path)) {
        Some(format @ (Format::GeoJson | Format::Csv)) => Ok(format),
        _ => Err(unknown_ending(path, &["geojson", "csv"])),
    }
}

impl<'a> ChangesFile<'a> {
    /// Begins a file; `path` is where `out` leads to.
    ///
    /// # Errors
    /// It cannot be written, or its ending is not a known one.
    pub fn begin(path: &'a Path, out: &'a mut dyn Write) -> Result<Self> {
        let to = match changes_format(path)? {
            Format::Csv => ChangesForm::Csv(Box::new(row_writer(out))),
            _ => {
                let cautions = json!(caution::texts(&Caution::ROAD));
                let head = format!("{{\"type\":\"FeatureCollection\",\"cautions\":{cautions},\"features\":[");
                writeln!(out, "{head}").map_err(|e| cannot_write(path, &e))?;
                ChangesForm::GeoJson(out)
            }
        };
        Ok(Self { path, rows: 0, to })
    }
    /// Adds a segment.
    ///
    /// # Errors
    /// The file cannot be written.
    pub fn add(&mut self, change: &SegmentChange) -> Result<()> {
        let row = ChangeRow::of(change);
        match &mut self.to {
            ChangesForm::Csv(writer) => writer.serialize(row).map_err(|e| csv_failed(self.path, e))?,
            ChangesForm::GeoJson(out) => {
                let line: Vec<[f64; 2]> =
                    change.line.iter().map(|p| [f64::from(p.lon_e7) / 1e7, f64::from(p.lat_e7) / 1e7]).collect();
                let geometry = json!({"type": "LineString", "coordinates": line});
                let feature = json!({"type": "Feature", "properties": properties(change), "geometry": geometry});
                let before = if self.rows == 0 { "" } else { "," };
                writeln!(out, "{before}{feature}").map_err(|e| cannot_write(self.path, &e))?;
            }
        }
        self.rows += 1;
        Ok(())
    }
    /// Ends the file; how many segments it holds.
    ///
    /// # Errors
    /// It cannot be written.
    pub fn finish(self) -> Result<u64> {
        let failed = |e: std::io::Error| cannot_write(self.path, &e);
        match self.to {
            ChangesForm::GeoJson(out) => writeln!(out, "]}}").map_err(failed)?,
            ChangesForm::Csv(writer) => {
                let out = writer.into_inner().map_err(|e| failed(e.into_error()))?;
                // The writer puts names before its first row only.
                if self.rows == 0 {
                    out.write_all(table::<ChangeRow>(&[])?.as_bytes()).map_err(failed)?;
                }
            }
        }
        Ok(self.rows)
    }
}

/// A segment as a row.
#[derive(Serialize, Default)]
struct ChangeRow<'a> {
    change: &'static str,
    way_id: i64,
    part: u32,
    road: Quoted<'a>,
    highway: &'static str,
    lat_deg: Fixed<7>,
    lon_deg: Fixed<7>,
    length_old_m: Option<Fixed<1>>,
    length_new_m: Option<Fixed<1>>,
    rating_old: Option<Rating>,
    rating_new: Option<Rating>,
    outage_old_s: Option<Fixed<3>>,
    outage_new_s: Option<Fixed<3>>,
    main_cause_old: Option<Cause>,
    main_cause_new: Option<Cause>,
    evidence_old: Option<Evidence>,
    evidence_new: Option<Evidence>,
}

impl<'a> ChangeRow<'a> {
    fn of(change: &'a SegmentChange) -> Self {
        let at = change.line.first().copied().unwrap_or_default();
        let SegmentChange { old, new, .. } = change;
        let length = |told: &Option<SegmentTold>| told.map(|t| Fixed(t.length_m));
        let outage = |told: &Option<SegmentTold>| told.map(|t| Fixed(t.outage_s));
        Self {
            change: change.kind.name(),
            way_id: change.way_id,
            part: change.part,
            road: Quoted(&change.road),
            highway: change.highway.name(),
            lat_deg: Fixed(at.lat_deg()),
            lon_deg: Fixed(at.lon_deg()),
            length_old_m: length(old),
            length_new_m: length(new),
            rating_old: old.map(|t| t.rating),
            rating_new: new.map(|t| t.rating),
            outage_old_s: outage(old),
            outage_new_s: outage(new),
            main_cause_old: old.map(|t| t.main_cause),
            main_cause_new: new.map(|t| t.main_cause),
            evidence_old: old.map(|t| t.evidence),
            evidence_new: new.map(|t| t.evidence),
        }
    }
}

/// The same for a map, figures as numbers.
fn properties(change: &SegmentChange) -> serde_json::Value {
    let SegmentChange { old, new, .. } = change;
    json!({
        "change": change.kind,
        "way_id": change.way_id,
        "part": change.part,
        "road": change.road,
        "highway": change.highway,
        "length_old_m": old.map(|t| t.length_m),
        "length_new_m": new.map(|t| t.length_m),
        "rating_old": old.map(|t| t.rating),
        "rating_new": new.map(|t| t.rating),
        "outage_old_s": old.map(|t| t.outage_s),
        "outage_new_s": new.map(|t| t.outage_s),
        "main_cause_old": old.map(|t| t.main_cause),
        "main_cause_new": new.map(|t| t.main_cause),
        "evidence_old": old.map(|t| t.evidence),
        "evidence_new": new.map(|t| t.evidence),
    })
}
