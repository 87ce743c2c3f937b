//! Opens a layer as what it may be: a file from anywhere.
//!
//! Before SQLite sees it, the first bytes must be those of a GeoPackage. It is then opened to be read, without views,
//! triggers and functions of its schema, with a bound on lengths. The tables must be plain ones whose columns are stored, with
//! the indexes by which they are asked. Then comes the version of the schema, then the rest of the record.
use std::io::Read;
use std::path::Path;

use rusqlite::config::DbConfig;
use rusqlite::limits::Limit;
use rusqlite::{Connection, OpenFlags, OptionalExtension};
use serde_json::{Map, Value};

use super::credit::RECORD_TABLE;
use super::fixed::{LONGEST_BYTES, SCHEMA_VERSION, SQLITE};
use super::model::BuildRecord;
use super::part::PART_TABLE;
use super::schema::{GEOMETRY, TABLES, Table};
use super::target::{JOURNAL, beside};
use super::tree::node_table;
use super::trouble::{REBUILD, cannot_read, damaged, is_in_wal_mode};
use crate::base::error::{Error, Result};
use crate::base::foreign::foreign;
use crate::base::input;
use crate::profile::source;

/// `GPKG`, at offset 68 of the file (OGC 12-128r18, requirement 2).
const APPLICATION_ID: &[u8] = b"GPKG";
/// Versions of GeoPackage, at offset 60: 1.2 to 1.4 and what is mended in them.
const VERSIONS: std::ops::RangeInclusive<u32> = 10_200..=10_499;
/// Bytes of the header of an SQLite file.
const HEADER: usize = 100;
/// Tables of which the record tells how many rows were written.
const COUNTED: [&str; 9] =
    ["segments", "edges", "overheads", "stops", "places", "ground", "ground_lines", "outages", "names"];
/// Most parts of a record; this version writes twelve.
const MOST_PARTS: usize = 100;
/// Most kilometres of road that a record may tell of.
const MOST_KM: f64 = 1e9;

/// What is said of anything that is not a layer.
const GIVE: &str = "give the path of a layer written by `waymask build`";

/// A layer that may be asked.
pub(super) struct OpenedLayer {
    pub(super) connection: Connection,
    pub(super) record: BuildRecord,
    /// Size of the file.
    pub(super) bytes: u64,
}

/// Opens a layer.
///
/// # Errors
/// It is not a layer, one of another version, or one that cannot be trusted.
pub(super) fn open(path: &Path) -> Result<OpenedLayer> {
    let bytes = check_header(path)?;
    let connection = connect(path).map_err(|e| cannot_read(path, None, &e))?;
    check_table(&connection, path, RECORD_TABLE)?;
    check_whole(&connection, path)?;
    let parts = record_parts(&connection, path)?;
    check_version(&parts, path)?;
    for table in &TABLES {
        check_table(&connection, path, table.name)?;
        check_columns(&connection, path, table)?;
        check_indexes(&connection, path, table)?;
        if table.geometry.is_some() {
            check_table(&connection, path, &node_table(table))?;
        }
    }
    let record = understood(parts, path)?;
    check_record(&record).map_err(|fact| damaged(path, &format!("table {RECORD_TABLE}: {fact}")))?;
    check_counts(&connection, path, &record)?;
    Ok(OpenedLayer { connection, record, bytes })
}

/// A part of a build is a layer but for a table that tells how to join it.
fn check_whole(connection: &Connection, path: &Path) -> Result<()> {
    let sql = "SELECT count(*) FROM sqlite_master WHERE name = ?";
    let found = connection.query_row(sql, [PART_TABLE], |r| r.get::<_, i64>(0));
    match found.map_err(|e| cannot_read(path, None, &e))? {
        0 => Ok(()),
        _ => Err(Error::file(
            path,
            "is a part of a build, not a layer",
            "join the parts of its folder with `waymask merge FOLDER`",
        )),
    }
}

/// Looks at the first bytes; the size of the file.
fn check_header(path: &Path) -> Result<u64> {
    let told = |e: std::io::Error| input::cannot_read(path, &e, GIVE);
    let file = std::fs::metadata(path).map_err(told)?;
    if file.is_dir() {
        return Err(told(std::io::ErrorKind::IsADirectory.into()));
    }
    if !file.is_file() {
        return Err(Error::file(path, "is a pipe or device, not a file: a layer cannot be read as a stream", GIVE));
    }
    let mut header = Vec::with_capacity(HEADER);
    let opened = std::fs::File::open(path).map_err(told)?;
    opened.take(HEADER as u64).read_to_end(&mut header).map_err(told)?;
    if header.len() < HEADER || !header.starts_with(SQLITE) {
        return Err(no_layer(path, "not a GeoPackage"));
    }
    if header[68..72] != *APPLICATION_ID {
        return Err(no_layer(path, "an SQLite file, but not a GeoPackage"));
    }
    let version = u32::from_be_bytes([header[60], header[61], header[62], header[63]]);
    if !VERSIONS.contains(&version) {
        let (first, last) = (VERSIONS.start(), VERSIONS.end());
        return Err(no_layer(
            path,
            &format!("a GeoPackage of version {version}; this program reads versions {first} to {last}"),
        ));
    }
    Ok(file.len())
}

/// A connection that reads and does nothing else. A file in WAL mode is opened as for writing, so that what SQLite puts
/// beside it goes when it is closed: left there, it would look as if a program still had it open. Never one with a journal:
/// taking back a change that was broken off, SQLite deletes a file that the journal names, whichever that is.
fn connect(path: &Path) -> rusqlite::Result<Connection> {
    let file = std::fs::canonicalize(path).unwrap_or_else(|_| path.to_owned());
    let tidied = is_in_wal_mode(path) && !beside(&file, JOURNAL).exists();
    let access = if tidied { OpenFlags::SQLITE_OPEN_READ_WRITE } else { OpenFlags::SQLITE_OPEN_READ_ONLY };
    // By its whole path: some builds of SQLite read `file:name` as an address, and the file may be called so.
    let connection = Connection::open_with_flags(&file, access | OpenFlags::SQLITE_OPEN_NO_MUTEX)?;
    connection.set_db_config(DbConfig::SQLITE_DBCONFIG_DEFENSIVE, true)?;
    for off in [
        DbConfig::SQLITE_DBCONFIG_TRUSTED_SCHEMA,
        DbConfig::SQLITE_DBCONFIG_ENABLE_TRIGGER,
        DbConfig::SQLITE_DBCONFIG_ENABLE_VIEW,
        DbConfig::SQLITE_DBCONFIG_WRITABLE_SCHEMA,
    ] {
        connection.set_db_config(off, false)?;
    }
    connection.set_limit(Limit::SQLITE_LIMIT_LENGTH, LONGEST_BYTES)?;
    connection.set_limit(Limit::SQLITE_LIMIT_ATTACHED, 0)?;
    connection.execute_batch("PRAGMA query_only=ON; PRAGMA cell_size_check=ON; PRAGMA mmap_size=0")?;
    Ok(connection)
}

/// A table must be there, and be a plain one whose columns are all stored.
fn check_table(connection: &Connection, path: &Path, name: &str) -> Result<()> {
    let told = |e: rusqlite::Error| cannot_read(path, None, &e);
    let sql = "SELECT type, coalesce(sql, '') FROM sqlite_master WHERE name = ? ORDER BY type = 'table' DESC";
    let kind = connection.query_row(sql, [name], |r| Ok((r.get::<_, String>(0)?, r.get::<_, String>(1)?)));
    let Some((kind, made_by)) = kind.optional().map_err(told)? else {
        return Err(match name {
            RECORD_TABLE => no_layer(path, "a GeoPackage without a build record"),
            _ => damaged(path, &format!("table {name} is missing")),
        });
    };
    let plain = made_by.get(..13).is_some_and(|begin| begin.eq_ignore_ascii_case("CREATE TABLE "));
    if kind != "table" || !plain {
        let kind = if kind == "table" { "virtual table" } else { kind.as_str() };
        let fact = format!("{name} is a {kind} where a layer has a table");
        return Err(no_layer(path, &fact));
    }
    let sql = "SELECT count(*) FROM pragma_table_xinfo(?) WHERE hidden <> 0";
    match connection.query_row(sql, [name], |r| r.get::<_, i64>(0)).map_err(told)? {
        0 => Ok(()),
        _ => Err(no_layer(path, &format!("table {name} has computed columns"))),
    }
}

/// Every column is there under its name, whatever is asked: an editor may have renamed or removed one.
fn check_columns(connection: &Connection, path: &Path, table: &Table) -> Result<()> {
    let told = |e: rusqlite::Error| cannot_read(path, None, &e);
    let mut statement = connection.prepare_cached("SELECT name FROM pragma_table_info(?)").map_err(told)?;
    let found = statement.query_map([table.name], |r| r.get::<_, String>(0)).map_err(told)?;
    let found = found.collect::<rusqlite::Result<Vec<_>>>().map_err(told)?;
    let wanted = table.geometry.map(|_| GEOMETRY).into_iter().chain([table.id]);
    let gone = |column: &&str| !found.iter().any(|name| name.eq_ignore_ascii_case(column));
    match wanted.chain(table.columns.iter().map(|column| column.name)).find(gone) {
        None => Ok(()),
        Some(column) => Err(Error::file(
            path,
            format!("cannot be read as a layer: table {} has no column {column}", table.name),
            "give the column its name back if it was renamed; if it was removed, build the layer again",
        )),
    }
}

/// Rows that were deleted would be roads that nobody drives and time without a link that nobody adds up.
fn check_counts(connection: &Connection, path: &Path, record: &BuildRecord) -> Result<()> {
    for table in COUNTED {
        // Counts are named in words.
        let Some(wrote) = record.counts.get(&table.replace('_', " ")) else { continue };
        let sql = format!("SELECT count(*) FROM {table}");
        let rows = connection.query_row(&sql, [], |r| r.get::<_, i64>(0));
        let rows = rows.map_err(|e| cannot_read(path, Some(table), &e))?;
        if u64::try_from(rows) != Ok(*wrote) {
            return Err(Error::file(
                path,
                format!("cannot be read as a layer: table {table} has {rows} rows, but {wrote} were written"),
                "give the layer as it was written, or build it again; to ask a part, build one with \
                 `waymask build --bounds`",
            ));
        }
    }
    Ok(())
}

/// Every column by which rows are asked for begins an index. Without, a question walks through the whole table, and through
/// one whose pages name each other without end.
fn check_indexes(connection: &Connection, path: &Path, table: &Table) -> Result<()> {
    let told = |e: rusqlite::Error| cannot_read(path, None, &e);
    let sql =
        "SELECT i.name FROM pragma_index_list(?) l, pragma_index_info(l.name) i WHERE i.seqno = 0 AND NOT l.partial";
    let mut statement = connection.prepare_cached(sql).map_err(told)?;
    let found = statement.query_map([table.name], |r| r.get::<_, Option<String>>(0)).map_err(told)?;
    let found = found.collect::<rusqlite::Result<Vec<_>>>().map_err(told)?;
    let gone = |column: &&&str| !found.iter().flatten().any(|name| name == **column);
    match [table.id].iter().chain(table.indexed).find(gone) {
        None => Ok(()),
        Some(column) => {
            let fact =
                format!("table {} has lost its index on {column}, as happens when a file is converted", table.name);
            Err(damaged(path, &fact))
        }
    }
}

/// Keys and values of the record, as stored.
fn record_parts(connection: &Connection, path: &Path) -> Result<Vec<(String, String)>> {
    let broken = |fact: String| damaged(path, &format!("table {RECORD_TABLE}: {fact}"));
    let sql = format!("SELECT key, value FROM {RECORD_TABLE}");
    let told = |e: rusqlite::Error| cannot_read(path, Some(RECORD_TABLE), &e);
    let mut statement = connection.prepare(&sql).map_err(told)?;
    let rows = statement.query_map([], |r| Ok((r.get::<_, String>(0)?, r.get::<_, String>(1)?)));
    let mut parts: Vec<(String, String)> = Vec::new();
    for row in rows.map_err(told)? {
        let (key, value) = row.map_err(told)?;
        if parts.iter().any(|(known, _)| *known == key) {
            return Err(broken("holds a part twice".to_owned()));
        }
        if parts.len() == MOST_PARTS {
            return Err(broken(format!("holds more than {MOST_PARTS} parts")));
        }
        parts.push((key, value));
    }
    Ok(parts)
}

/// Before the record is understood as a whole, and before the tables: those of another version may be others.
fn check_version(parts: &[(String, String)], path: &Path) -> Result<()> {
    let stored = parts.iter().find(|(key, _)| key == "schema_version").map(|(_, value)| value.parse::<u64>());
    match stored {
        None if parts.is_empty() => Err(Error::file(
            path,
            "cannot be read as a layer: its build record is empty, as when a part of the layer was cut out or filtered",
            "give the whole layer, or build a part of the map with `waymask build --bounds`",
        )),
        None => Err(damaged(path, "its record does not give a schema version")),
        Some(Err(_)) => Err(damaged(path, &format!("table {RECORD_TABLE}: schema_version is not a whole number"))),
        Some(Ok(version)) if version > u64::from(SCHEMA_VERSION) => Err(Error::file(
            path,
            format!("was written by a newer waymask (schema {version}, this one reads up to {SCHEMA_VERSION})"),
            "use the newer waymask, or build it again with this one",
        )),
        Some(Ok(version)) if version < u64::from(SCHEMA_VERSION) => Err(Error::file(
            path,
            format!("was written by an older waymask (schema {version}, this one reads {SCHEMA_VERSION})"),
            REBUILD,
        )),
        Some(Ok(_)) => Ok(()),
    }
}

fn understood(parts: Vec<(String, String)>, path: &Path) -> Result<BuildRecord> {
    let value = |(key, text): (String, String)| Ok((key, serde_json::from_str(&text)?));
    let read = foreign("build records", || {
        let parts = parts.into_iter().map(value).collect::<serde_json::Result<Map<String, Value>>>()?;
        serde_json::from_value(Value::Object(parts))
    });
    let record = read.map_err(|broken| damaged(path, &broken.to_string()))?;
    record.map_err(|e| damaged(path, &format!("table {RECORD_TABLE}: {e}")))
}

/// What a record may say: the profile keeps to the ranges of its keys, as every profile that is read.
fn check_record(record: &BuildRecord) -> Result<(), String> {
    if !(0.0..90.0).contains(&record.mask_floor_deg) {
        return Err(format!("mask_floor_deg {:e} is not from 0 to 90", record.mask_floor_deg));
    }
    let maps = [&record.km_by_rating, &record.km_by_cause, &record.km_by_evidence, &record.km_by_side];
    if let Some((name, km)) = maps.into_iter().flatten().find(|(_, km)| !(0.0..=MOST_KM).contains(*km)) {
        return Err(format!("{km:e} km of {name} are not from 0 to {MOST_KM:e}"));
    }
    source::allowed(&record.profile)
}

fn no_layer(path: &Path, fact: &str) -> Error {
    Error::file(path, format!("is not a waymask layer: {fact}"), GIVE)
}
