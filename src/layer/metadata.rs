//! Where the layer comes from, as viewers show it: date of the map data, extent, licence, credit.
//!
//! Written three times, since each reader looks in one place only:
//! - the credit as description in the contents (every program shows it),
//! - one document of name and value pairs in the form of GDAL, for the whole file and for each table: `ogrinfo` and what is
//!   built on GDAL list them by name, while any other form is one lump of XML to them,
//! - a document per table in the form of QGIS, the only one its layer properties read: title, rights, licence, date and
//!   extent stand in their own fields there.
//!
//! ISO 19139 is left out: both would show it as text without meaning, at ten times the length.
//! Sources: OGC 12-128r18 annex F.8 (metadata extension); the metadata classes and drivers of both programs.
use rusqlite::{Connection, params};

use super::credit::credit_line;
use super::fixed::{NO_TIME, SRS_ID};
use super::geometry::Bounds;
use super::model::BuildRecord;
use super::schema::Table;
use crate::base::markup::escape;
use crate::base::words::InputRole;

/// Name of the form of GDAL.
const GDAL: &str = "http://gdal.org";
/// Name of the form of QGIS.
const QGIS: &str = "http://mrcc.com/qgis.dtd";

/// Tables of the metadata extension.
const TABLES_SQL: &str = "
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

/// What the documents tell.
struct Facts<'a> {
    record: &'a BuildRecord,
    credit: String,
    /// Of the map data, as the format asks for it; nothing if the extract gives none.
    moment: Option<String>,
    /// Around all rows.
    bounds: Option<Bounds>,
}

/// Writes dates, credit and documents; hands out the date. `extents` are the boxes around the rows of tables.
pub fn write(
    connection: &Connection,
    record: &BuildRecord,
    extents: &[(&str, Option<Bounds>)],
    tables: &[Table],
) -> rusqlite::Result<String> {
    let bounds = extents.iter().filter_map(|(_, bounds)| *bounds).reduce(Bounds::joined);
    let facts = Facts { record, credit: credit_line(record), moment: moment(record), bounds };
    let date = facts.moment.as_deref().unwrap_or(NO_TIME);
    connection.execute("UPDATE gpkg_contents SET last_change = ?", [date])?;
    connection.execute("UPDATE gpkg_contents SET description = ?", [&facts.credit])?;
    connection.execute_batch(TABLES_SQL)?;
    let refer =
        "INSERT INTO gpkg_metadata_reference (reference_scope, table_name, timestamp, md_file_id) VALUES (?, ?, ?, ?)";
    let whole = store(connection, GDAL, &facts.for_gdal())?;
    connection.execute(refer, params!["geopackage", None::<&str>, date, whole])?;
    for table in tables {
        connection.execute(refer, params!["table", table.name, date, whole])?;
        let own = store(connection, QGIS, &facts.for_qgis(table))?;
        connection.execute(refer, params!["table", table.name, date, own])?;
    }
    Ok(date.to_owned())
}

/// Stores a document; its id.
fn store(connection: &Connection, standard: &str, document: &str) -> rusqlite::Result<i64> {
    connection.execute("INSERT INTO gpkg_metadata (md_standard_uri, metadata) VALUES (?, ?)", [standard, document])?;
    Ok(connection.last_insert_rowid())
}

/// Date of the map data in the form of the standard, which has room for four digits of a year.
fn moment(record: &BuildRecord) -> Option<String> {
    let text = record.inputs.iter().find(|i| i.role == InputRole::Extract)?.data_time.as_deref()?;
    let at: jiff::Timestamp = text.parse().ok()?;
    let told = at.strftime("%Y-%m-%dT%H:%M:%S.%3fZ").to_string();
    (told.len() == NO_TIME.len() && !told.starts_with(['-', '+'])).then_some(told)
}

/// The licence a credit names.
fn licence(credit: &str) -> &'static str {
    if credit.contains("ODbL") {
        "Open Database License (ODbL) 1.0, https://opendatacommons.org/licenses/odbl/1-0/"
    } else {
        "as the credit says"
    }
}

impl Facts<'_> {
    fn date(&self) -> &str {
        self.moment.as_deref().unwrap_or("not given by the map extract")
    }
    fn creator(&self) -> String {
        format!("waymask {}", self.record.waymask_version)
    }
    fn sources(&self) -> String {
        self.record.inputs.iter().map(|i| i.name.as_str()).collect::<Vec<_>>().join(", ")
    }
    /// What the layer is and how old its map is, in sentences.
    fn about(&self) -> String {
        let age = match &self.moment {
            Some(moment) => format!("Map data of {moment}."),
            None => format!(
                "The map extract does not give the date of its data; where this file needs a date, it holds {NO_TIME}."
            ),
        };
        format!("Roads rated by how much sky a satellite panel on a vehicle sees while driving. {age} {}", self.credit)
    }

    fn for_gdal(&self) -> String {
        let extent = self.bounds.map(Bounds::degrees).map(|[west, east, south, north]| {
            format!("{west} {south} {east} {north} (west, south, east, north, degrees)")
        });
        let items = [
            ("TITLE", "Sky and link ratings of roads".to_owned()),
            ("DATA_TIME", self.date().to_owned()),
            ("EXTENT", extent.unwrap_or_else(|| "empty".to_owned())),
            ("LICENCE", licence(&self.credit).to_owned()),
            ("CREDIT", self.credit.clone()),
            ("CREATOR", self.creator()),
            ("SOURCES", self.sources()),
        ];
        let items = items.map(|(key, value)| format!("    <MDI key=\"{key}\">{}</MDI>\n", escape(&value))).concat();
        format!("<GDALMultiDomainMetadata>\n  <Metadata>\n{items}  </Metadata>\n</GDALMultiDomainMetadata>\n")
    }

    fn for_qgis(&self, table: &Table) -> String {
        let history = format!("written by {} from {}", self.creator(), self.sources());
        let mut xml =
            "<!DOCTYPE qgis PUBLIC 'http://mrcc.com/qgis.dtd' 'SYSTEM'>\n<qgis version=\"3.22.0\">\n".to_owned();
        for (tag, text) in [
            ("identifier", table.name),
            ("language", "ENG"),
            ("type", "dataset"),
            ("title", table.title),
            ("abstract", &self.about()),
            ("history", &history),
            ("rights", &self.credit),
            ("license", licence(&self.credit)),
        ] {
            xml += &format!("  <{tag}>{}</{tag}>\n", escape(text));
        }
        xml += &format!("  <crs><spatialrefsys><authid>EPSG:{SRS_ID}</authid></spatialrefsys></crs>\n");
        xml + self.qgis_times().as_str() + self.qgis_extent().as_str() + "</qgis>\n"
    }
    fn qgis_times(&self) -> String {
        let date = |moment: &String| format!("  <dates><date type=\"Created\" value=\"{moment}\"/></dates>\n");
        self.moment.as_ref().map(date).unwrap_or_default()
    }
    fn qgis_extent(&self) -> String {
        let space = self.bounds.map(Bounds::degrees).map(|[west, east, south, north]| {
            format!(
                "<spatial dimensions=\"2\" crs=\"EPSG:{SRS_ID}\" minx=\"{west}\" miny=\"{south}\" minz=\"0\" \
                 maxx=\"{east}\" maxy=\"{north}\" maxz=\"0\"/>"
            )
        });
        let time = self.moment.as_ref().map(|m| format!("<temporal><instant>{m}</instant></temporal>"));
        format!("  <extent>{}{}</extent>\n", space.unwrap_or_default(), time.unwrap_or_default())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::layer::model::InputRecord;
    use crate::layer::schema::TABLES;

    fn of(role: InputRole, data_time: Option<&str>) -> Option<String> {
        let input = InputRecord { role, data_time: data_time.map(str::to_owned), ..Default::default() };
        moment(&BuildRecord { inputs: vec![input], ..Default::default() })
    }

    #[test]
    fn only_a_date_of_the_extract_counts_and_only_one_the_format_can_hold() {
        assert_eq!(of(InputRole::Extract, Some("2026-01-02T03:04:05Z")).as_deref(), Some("2026-01-02T03:04:05.000Z"));
        assert_eq!(of(InputRole::Elevation, Some("2026-01-02T03:04:05Z")), None);
        for not in [None, Some("yesterday"), Some("-000123-01-01T00:00:00Z")] {
            assert_eq!(of(InputRole::Extract, not), None);
        }
    }

    #[test]
    fn an_unknown_date_is_said_and_not_invented() {
        let record = BuildRecord::default();
        let facts = Facts { record: &record, credit: String::new(), moment: None, bounds: None };
        assert!(facts.for_gdal().contains("<MDI key=\"DATA_TIME\">not given by the map extract</MDI>"));
        let document = facts.for_qgis(&TABLES[0]);
        assert!(document.contains("does not give the date") && !document.contains("<dates>"), "{document}");
        assert!(document.contains("<extent></extent>"));
    }

    #[test]
    fn a_credit_without_a_known_licence_is_referred_to() {
        assert_eq!(licence("Survey of Varrow, free to use"), "as the credit says");
        assert!(licence("\u{a9} OpenStreetMap contributors, ODbL 1.0").starts_with("Open Database License"));
    }
}
