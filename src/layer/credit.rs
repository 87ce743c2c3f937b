//! Who made the data: the credit line, and the build record.
use std::collections::BTreeSet;

use rusqlite::Connection;
use serde_json::{Map, Value};

use super::container;
use super::fixed::SCHEMA_VERSION;
use super::model::BuildRecord;

/// Name of the table of the build record.
pub(crate) const RECORD_TABLE: &str = "build_record";

/// Every credit the inputs ask for, once, in one line; empty without any.
pub(crate) fn credit_line(record: &BuildRecord) -> String {
    let credits: BTreeSet<&str> = record.inputs.iter().filter_map(|i| i.attribution.as_deref()).collect();
    credits.into_iter().collect::<Vec<_>>().join("; ").replace('\0', "\u{FFFD}")
}

/// Writes the build record: one row per part, as JSON.
pub(crate) fn write_record(connection: &Connection, record: &BuildRecord) -> rusqlite::Result<()> {
    connection.execute_batch(&format!(
        "CREATE TABLE {RECORD_TABLE} (fid INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, key TEXT NOT NULL, value TEXT NOT NULL)"
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
        other => Err(rusqlite::Error::ToSqlConversionFailure(format!("the build record turned into {other}").into())),
    }
}
