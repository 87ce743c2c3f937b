//! Columns of the tables that tell of the file as a whole.
use super::limits::{FREE, Told};

pub(super) const BUILD_RECORD: &[Told] = &[
    ("key", FREE, "Part of the record, such as inputs, profile, counts, assumptions or defects"),
    ("value", FREE, "That part, as JSON"),
];

pub(super) const LAYER_STYLES: &[Told] = &[
    ("id", FREE, "Key of the row"),
    ("f_table_catalog", FREE, "Not used"),
    ("f_table_schema", FREE, "Not used"),
    ("f_table_name", FREE, "Table the style is for"),
    ("f_geometry_column", FREE, "Its geometry column"),
    ("styleName", FREE, "Name of the style"),
    ("styleQML", FREE, "The style in QGIS's own format"),
    ("styleSLD", FREE, "The style as a Styled Layer Descriptor"),
    ("useAsDefault", FREE, "Whether viewers use it by default"),
    ("description", FREE, "What it shows"),
    ("owner", FREE, "Not used"),
    ("ui", FREE, "Not used"),
    ("update_time", FREE, "Date of the map data"),
];
