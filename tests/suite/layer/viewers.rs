//! Styles and metadata as other programs read them.
use std::io::Write;
use std::path::Path;
use std::process::{Command, Stdio};

use rusqlite::Connection;

use crate::layer::rows;
use crate::need;

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
fn styles_are_well_formed_and_found_where_viewers_look() {
    let Some(python) = need::program("python3", "python3") else { return };
    let (_folder, path) = rows::folder();
    rows::write(&path, false, 3).unwrap();
    let found = |column: &str| {
        texts(
            &path,
            &format!(
                "SELECT {column} FROM layer_styles WHERE f_table_catalog = '' AND f_table_schema = '' AND f_geometry_column = 'geom'
                 AND useAsDefault AND f_table_name IN ('segments', 'overheads') ORDER BY f_table_name DESC"
            ),
        )
    };
    let (sld, qml) = (found("styleSLD"), found("styleQML"));
    assert_eq!((sld.len(), qml.len()), (2, 2));
    parse_xml(python, &sld);
    parse_xml(python, &qml);
    for rating in 0..5 {
        assert!(sld[0].contains(&format!("<ogc:Literal>{rating}</ogc:Literal>")));
        assert!(qml[0].contains(&format!("symbol=\"{rating}\" type=\"integer\" value=\"{rating}\"")));
    }
    for kind in ["tunnel", "road_deck", "gantry"] {
        assert!(
            sld[1].contains(&format!("<ogc:Literal>{kind}</ogc:Literal>"))
                && qml[1].contains(&format!("value=\"{kind}\""))
        );
    }
    assert_eq!(texts(&path, "SELECT update_time FROM layer_styles"), ["2000-01-01T00:00:00.000Z"; 2]);
}

#[test]
fn the_credit_is_in_the_contents_and_in_the_metadata() {
    let Some(python) = need::program("python3", "python3") else { return };
    let (_folder, path) = rows::folder();
    rows::write(&path, false, 3).unwrap();
    for table in ["segments", "edges", "overheads", "lanes", "masks", "stops", "build_record"] {
        let description = texts(&path, &format!("SELECT description FROM gpkg_contents WHERE table_name = '{table}'"));
        assert_eq!(description, [rows::CREDIT], "{table}");
    }
    let metadata = texts(&path, "SELECT metadata FROM gpkg_metadata");
    assert!(metadata[0].contains(&format!("<dc:rights>{}</dc:rights>", rows::CREDIT)));
    assert!(metadata[0].contains("dem &lt;1&gt;.tif"));
    parse_xml(python, &metadata);
    let scopes = texts(&path, "SELECT reference_scope || coalesce(table_name, '') FROM gpkg_metadata_reference");
    let tables = ["segments", "edges", "overheads", "lanes", "masks", "stops"].map(|t| format!("table{t}"));
    assert_eq!(scopes, [&["geopackage".to_owned()][..], &tables].concat());
}

#[test]
fn ogrinfo_reads_every_table() {
    let Some(ogrinfo) = need::program("ogrinfo", "gdal-bin") else { return };
    let (_folder, path) = rows::folder();
    rows::write(&path, false, 50).unwrap();
    let output = Command::new(ogrinfo).args(["-ro", "-al", "-so"]).arg(&path).output().unwrap();
    let (text, errors) = (String::from_utf8_lossy(&output.stdout), String::from_utf8_lossy(&output.stderr));
    assert!(output.status.success() && errors.is_empty(), "{errors}");
    for table in ["segments", "edges", "overheads", "lanes", "masks", "stops", "build_record", "layer_styles"] {
        assert!(text.contains(&format!("Layer name: {table}\n")), "{table} is not in\n{text}");
    }
    for fact in [
        "Geometry: Line String",
        "Geometry: Point",
        "Feature Count: 50",
        "Feature Count: 100",
        "ID[\"EPSG\",4326]",
        "FID Column = segment_id",
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
}
