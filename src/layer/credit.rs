//! Who made the data: the credit line in the contents and as a metadata document, and the build record.
//!
//! Sources: OGC 12-128r18 annex F.8 (metadata extension); Dublin Core elements 1.1 (`rights`, `source`).
use std::collections::BTreeSet;

use rusqlite::{Connection, params};
use serde_json::{Map, Value};

use super::model::BuildRecord;
use super::{FIXED_TIME, SCHEMA_VERSION, container};
use crate::base::markup::escape;

/// Name of the table of the build record.
pub const RECORD_TABLE: &str = "build_record";
/// Namespace of the metadata document.
const DUBLIN_CORE: &str = "http://purl.org/dc/elements/1.1/";

/// Tables of the metadata extension.
const METADATA_SQL: &str = "
CREATE TABLE gpkg_metadata (
  id INTEGER CONSTRAINT m_pk PRIMARY KEY ASC AUTOINCREMENT NOT NULL,
  md_scope TEXT NOT NULL DEFAULT 'dataset',
  md_standard_uri TEXT NOT NULL,
  mime_type TEXT NOT NULL DEFAULT 'text/xml',
  metadata TEXT NOT NULL DEFAULT '');
CREATE TABLE gpkg_metadata_reference (
  reference_scope TEXT NOT NULL,
  table_name TEXT,
  column_name TEXT,
  row_id_value INTEGER,
  timestamp DATETIME NOT NULL DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ','now')),
  md_file_id INTEGER NOT NULL,
  md_parent_id INTEGER,
  CONSTRAINT crmr_mfi_fk FOREIGN KEY (md_file_id) REFERENCES gpkg_metadata(id),
  CONSTRAINT crmr_mpi_fk FOREIGN KEY (md_parent_id) REFERENCES gpkg_metadata(id));
INSERT INTO gpkg_extensions (table_name, column_name, extension_name, definition, scope) VALUES
  ('gpkg_metadata', NULL, 'gpkg_metadata', 'http://www.geopackage.org/spec120/#extension_metadata', 'read-write'),
  ('gpkg_metadata_reference', NULL, 'gpkg_metadata', 'http://www.geopackage.org/spec120/#extension_metadata', 'read-write');
";

/// Every credit the inputs ask for, once, in one line; empty without any.
pub fn credit_line(record: &BuildRecord) -> String {
    let credits: BTreeSet<&str> = record.inputs.iter().filter_map(|i| i.attribution.as_deref()).collect();
    credits.into_iter().collect::<Vec<_>>().join("; ").replace('\0', "\u{FFFD}")
}

/// Writes the credit line where viewers look for it.
pub fn write_credit(connection: &Connection, record: &BuildRecord) -> rusqlite::Result<()> {
    let credit = credit_line(record);
    connection.execute("UPDATE gpkg_contents SET description = ? WHERE table_name <> 'layer_styles'", [&credit])?;
    connection.execute_batch(METADATA_SQL)?;
    connection.execute(
        "INSERT INTO gpkg_metadata (id, md_scope, md_standard_uri, mime_type, metadata) VALUES (1, 'dataset', ?, 'text/xml', ?)",
        params![DUBLIN_CORE, document(record, &credit)],
    )?;
    let refer =
        "INSERT INTO gpkg_metadata_reference (reference_scope, table_name, timestamp, md_file_id) VALUES (?, ?, ?, 1)";
    connection.execute(refer, params!["geopackage", None::<&str>, FIXED_TIME])?;
    for table in super::schema::TABLES {
        connection.execute(refer, params!["table", table.name, FIXED_TIME])?;
    }
    Ok(())
}

fn document(record: &BuildRecord, credit: &str) -> String {
    let mut xml =
        format!("<metadata xmlns:dc=\"{DUBLIN_CORE}\">\n  <dc:title>Sky and link ratings of roads</dc:title>\n");
    xml += &format!("  <dc:creator>waymask {}</dc:creator>\n", escape(&record.waymask_version));
    xml += &format!("  <dc:rights>{}</dc:rights>\n", escape(credit));
    for input in &record.inputs {
        xml += &format!("  <dc:source>{}</dc:source>\n", escape(&input.name));
    }
    xml + "</metadata>\n"
}

/// Writes the build record: one row per part, as JSON.
pub fn write_record(connection: &Connection, record: &BuildRecord) -> rusqlite::Result<()> {
    connection.execute_batch(&format!(
        "CREATE TABLE {RECORD_TABLE} (record_id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, key TEXT NOT NULL, value TEXT NOT NULL)"
    ))?;
    container::register(connection, RECORD_TABLE, "What the build read, assumed and counted", false)?;
    let insert = format!("INSERT INTO {RECORD_TABLE} (key, value) VALUES (?, ?)");
    let mut statement = connection.prepare(&insert)?;
    for (key, value) in parts(record)? {
        statement.execute([key, value.to_string()])?;
    }
    Ok(())
}

/// The parts, under the version of the tables really written.
fn parts(record: &BuildRecord) -> rusqlite::Result<Map<String, Value>> {
    let record = BuildRecord { schema_version: SCHEMA_VERSION, ..record.clone() };
    let value = serde_json::to_value(record).map_err(|e| rusqlite::Error::ToSqlConversionFailure(Box::new(e)))?;
    match value {
        Value::Object(parts) => Ok(parts),
        other => Err(rusqlite::Error::ToSqlConversionFailure(format!("the build record became {other}").into())),
    }
}
