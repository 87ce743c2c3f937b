//! The empty layer: a GeoPackage made by GDAL with our tables in it, R-trees and triggers included.
//!
//! GDAL makes the parts that the standard prescribes to the letter (coordinate systems, contents,
//! R-tree with its triggers); the tables are ours, so that columns are NOT NULL and boolean where they should be.
use std::path::Path;
use std::sync::Once;

use gdal::vector::LayerAccess;
use gdal::vector::sql::Dialect;
use gdal::{Dataset, DatasetOptions, DriverManager, GdalOpenFlags};
use rusqlite::{Connection, OpenFlags, params};

use super::fixed::{NO_TIME, SRS_ID};
use super::schema::{GEOMETRY, Table};
use super::trouble::StepFailure;

/// Keeps GDAL's own chatter off the terminal (failures arrive as errors) and fixes the moment it writes. Both hold for the
/// process.
fn set_up_gdal() -> Result<(), StepFailure> {
    static ONCE: Once = Once::new();
    let mut result = Ok(());
    ONCE.call_once(|| {
        gdal::config::set_error_handler(|_, _, _| {});
        result = gdal::config::set_config_option("OGR_CURRENT_DATE", NO_TIME);
    });
    Ok(result?)
}

/// Creates the empty layer with some tables.
pub fn create(temporary: &Path, tables: &[Table]) -> Result<(), StepFailure> {
    set_up_gdal()?;
    let driver = DriverManager::get_driver_by_name("GPKG")?;
    driver.create_vector_only(temporary).and_then(Dataset::close)?;
    create_tables(temporary, tables)?;
    create_rtrees(temporary, tables)
}

/// Opens the temporary file for writing. Nothing is kept for a crash: an unfinished file is thrown away.
pub fn open(temporary: &Path) -> rusqlite::Result<Connection> {
    // Without the URI flag: a folder may be called `file:something`.
    let connection =
        Connection::open_with_flags(temporary, OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX)?;
    connection.execute_batch(
        "PRAGMA journal_mode=OFF; PRAGMA synchronous=OFF; PRAGMA locking_mode=EXCLUSIVE; PRAGMA cache_size=-65536",
    )?;
    Ok(connection)
}

fn create_tables(temporary: &Path, tables: &[Table]) -> rusqlite::Result<()> {
    let mut connection = open(temporary)?;
    let transaction = connection.transaction()?;
    for table in tables {
        transaction.execute_batch(&table.create_sql())?;
        register(&transaction, table.name, table.title, table.geometry.is_some())?;
        if let Some(kind) = table.geometry {
            transaction.execute(
                "INSERT INTO gpkg_geometry_columns (table_name, column_name, geometry_type_name, srs_id, z, m) VALUES (?, ?, ?, ?, 0, 0)",
                params![table.name, GEOMETRY, kind, SRS_ID],
            )?;
        }
    }
    transaction.commit()
}

/// Enters a table into the contents.
pub(crate) fn register(connection: &Connection, table: &str, title: &str, features: bool) -> rusqlite::Result<()> {
    let (data_type, srs_id) = if features { ("features", Some(SRS_ID)) } else { ("attributes", None) };
    connection.execute(
        "INSERT INTO gpkg_contents (table_name, data_type, identifier, description, last_change, srs_id) VALUES (?, ?, ?, '', ?, ?)",
        params![table, data_type, title, NO_TIME, srs_id],
    )?;
    Ok(())
}

fn create_rtrees(temporary: &Path, tables: &[Table]) -> Result<(), StepFailure> {
    let open_flags = GdalOpenFlags::GDAL_OF_UPDATE | GdalOpenFlags::GDAL_OF_VECTOR;
    let dataset = Dataset::open_ex(temporary, DatasetOptions { open_flags, ..Default::default() })?;
    for table in tables.iter().filter(|t| t.geometry.is_some()) {
        let sql = format!("SELECT CreateSpatialIndex('{}', '{GEOMETRY}')", table.name);
        let mut answer = dataset.execute_sql(sql, None, Dialect::DEFAULT)?;
        let done = answer.as_mut().and_then(|rows| rows.features().next()?.field_as_integer(0).ok()?);
        if done != Some(1) {
            return Err(StepFailure::Answer("GDAL made no R-tree"));
        }
    }
    Ok(dataset.close()?)
}

/// Enters how many rows each table has where GDAL and what builds on it look for it, with the triggers by which GDAL keeps
/// the numbers true when others edit the layer: names and forms are those of its GPKG driver, which drops and makes them anew
/// by name. Some readers take a table without such a number for one of unknown size and read it wrongly.
pub(crate) fn count_rows(connection: &Connection) -> rusqlite::Result<()> {
    let mut statement = connection.prepare("SELECT table_name FROM gpkg_contents ORDER BY table_name")?;
    let tables = statement.query_map([], |r| r.get::<_, String>(0))?.collect::<Result<Vec<_>, _>>()?;
    for table in tables {
        let trigger = |event: &str, sign: char| {
            format!(
                "CREATE TRIGGER \"trigger_{}_feature_count_{table}\" AFTER {event} ON \"{table}\" BEGIN UPDATE gpkg_ogr_contents \
                 SET feature_count = feature_count {sign} 1 WHERE lower(table_name) = lower('{table}'); END;",
                event.to_lowercase()
            )
        };
        connection.execute_batch(&format!(
            "INSERT INTO gpkg_ogr_contents (table_name, feature_count) SELECT '{table}', count(*) FROM \"{table}\"; {} {}",
            trigger("INSERT", '+'),
            trigger("DELETE", '-')
        ))?;
    }
    Ok(())
}

/// Name of the R-tree of a table (OGC 12-128r18, annex F.3).
pub(crate) fn rtree_name(table: &Table) -> String {
    format!("rtree_{}_{GEOMETRY}", table.name)
}
