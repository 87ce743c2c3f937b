//! The table of names, made of the other tables when these are complete: so it is the same whether a layer was built at once,
//! joined from shards or rated again.
//!
//! A road is a row for each place that its pieces lie in or near, so that it can be asked for by that place. Pieces wait in a
//! temporary table that SQLite sorts, on the disk where they are many: memory grows with the places of a layer, not with its roads.
use rusqlite::{Connection, Row as SqlRow, params};

use super::batch::Batch;
use super::geometry::{decode_line, decode_point};
use super::known_by::KnownPlaces;
use super::model::NameRow;
use super::model::PlaceRow;
use super::schema::{Load, Row};
use super::target::Target;
use super::trouble::cannot_write;
use crate::base::district::District;
use crate::base::error::{Error, Result};
use crate::base::fold::folded;
use crate::base::geodesy::{Position, distance_m};
use crate::base::words::NameKind;

/// Longest spelling that is kept, bytes: nobody types more.
const MOST_BYTES: usize = 200;
/// A piece of a road is told to one place, so that it is not longer than this, metres.
const MOST_PIECE_M: f64 = 2_000.0;

/// Pieces of roads on their way to rows.
const PIECES_SQL: &str = "DROP TABLE IF EXISTS temp.road_pieces; CREATE TEMP TABLE road_pieces (folded TEXT, name TEXT, \
                          near INTEGER, square TEXT, away_m REAL, segment INTEGER, length_m REAL, lon INTEGER, lat INTEGER)";

/// Fills the table of names of a layer; how many there are.
///
/// # Errors
/// The layer cannot be written.
pub(super) fn write(connection: &Connection, target: &Target) -> Result<u64> {
    let mut writer = NameWriter { connection, target, rows: Batch::default(), next: 1 };
    let places = KnownPlaces::new(writer.places()?);
    writer.name_places(&places)?;
    writer.name_stops(&places)?;
    writer.cut_roads(&places)?;
    writer.name_roads()?;
    writer.rows.flush(connection, target)?;
    Ok((writer.next - 1).unsigned_abs())
}

/// A segment with a name: way, name, reference, id, length and geometry.
type NamedSegment = (i64, Option<String>, Option<String>, i64, f64, Vec<u8>);

/// Rows on their way to the table.
struct NameWriter<'a> {
    connection: &'a Connection,
    target: &'a Target,
    rows: Batch<NameRow>,
    next: i64,
}

/// A piece of a road while its segments are read.
#[derive(Default)]
struct NamedPiece {
    way_id: i64,
    name: Option<String>,
    reference: Option<String>,
    length_m: f64,
    /// Segments: id, length and the middle of the line.
    segments: Vec<(i64, f64, Position)>,
}

impl NameWriter<'_> {
    fn failed(&self, e: &rusqlite::Error) -> Error {
        cannot_write(self.target.path(), e)
    }
    fn wrong(&self, fact: &str) -> Error {
        Error::failed(format!("names of {}", self.target.path().display()), fact, super::trouble::REPORT)
    }
    /// Hands out the rows of a query.
    fn each(&self, sql: &str, mut take: impl FnMut(&SqlRow<'_>) -> Result<()>) -> Result<()> {
        let mut statement = self.connection.prepare(sql).map_err(|e| self.failed(&e))?;
        let mut rows = statement.query([]).map_err(|e| self.failed(&e))?;
        while let Some(row) = rows.next().map_err(|e| self.failed(&e))? {
            take(row)?;
        }
        Ok(())
    }
    fn places(&self) -> Result<Vec<PlaceRow>> {
        let mut found = Vec::new();
        self.each(&PlaceRow::TABLE.select_sql("ORDER BY fid"), |row| {
            found.push(PlaceRow::load(row).map_err(|fact| self.wrong(&fact))?);
            Ok(())
        })?;
        Ok(found)
    }
    /// Adds a row, unless its name has nothing that can be typed.
    fn push(&mut self, row: NameRow) -> Result<()> {
        if row.folded.is_empty() || row.folded.len() > MOST_BYTES {
            return Ok(());
        }
        let row = NameRow { name_id: self.next, ..row };
        self.next += 1;
        self.rows.push(&row, self.connection, self.target)
    }
    /// Places, each once more by its English name where that is spelt otherwise.
    fn name_places(&mut self, places: &KnownPlaces) -> Result<()> {
        for place in places.all() {
            let near_id = places.near_larger(place).map(|known| known.place.place_id);
            let own = folded(&place.name);
            let english = place.name_en.as_ref().filter(|name| folded(name) != own);
            for name in [&place.name].into_iter().chain(english) {
                let (lat_deg, lon_deg) = (place.at.lat_deg(), place.at.lon_deg());
                let (kind, row_id) = (NameKind::from(place.kind), place.place_id);
                let (name, folded) = (name.clone(), folded(name));
                self.push(NameRow { name, folded, kind, row_id, near_id, lat_deg, lon_deg, ..NameRow::default() })?;
            }
        }
        Ok(())
    }
    fn name_stops(&mut self, places: &KnownPlaces) -> Result<()> {
        let mut found = Vec::new();
        self.each("SELECT stop_id, name, geom FROM stops WHERE name IS NOT NULL ORDER BY fid", |row| {
            let read = || Ok((row.get(0)?, row.get(1)?, row.get(2)?));
            let (id, name, geom): (i64, String, Vec<u8>) = read().map_err(|e| self.failed(&e))?;
            found.push((id, name, decode_point(&geom).map_err(|fact| self.wrong(&fact))?));
            Ok(())
        })?;
        for (row_id, name, at) in found {
            let near_id = places.near(at).map(|known| known.place.place_id);
            let (lat_deg, lon_deg, folded) = (at.lat_deg(), at.lon_deg(), folded(&name));
            let kind = NameKind::Stop;
            self.push(NameRow { name, folded, kind, row_id, near_id, lat_deg, lon_deg, ..NameRow::default() })?;
        }
        Ok(())
    }
    /// Cuts named roads to pieces, each of one way, and notes the place that each is known by.
    fn cut_roads(&self, places: &KnownPlaces) -> Result<()> {
        self.connection.execute_batch(PIECES_SQL).map_err(|e| self.failed(&e))?;
        let mut piece = NamedPiece::default();
        let sql = "SELECT way_id, name, ref, segment_id, length_m, geom FROM segments \
                   WHERE name IS NOT NULL OR ref IS NOT NULL ORDER BY fid";
        self.each(sql, |row| {
            let read = || Ok((row.get(0)?, row.get(1)?, row.get(2)?, row.get(3)?, row.get(4)?, row.get(5)?));
            let read: rusqlite::Result<NamedSegment> = read();
            let (way_id, name, reference, segment_id, length_m, geom) = read.map_err(|e| self.failed(&e))?;
            let line = decode_line(&geom).map_err(|fact| self.wrong(&fact))?;
            let goes_on = way_id == piece.way_id && name == piece.name && reference == piece.reference;
            if !goes_on || piece.length_m + length_m > MOST_PIECE_M {
                self.keep(&piece, places)?;
                piece = NamedPiece { way_id, name, reference, ..NamedPiece::default() };
            }
            piece.length_m += length_m;
            piece.segments.push((segment_id, length_m, line[line.len() / 2]));
            Ok(())
        })?;
        self.keep(&piece, places)
    }
    /// Keeps a piece under each of its names.
    fn keep(&self, piece: &NamedPiece, places: &KnownPlaces) -> Result<()> {
        let Some((segment_id, at)) = piece.middle() else { return Ok(()) };
        let known = places.near(at);
        // Far from every place the district stands for one.
        let square = known.as_ref().map_or_else(|| District::of(at).to_string(), |_| String::new());
        let (near, away_m) = known.map_or((None, 0.0), |k| (Some(k.place.place_id), distance_m(k.place.at, at)));
        let sql = "INSERT INTO temp.road_pieces VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)";
        let mut insert = self.connection.prepare_cached(sql).map_err(|e| self.failed(&e))?;
        for name in piece.names() {
            let (folded, length_m) = (folded(name), piece.length_m);
            let row = params![folded, name, near, square, away_m, segment_id, length_m, at.lon_e7, at.lat_e7];
            insert.execute(row).map_err(|e| self.failed(&e))?;
        }
        Ok(())
    }
    /// One row for each spelling and place: its piece nearest to the place stands for it.
    fn name_roads(&mut self) -> Result<()> {
        let sql = "SELECT folded, name, near, square, segment, length_m, lon, lat FROM temp.road_pieces \
                   ORDER BY folded, near, square, away_m, segment";
        let connection = self.connection;
        let failed = |e: rusqlite::Error| cannot_write(self.target.path(), &e);
        let mut statement = connection.prepare(sql).map_err(failed)?;
        let mut rows = statement.query([]).map_err(failed)?;
        let mut open: Option<(NameRow, String)> = None;
        while let Some(row) = rows.next().map_err(|e| self.failed(&e))? {
            let (found, square) = piece_row(row).map_err(|e| self.failed(&e))?;
            match &mut open {
                Some((first, of))
                    if (&first.folded, first.near_id, &*of) == (&found.folded, found.near_id, &square) =>
                {
                    first.length_m = first.length_m.zip(found.length_m).map(|(a, b)| a + b);
                }
                _ => {
                    if let Some((done, _)) = open.replace((found, square)) {
                        self.push(done)?;
                    }
                }
            }
        }
        open.map_or(Ok(()), |(done, _)| self.push(done))?;
        drop(rows);
        drop(statement);
        connection.execute_batch("DROP TABLE temp.road_pieces").map_err(|e| self.failed(&e))
    }
}

/// A piece as a row, and the square it lies in where it is near no place.
fn piece_row(row: &SqlRow<'_>) -> rusqlite::Result<(NameRow, String)> {
    let at = Position { lon_e7: row.get(6)?, lat_e7: row.get(7)? };
    let found = NameRow {
        folded: row.get(0)?,
        name: row.get(1)?,
        kind: NameKind::Road,
        near_id: row.get(2)?,
        row_id: row.get(4)?,
        length_m: Some(row.get(5)?),
        lat_deg: at.lat_deg(),
        lon_deg: at.lon_deg(),
        ..NameRow::default()
    };
    Ok((found, row.get(3)?))
}

impl NamedPiece {
    /// Its name, and its references: several stand in one text with semicolons. Each spelling once.
    fn names(&self) -> Vec<&str> {
        let references = self.reference.iter().flat_map(|all| all.split(';')).map(str::trim);
        let mut names: Vec<&str> = self.name.as_deref().into_iter().chain(references).collect();
        let mut known = Vec::new();
        names.retain(|name| {
            let spelling = folded(name);
            let is_new = !known.contains(&spelling);
            known.push(spelling);
            is_new
        });
        names
    }
    /// The segment in its middle, and the middle of that.
    fn middle(&self) -> Option<(i64, Position)> {
        let mut before_m = 0.0;
        let reaches = |(_, length_m, _): &&(i64, f64, Position)| {
            before_m += length_m;
            before_m >= self.length_m / 2.0
        };
        let found = self.segments.iter().find(reaches).or(self.segments.last())?;
        Some((found.0, found.2))
    }
}
