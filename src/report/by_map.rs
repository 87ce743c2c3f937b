//! Tables by pairs of nodes and by ways, row by row: there may be more of them than memory holds.
use std::io::Write;
use std::path::Path;

use serde::Serialize;

use super::formats::Format;
use super::rows::{Fixed, csv_failed, row_writer, table};
use crate::ask::by_map::{NodePair, WayDrive};
use crate::base::error::Result;
use crate::base::files::{cannot_write, ending, unknown_ending};
use crate::base::words::Rating;

/// A table being written.
pub struct ByMapFile<'a> {
    path: &'a Path,
    rows: u64,
    to: ByMapForm<'a>,
}

enum ByMapForm<'a> {
    Csv(Box<csv::Writer<&'a mut dyn Write>>),
    Json(&'a mut dyn Write),
}

/// A row of such a table. As JSON it holds its figures to the last digit, in CSV it has decimals.
pub trait ByMapRow: Serialize {
    /// The row in CSV.
    type Cells: Serialize + Default;
    /// The row in CSV.
    fn cells(&self) -> Self::Cells;
}

/// The form of such a table, by the ending of its name.
///
/// # Errors
/// The ending is neither `.csv` nor `.json`.
pub fn by_map_format(path: &Path) -> Result<Format> {
    match Format::of_ending(&ending(path)) {
        Some(format @ (Format::Csv | Format::Json)) => Ok(format),
        _ => Err(unknown_ending(path, &["csv", "json"])),
    }
}

impl<'a> ByMapFile<'a> {
    /// Begins a table; `path` is where `out` leads to.
    ///
    /// # Errors
    /// Its ending is not a known one.
    pub fn begin(path: &'a Path, out: &'a mut dyn Write) -> Result<Self> {
        let to = match by_map_format(path)? {
            Format::Csv => ByMapForm::Csv(Box::new(row_writer(out))),
            _ => ByMapForm::Json(out),
        };
        Ok(Self { path, rows: 0, to })
    }
    /// Adds a row.
    ///
    /// # Errors
    /// The file cannot be written.
    pub fn add<R: ByMapRow>(&mut self, row: &R) -> Result<()> {
        match &mut self.to {
            ByMapForm::Csv(writer) => writer.serialize(row.cells()).map_err(|e| csv_failed(self.path, e))?,
            ByMapForm::Json(out) => {
                let text = serde_json::to_string(row).map_err(|e| cannot_write(self.path, &e.into()))?;
                let before = if self.rows == 0 { "[" } else { "," };
                writeln!(out, "{before}{text}").map_err(|e| cannot_write(self.path, &e))?;
            }
        }
        self.rows += 1;
        Ok(())
    }
    /// Ends a table of such rows; how many it has.
    ///
    /// # Errors
    /// The file cannot be written.
    pub fn finish<R: ByMapRow>(self) -> Result<u64> {
        let failed = |e: std::io::Error| cannot_write(self.path, &e);
        match self.to {
            ByMapForm::Json(out) => writeln!(out, "{}", if self.rows == 0 { "[]" } else { "]" }).map_err(failed)?,
            ByMapForm::Csv(writer) => {
                let out = writer.into_inner().map_err(|e| failed(e.into_error()))?;
                // The writer puts names before its first row only.
                if self.rows == 0 {
                    out.write_all(table::<R::Cells>(&[])?.as_bytes()).map_err(failed)?;
                }
            }
        }
        Ok(self.rows)
    }
}

/// A pair of nodes in CSV. Many are short: with fewer decimals, their small times would be lost from the sum of a drive.
#[derive(Serialize, Default)]
pub struct PairCells {
    from_node: i64,
    to_node: i64,
    way_id: i64,
    forward: bool,
    length_m: Fixed<3>,
    time_s: Fixed<6>,
    outage_s: Fixed<6>,
    rating: u8,
    not_known_m: Fixed<3>,
    speed_kmh: Fixed<6>,
}

impl ByMapRow for NodePair {
    type Cells = PairCells;
    fn cells(&self) -> PairCells {
        PairCells {
            from_node: self.from_node,
            to_node: self.to_node,
            way_id: self.way_id,
            forward: self.forward,
            length_m: Fixed(self.length_m),
            time_s: Fixed(self.time_s),
            outage_s: Fixed(self.outage_s),
            rating: self.rating.code(),
            not_known_m: Fixed(self.not_known_m),
            speed_kmh: Fixed(self.speed_kmh),
        }
    }
}

/// A way in CSV.
#[derive(Serialize, Default)]
pub struct WayCells {
    way_id: i64,
    forward: bool,
    length_m: Fixed<2>,
    time_s: Fixed<3>,
    outage_s: Fixed<3>,
    rating: u8,
    rating_name: Rating,
    not_known_m: Fixed<2>,
    whole: bool,
    speed_kmh: Fixed<6>,
}

impl ByMapRow for WayDrive {
    type Cells = WayCells;
    fn cells(&self) -> WayCells {
        WayCells {
            way_id: self.way_id,
            forward: self.forward,
            length_m: Fixed(self.length_m),
            time_s: Fixed(self.time_s),
            outage_s: Fixed(self.outage_s),
            rating: self.rating.code(),
            rating_name: self.rating_name,
            not_known_m: Fixed(self.not_known_m),
            whole: self.whole,
            speed_kmh: Fixed(self.speed_kmh),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn written<R: ByMapRow>(name: &str, rows: &[R]) -> String {
        let mut out = Vec::new();
        let mut file = ByMapFile::begin(Path::new(name), &mut out).unwrap();
        rows.iter().for_each(|row| file.add(row).unwrap());
        assert_eq!(file.finish::<R>().unwrap(), rows.len() as u64);
        String::from_utf8(out).unwrap()
    }

    #[test]
    fn tables_have_their_names_and_decimals() {
        let (from_node, to_node, way_id) = (-3, 9_000_000_000, 7);
        let pair = NodePair { from_node, to_node, way_id, outage_s: 2e-6, speed_kmh: 50.0, ..NodePair::default() };
        let names = "from_node,to_node,way_id,forward,length_m,time_s,outage_s,rating,not_known_m,speed_kmh\r\n";
        let row = "-3,9000000000,7,false,0.000,0.000000,0.000002,4,0.000,50.000000\r\n";
        assert_eq!(written("p.csv", &[pair]), [names, row].concat());
        assert_eq!(written::<NodePair>("p.csv", &[]), names);
        assert_eq!(written::<NodePair>("p.json", &[]), "[]\n");
        let way = WayDrive { rating: Rating::Dark, rating_name: Rating::Dark, length_m: 0.1, ..WayDrive::default() };
        let names = "way_id,forward,length_m,time_s,outage_s,rating,rating_name,not_known_m,whole,speed_kmh\r\n";
        let row = "0,false,0.10,0.000,0.000,4,dark,0.00,false,0.000000\r\n";
        assert_eq!(written("w.csv", &[way]), [names, row].concat());
        let json: serde_json::Value = serde_json::from_str(&written("w.json", &[way, way])).unwrap();
        assert_eq!((&json[1]["rating"], &json[1]["rating_name"]), (&4.into(), &"dark".into()));
        assert!(by_map_format(Path::new("w.geojson")).unwrap_err().to_string().contains(".csv or .json"));
    }
}
