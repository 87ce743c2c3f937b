//! Styles and metadata as other programs read them.
use std::io::Write;
use std::path::Path;
use std::process::{Command, Stdio};

use rusqlite::Connection;

use crate::layer::rows;
use crate::need;

/// Tables of rows.
pub const TABLES: [&str; 15] = [
    "segments",
    "edges",
    "nodes",
    "way_nodes",
    "overheads",
    "lanes",
    "runs",
    "masks",
    "end_masks",
    "stops",
    "outages",
    "places",
    "ground",
    "ground_lines",
    "names",
];

/// First column of a query.
pub fn texts(path: &Path, sql: &str) -> Vec<String> {
    let connection = Connection::open(path).unwrap();
    let mut statement = connection.prepare(sql).unwrap();
    let found = statement.query_map([], |r| r.get(0)).unwrap();
    found.map(|r| r.unwrap()).collect()
}

/// Parses documents with another program's XML parser.
pub fn parse_xml(python: &str, documents: &[String]) {
    assert!(!documents.is_empty());
    for document in documents {
        let program =
            "import sys, xml.dom.minidom as d; print(d.parseString(sys.stdin.buffer.read()).documentElement.tagName)";
        let child = Command::new(python).args(["-c", program]).stdin(Stdio::piped()).stderr(Stdio::piped()).spawn();
        let mut child = child.unwrap();
        child.stdin.take().unwrap().write_all(document.as_bytes()).unwrap();
        let output = child.wait_with_output().unwrap();
        assert!(output.status.success(), "{}\n{document}", String::from_utf8_lossy(&output.stderr));
    }
}

#[test]
fn the_credit_is_in_the_contents_and_in_the_metadata() {
    let Some(python) = need::program("python3", "python3") else { return };
    let (_folder, path) = rows::folder();
    rows::write(&path, false, 3).unwrap();
    for table in [&TABLES[..], &["build_record"]].concat() {
        let description = texts(&path, &format!("SELECT description FROM gpkg_contents WHERE table_name = '{table}'"));
        assert_eq!(description, [rows::CREDIT], "{table}");
    }
    let metadata = texts(&path, "SELECT metadata FROM gpkg_metadata ORDER BY id");
    assert_eq!(metadata.len(), 1 + TABLES.len());
    assert!(metadata[0].contains(&format!("<MDI key=\"CREDIT\">{}</MDI>", rows::CREDIT)));
    assert!(metadata.iter().all(|document| document.contains("dem &lt;1&gt;.tif")));
    parse_xml(python, &metadata);
    let of = |standard: &str, scope: &str| {
        let sql = "SELECT coalesce(r.table_name, '') FROM gpkg_metadata_reference r JOIN gpkg_metadata m ON m.id = r.md_file_id";
        texts(&path, &format!("{sql} WHERE m.md_standard_uri = '{standard}' AND r.reference_scope = '{scope}'"))
    };
    assert_eq!(of("http://gdal.org", "geopackage"), [""]);
    assert_eq!(of("http://gdal.org", "table"), TABLES);
    assert_eq!(of("http://mrcc.com/qgis.dtd", "table"), TABLES);
}

/// The document that the layer properties of QGIS show, found by the query of its provider.
#[test]
fn layer_properties_show_date_extent_licence_and_credit() {
    let (_folder, path) = rows::folder();
    rows::write(&path, false, 3).unwrap();
    let documents = texts(
        &path,
        "SELECT metadata FROM gpkg_metadata LEFT JOIN gpkg_metadata_reference ON (gpkg_metadata_reference.table_name = \
         'segments' AND gpkg_metadata.id = gpkg_metadata_reference.md_file_id) WHERE md_standard_uri = \
         'http://mrcc.com/qgis.dtd' AND reference_scope = 'table'",
    );
    let [document] = &documents[..] else { panic!("{} documents", documents.len()) };
    let (_, xml) = document.split_once("'SYSTEM'>\n").unwrap();
    let tree = roxmltree::Document::parse(xml).unwrap();
    let one = |tag: &str| {
        let found: Vec<_> = tree.descendants().filter(|n| n.has_tag_name(tag)).collect();
        assert_eq!(found.len(), 1, "{tag}");
        found[0]
    };
    let text = |tag: &str| one(tag).text().unwrap_or_default();
    assert_eq!(text("title"), "Road segments by rating");
    assert_eq!(text("rights"), rows::CREDIT);
    assert_eq!(text("license"), "Open Database License (ODbL) 1.0, https://opendatacommons.org/licenses/odbl/1-0/");
    assert_eq!(one("date").attribute("value"), Some("2025-01-01T00:00:00.000Z"));
    assert_eq!(text("instant"), "2025-01-01T00:00:00.000Z");
    let all: Vec<_> = (1..=3).flat_map(|id| rows::segment(id).line).collect();
    let edges = waymask::layer::Bounds::around(&all).unwrap().degrees();
    let shown = ["minx", "maxx", "miny", "maxy"].map(|a| one("spatial").attribute(a).unwrap().parse::<f64>().unwrap());
    assert_eq!(shown, edges);
}

#[test]
fn a_map_without_a_date_leaves_the_beginning_of_time_and_says_so() {
    let (_folder, path) = rows::folder();
    let mut record = rows::record();
    record.inputs[0].data_time = None;
    let mut writer = waymask::layer::LayerWriter::create(&path, false).unwrap();
    rows::fill(&mut writer, 3).unwrap();
    writer.finish(&record).unwrap();
    for sql in [
        "SELECT DISTINCT last_change FROM gpkg_contents",
        "SELECT DISTINCT timestamp FROM gpkg_metadata_reference",
        "SELECT DISTINCT update_time FROM layer_styles",
    ] {
        assert_eq!(texts(&path, sql), ["1970-01-01T00:00:00.000Z"], "{sql}");
    }
    let said = texts(&path, "SELECT metadata FROM gpkg_metadata ORDER BY id");
    assert!(said[0].contains("not given by the map extract"), "{}", said[0]);
    assert!(said[1..].iter().all(|document| document.contains("does not give the date of its data")));
}

#[test]
fn ogrinfo_reads_every_table() {
    let Some(ogrinfo) = need::program("ogrinfo", "gdal-bin") else { return };
    let (_folder, path) = rows::folder();
    rows::write(&path, false, 50).unwrap();
    let output = Command::new(ogrinfo).args(["-ro", "-al", "-so"]).arg(&path).output().unwrap();
    let (text, errors) = (String::from_utf8_lossy(&output.stdout), String::from_utf8_lossy(&output.stderr));
    assert!(output.status.success() && errors.is_empty(), "{errors}");
    for table in [&TABLES[..], &["build_record", "layer_styles"]].concat() {
        assert!(text.contains(&format!("Layer name: {table}\n")), "{table} is not in\n{text}");
    }
    for fact in [
        "Geometry: Line String",
        "Geometry: Point",
        "Feature Count: 50",
        "Feature Count: 100",
        "ID[\"EPSG\",4326]",
        "FID Column = fid",
        "segment_id: Integer64 (0.0) NOT NULL",
        "DATA_TIME=2025-01-01T00:00:00.000Z",
        "LICENCE=Open Database License (ODbL) 1.0",
        "EXTENT=1.503 42.5",
        "overhang: Integer(Boolean) (0.0) NOT NULL",
        "way_id: Integer64 (0.0) NOT NULL",
        "rating: Integer (0.0) NOT NULL",
        "length_m: Real (0.0) NOT NULL",
        "ref: String (0.0)\n",
        "packed: Binary (0.0) NOT NULL",
        rows::CREDIT,
    ] {
        assert!(text.contains(fact), "`{fact}` is not in\n{text}");
    }
}

#[test]
fn gdal_filters_by_box_and_edits_with_the_triggers() {
    use gdal::vector::LayerAccess;
    let (_folder, path) = rows::folder();
    rows::write(&path, false, 800).unwrap();
    let options = gdal::DatasetOptions {
        open_flags: gdal::GdalOpenFlags::GDAL_OF_UPDATE | gdal::GdalOpenFlags::GDAL_OF_VECTOR,
        ..Default::default()
    };
    let dataset = gdal::Dataset::open_ex(&path, options).unwrap();
    let mut layer = dataset.layer_by_name("segments").unwrap();
    layer.set_spatial_filter_rect(1.6, 42.5, 1.7, 42.6);
    let bounds = waymask::layer::Bounds::from_deg(1.6, 42.5, 1.7, 42.6);
    let expected = waymask::layer::Layer::open(&path).unwrap().segments_in(bounds).unwrap().len();
    assert!(expected > 10);
    assert_eq!(layer.features().count(), expected);
    dataset
        .execute_sql("DELETE FROM segments WHERE segment_id = 1", None, gdal::vector::sql::Dialect::DEFAULT)
        .unwrap();
    dataset.close().unwrap();
    let in_tree = texts(&path, "SELECT CAST(count(*) AS TEXT) FROM rtree_segments_geom");
    assert_eq!(in_tree, ["799"], "the trigger removed the box of the deleted segment");
    let counted =
        texts(&path, "SELECT CAST(feature_count AS TEXT) FROM gpkg_ogr_contents WHERE table_name = 'segments'");
    assert_eq!(counted, ["799"], "the trigger counted it off");
}
