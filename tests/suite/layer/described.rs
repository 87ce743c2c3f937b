//! Descriptions and constraints inside the layer.
use std::path::Path;

use rusqlite::Connection;

use crate::build::kit::{Sketch, sample};
use crate::layer::rows;
use crate::layer::viewers::texts;

#[test]
fn no_column_is_without_description() {
    let (_folder, path) = rows::folder();
    rows::write(&path, false, 3).unwrap();
    let without = texts(
        &path,
        "SELECT c.table_name || '.' || i.name FROM gpkg_contents c JOIN pragma_table_info(c.table_name) i
         LEFT JOIN gpkg_data_columns d ON d.table_name = c.table_name AND d.column_name = i.name
         WHERE coalesce(d.description, '') = ''",
    );
    assert_eq!(without, Vec::<String>::new());
    let described = texts(&path, "SELECT table_name || '.' || column_name FROM gpkg_data_columns");
    assert!(described.len() > 130, "{} columns", described.len());
    let registered =
        texts(&path, "SELECT table_name FROM gpkg_extensions WHERE extension_name = 'gpkg_schema' ORDER BY 1");
    assert_eq!(registered, ["gpkg_data_column_constraints", "gpkg_data_columns"]);
}

/// Values outside the constraint of their column, as `table.column: value`.
fn strays(path: &Path) -> Vec<String> {
    let constrained = texts(
        path,
        "SELECT DISTINCT d.table_name || ' ' || d.column_name || ' ' || d.constraint_name || ' ' || c.constraint_type
         FROM gpkg_data_columns d JOIN gpkg_data_column_constraints c USING (constraint_name)",
    );
    assert!(constrained.len() > 30, "{constrained:?}");
    let mut strays = Vec::new();
    for line in constrained {
        let [table, column, constraint, kind]: [&str; 4] =
            line.split(' ').collect::<Vec<_>>().try_into().expect("four words");
        let of = format!("FROM gpkg_data_column_constraints WHERE constraint_name = '{constraint}'");
        let outside = match kind {
            "enum" => format!("{column} NOT IN (SELECT value {of})"),
            "range" => format!("NOT {column} BETWEEN (SELECT min {of}) AND (SELECT max {of})"),
            other => panic!("constraint of kind {other}"),
        };
        let told = format!("'{table}.{column}: ' || {column}");
        strays.extend(texts(path, &format!("SELECT DISTINCT {told} FROM {table} WHERE {outside}")));
    }
    strays
}

#[test]
fn every_value_of_the_island_keeps_to_its_constraint() {
    let mut profile = waymask::profile::Profile::default();
    profile.link.drives = 4;
    let place = Sketch::at(47.0).build_with(profile, |o, _| {
        o.extract = sample("varrow.osm.pbf");
        o.elevation = vec![sample("varrow-elevation.tif")];
        o.canopy = vec![sample("varrow-canopy.tif")];
    });
    assert_eq!(strays(&place.path), Vec::<String>::new());
    // Edges have no R-tree, whose triggers would need the functions of a GIS.
    let spoil = "UPDATE edges SET access = 'maybe' WHERE edge_id = 1; UPDATE edges SET rating = 5 WHERE edge_id = 2";
    Connection::open(&place.path).unwrap().execute_batch(spoil).unwrap();
    assert_eq!(strays(&place.path), ["edges.rating: 5", "edges.access: maybe"]);
}
