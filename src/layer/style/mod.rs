//! Styles that travel inside the layer, in the table `layer_styles` that GIS viewers read: one for each table with geometry, so
//! that no viewer draws one in a colour of its own choice, and others for segments to switch to.
//!
//! What is drawn how is told once, in [`look`]; [`qml`] and [`sld`] write it down: the QML of QGIS 3.22 and later, and OGC
//! 02-070 (SLD 1.0) with filters of OGC 02-059, for servers and other viewers. Colours of ratings are those of
//! [`crate::base::ramp`], which names their source. Sizes are millimetres on paper or screen, so that a map printed at 300 dots
//! per inch looks as it does on a screen.
mod backdrop;
mod classes;
mod legend;
mod look;
mod points;
mod qml;
mod segments;
mod sld;

use rusqlite::{Connection, params};

pub use classes::{GroupLook, RoadGroup, WIDTH_BY_SCALE};
pub(crate) use legend::rating as rating_words;
pub use points::{SEES_ALL, SEES_HALF};
pub use segments::{COVERED_FROM, rating_width_mm};

use super::container;
use super::schema::GEOMETRY;
use crate::profile::RatingEdges;
use look::Style;

const TABLE_SQL: &str = "CREATE TABLE layer_styles (
  id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
  f_table_catalog TEXT(256), f_table_schema TEXT(256), f_table_name TEXT(256), f_geometry_column TEXT(256),
  styleName TEXT(30), styleQML TEXT, styleSLD TEXT, useAsDefault BOOLEAN,
  description TEXT, owner TEXT(30), ui TEXT(30),
  update_time DATETIME DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ','now')))";

/// Writes the styles; their legends name the edges between ratings that the layer was built with. `date` is that of the map
/// data.
pub fn write(connection: &Connection, edges: &RatingEdges, date: &str) -> rusqlite::Result<()> {
    connection.execute_batch(TABLE_SQL)?;
    container::register(connection, "layer_styles", "Styles for GIS viewers", false)?;
    connection.execute("UPDATE gpkg_contents SET last_change = ? WHERE table_name = 'layer_styles'", [date])?;
    for style in all(edges) {
        connection.execute(
            "INSERT INTO layer_styles (f_table_catalog, f_table_schema, f_table_name, f_geometry_column, styleName,
             styleQML, styleSLD, useAsDefault, description, owner, update_time) VALUES ('', '', ?, ?, ?, ?, ?, ?, ?, '', ?)",
            params![
                style.table,
                GEOMETRY,
                style.name,
                qml::document(&style),
                sld::document(&style),
                style.default,
                style.title,
                date
            ],
        )?;
    }
    Ok(())
}

fn all(edges: &RatingEdges) -> Vec<Style> {
    vec![
        segments::rating(edges),
        segments::worst(),
        segments::evidence(),
        segments::outages(edges),
        points::overheads(),
        points::stops(),
        points::nodes(),
        backdrop::places(),
        backdrop::ground(),
        backdrop::ground_lines(),
    ]
}
