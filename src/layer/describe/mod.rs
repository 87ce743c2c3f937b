//! What every column holds, inside the file: the schema extension of GeoPackage.
//!
//! A description with its unit for each column of each table; ranges and sets of words as constraints, which GIS viewers
//! show as choices. Source: OGC 12-128r18 annex F.9. The reader holds every row to the same ranges (see `checked.rs`), so
//! that figures whose nature sets only one end (a length is not negative) have a second one far beyond what exists.
mod about_file;
mod backdrop;
mod columns;
mod limits;

use std::collections::BTreeSet;

use rusqlite::{Connection, params};

use columns::{SHARED, TABLES};
pub(super) use limits::Range;
use limits::{Limit, Told, WordSet};

/// Speeds that roads are driven at, km/h.
pub(super) const DRIVEN_KMH: Range = of(limits::SPEED);
/// Lengths of segments, metres.
pub(super) const SEGMENT_M: Range = of(limits::SEGMENT_LENGTH);
/// Farthest place for a panel, metres.
pub(super) const PANEL_REACH_M: f64 = of(limits::PANEL_DISTANCE).max;

/// The range of a limit; nothing is within that of one that is none.
const fn of(limit: Limit) -> Range {
    match limit {
        Limit::Range(range) => range,
        _ => Range { name: "", min: f64::INFINITY, max: f64::NEG_INFINITY },
    }
}

/// The range of a column, where it has one.
pub(super) fn range_of(table: &str, column: &str) -> Option<Range> {
    let (_, own) = TABLES.iter().find(|(name, _)| *name == table)?;
    match told(own, column)?.1 {
        Limit::Range(range) => Some(range),
        _ => None,
    }
}

/// Tables of the schema extension.
const TABLES_SQL: &str = "
CREATE TABLE gpkg_data_columns (
  table_name TEXT NOT NULL,
  column_name TEXT NOT NULL,
  name TEXT,
  title TEXT,
  description TEXT,
  mime_type TEXT,
  constraint_name TEXT,
  CONSTRAINT pk_gdc PRIMARY KEY (table_name, column_name),
  CONSTRAINT gdc_tn UNIQUE (table_name, name));
CREATE TABLE gpkg_data_column_constraints (
  constraint_name TEXT NOT NULL,
  constraint_type TEXT NOT NULL,
  value TEXT,
  min NUMERIC,
  min_is_inclusive BOOLEAN,
  max NUMERIC,
  max_is_inclusive BOOLEAN,
  description TEXT,
  CONSTRAINT gdcc_ntv UNIQUE (constraint_name, constraint_type, value));
INSERT INTO gpkg_extensions (table_name, column_name, extension_name, definition, scope) VALUES
  ('gpkg_data_columns', NULL, 'gpkg_schema', 'http://www.geopackage.org/spec121/#extension_schema', 'read-write'),
  ('gpkg_data_column_constraints', NULL, 'gpkg_schema', 'http://www.geopackage.org/spec121/#extension_schema', 'read-write');
";

impl Limit {
    /// Name of its constraint.
    fn name(self) -> Option<&'static str> {
        match self {
            Self::Free => None,
            Self::Range(range) => Some(range.name),
            Self::Words(words) => Some(words.name),
        }
    }
}

/// Writes descriptions and constraints of all columns that are in the file.
pub fn write(connection: &Connection) -> rusqlite::Result<()> {
    connection.execute_batch(TABLES_SQL)?;
    let mut written = BTreeSet::new();
    for (table, own) in TABLES {
        for column in columns_of(connection, table)? {
            let Some((_, limit, text)) = told(own, &column) else { continue };
            connection.execute(
                "INSERT INTO gpkg_data_columns (table_name, column_name, description, constraint_name) VALUES (?, ?, ?, ?)",
                params![table, column, text, limit.name()],
            )?;
            if limit.name().is_some_and(|name| written.insert(name)) {
                write_limit(connection, *limit)?;
            }
        }
    }
    Ok(())
}

/// Names of the columns of a table, in their order.
fn columns_of(connection: &Connection, table: &str) -> rusqlite::Result<Vec<String>> {
    let mut statement = connection.prepare("SELECT name FROM pragma_table_info(?)")?;
    statement.query_map([table], |r| r.get(0))?.collect()
}

/// What is said of a column.
fn told(own: &'static [Told], column: &str) -> Option<&'static Told> {
    own.iter().chain(SHARED).find(|(name, _, _)| *name == column)
}

fn write_limit(connection: &Connection, limit: Limit) -> rusqlite::Result<()> {
    match limit {
        Limit::Free => Ok(()),
        Limit::Range(Range { name, min, max }) => {
            let sql = "INSERT INTO gpkg_data_column_constraints (constraint_name, constraint_type, min, min_is_inclusive, max, \
                       max_is_inclusive) VALUES (?, 'range', ?, 1, ?, 1)";
            connection.execute(sql, params![name, min, max]).map(drop)
        }
        Limit::Words(WordSet { name, words }) => words().iter().try_for_each(|word| {
            let sql = "INSERT INTO gpkg_data_column_constraints (constraint_name, constraint_type, value) VALUES (?, 'enum', ?)";
            connection.execute(sql, [name, word]).map(drop)
        }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::layer::schema;

    fn all() -> impl Iterator<Item = &'static Told> {
        TABLES.iter().flat_map(|(_, own)| *own).chain(SHARED)
    }

    #[test]
    fn nothing_is_described_that_is_not_there_and_nothing_twice() {
        for table in &schema::TABLES {
            let own = TABLES.iter().find(|(name, _)| *name == table.name).expect("every table is described").1;
            let mut there: Vec<&str> = table.names();
            there.retain(|name| SHARED.iter().all(|(shared, _, _)| shared != name));
            assert_eq!(own.iter().map(|(name, _, _)| *name).collect::<Vec<_>>(), there, "{}", table.name);
        }
    }

    #[test]
    fn a_name_stands_for_one_limit() {
        for (column, limit, _) in all() {
            let same = all().filter(|(_, other, _)| other.name() == limit.name());
            assert!(same.into_iter().all(|(_, other, _)| other == limit), "{column}");
        }
    }

    #[test]
    fn units_of_names_are_said() {
        for (column, _, text) in all() {
            for (ending, unit) in [("_m", "metres"), ("_s", "seconds"), ("_kmh", "km/h"), ("_deg", "degrees")] {
                assert!(!column.ends_with(ending) || text.contains(unit), "{column}: {text}");
            }
        }
    }
}
