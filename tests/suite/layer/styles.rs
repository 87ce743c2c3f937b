//! Styles for GIS viewers, read as they read them.
use std::path::Path;

use waymask::base::words::{Highway, OverheadKind};

use crate::layer::rows;
use crate::layer::viewers::{parse_xml, texts};
use crate::need;

#[test]
fn styles_are_well_formed_and_found_where_viewers_look() {
    let Some(python) = need::program("python3", "python3") else { return };
    let (_folder, path) = rows::folder();
    rows::write(&path, false, 3).unwrap();
    let found = |column: &str, rows: &str| {
        let sql = format!(
            "SELECT {column} FROM layer_styles WHERE f_table_catalog = '' AND f_table_schema = '' AND f_geometry_column = 'geom' {rows}"
        );
        texts(&path, &sql)
    };
    for (column, pixel) in [("styleSLD", "uom"), ("styleQML", "Pixel")] {
        let documents = found(column, "");
        parse_xml(python, &documents);
        assert_eq!(documents.len(), 10);
        assert!(documents.iter().all(|d| !d.contains(pixel)), "{column}: pixels of a screen are hairlines on paper");
    }
    // Every table with geometry has one style that is applied without asking.
    let drawn = texts(&path, "SELECT table_name FROM gpkg_geometry_columns ORDER BY table_name");
    assert_eq!(found("f_table_name", "AND useAsDefault ORDER BY f_table_name"), drawn);
    assert_eq!(found("styleName", "AND NOT useAsDefault"), ["rating at worst", "evidence"]);
    let kinds = StyleRules::of(&path, ("overheads", "overheads"), "renderer-v2");
    for kind in OverheadKind::ALL.iter().map(|kind| kind.name()) {
        assert_eq!(kinds.drawing(&path, &format!("SELECT '{kind}' AS kind"), 1_000).len(), 1, "{kind}");
    }
    assert_eq!(texts(&path, "SELECT update_time FROM layer_styles"), ["2025-01-01T00:00:00.000Z"; 10]);
}

/// Rules of a style: legend, filter, scales of the renderer or of the labels, text of labels.
struct StyleRules(Vec<[String; 4]>);

impl StyleRules {
    fn of(path: &Path, (table, style): (&str, &str), part: &str) -> Self {
        let sql = format!("SELECT styleQML FROM layer_styles WHERE f_table_name = '{table}' AND styleName = '{style}'");
        let qml = texts(path, &sql).remove(0);
        let tree = roxmltree::Document::parse(qml.split_once("'SYSTEM'>\n").unwrap().1).unwrap();
        let part = tree.descendants().find(|n| n.has_tag_name(part)).unwrap();
        let rules = part.descendants().filter(|n| n.has_tag_name("rule"));
        let told = |n: roxmltree::Node| {
            let text = n.descendants().find_map(|n| n.attribute("fieldName"));
            let [legend, filter, from] =
                ["label", "filter", "scalemaxdenom"].map(|a| n.attribute(a).unwrap_or_default());
            [legend, filter, from, text.unwrap_or_default()].map(str::to_owned)
        };
        Self(rules.map(told).collect())
    }
    /// Legends of the rules that draw a row at a scale. Filters are SQL that SQLite reads as QGIS does.
    fn drawing(&self, path: &Path, row: &str, scale: u32) -> Vec<String> {
        let one = |[legend, filter, from, _]: &[String; 4]| {
            let fits = from.is_empty() || scale <= from.parse::<u32>().unwrap();
            let filter = filter.replace("@map_scale", &scale.to_string());
            let sql = format!("SELECT CAST(coalesce({filter}, 0) AS TEXT) FROM ({row})");
            (fits && texts(path, &sql) == ["1"]).then(|| legend.clone())
        };
        self.0.iter().filter_map(one).collect()
    }
}

fn drawn_as(highway: &str, rating: u8) -> String {
    format!(
        "SELECT '{highway}' AS highway, {rating} AS rating, {rating} AS rating_worst, 'data' AS evidence, 0.0 AS blocked_cover"
    )
}

#[test]
fn every_road_is_drawn_once_and_tracks_leave_small_scales_to_main_roads() {
    let (_folder, path) = rows::folder();
    rows::write(&path, false, 3).unwrap();
    let rules = StyleRules::of(&path, ("segments", "rating"), "renderer-v2");
    let of = |highway: &str, rating: u8, scale: u32| rules.drawing(&path, &drawn_as(highway, rating), scale);
    for highway in Highway::ALL.iter().map(|h| h.name()) {
        for rating in 0..5 {
            let found = of(highway, rating, 5_000);
            assert_eq!(found.len(), 1, "{highway} {rating}: {found:?}");
            let wanted = match highway {
                "ferry" => "ferry".to_owned(),
                "shuttle_train" => "shuttle train".to_owned(),
                "unclassified" | "residential" | "living_street" => "streets".to_owned(),
                "service" | "track" => "service roads".to_owned(),
                _ => rating.to_string(),
            };
            assert!(found[0].starts_with(&wanted), "{highway}: {found:?}");
        }
    }
    let shown = |scale: u32| -> Vec<&str> {
        Highway::ALL.iter().map(|h| h.name()).filter(|h| !of(h, 4, scale).is_empty()).collect()
    };
    let country = shown(1_000_000);
    assert!(country.contains(&"trunk") && country.contains(&"ferry") && !country.contains(&"tertiary"), "{country:?}");
    assert!(!shown(100_000).contains(&"track") && shown(100_000).contains(&"residential"));
    // Unknown is not clear, and a tunnel is told from other dark roads.
    let row = drawn_as("primary", 4).replace("'data'", "'unknown'").replace("0.0 AS", "0.9 AS");
    let signs = rules.drawing(&path, &row, 50_000);
    assert!(signs.len() == 3 && signs[1].starts_with("hollow") && signs[2].starts_with("dotted"), "{signs:?}");
    let worst = StyleRules::of(&path, ("segments", "rating at worst"), "renderer-v2");
    let row = drawn_as("primary", 1).replace("1 AS rating_worst", "NULL AS rating_worst");
    let found = worst.drawing(&path, &row, 50_000);
    assert!(found.len() == 1 && found[0].starts_with("worst not known"), "{found:?}");
}

const GAPS: &str = "2 gaps: outages to 5 s, or over 3 % of time";

#[test]
fn the_legend_names_the_edges_that_the_layer_was_built_with() {
    let legend = |blips_s: f64| {
        let (_folder, path) = rows::folder();
        let mut record = rows::record();
        record.profile.rating.blips_outage_s = blips_s;
        let mut writer = waymask::layer::LayerWriter::create(&path, false).unwrap();
        rows::fill(&mut writer, 3).unwrap();
        writer.finish(&record).unwrap();
        StyleRules::of(&path, ("segments", "rating"), "renderer-v2")
            .0
            .iter()
            .map(|rule| rule[0].clone())
            .collect::<Vec<_>>()
    };
    assert_eq!(legend(2.0)[1..3], ["1 blips: outages to 2 s, or over 1 % of time", GAPS]);
    assert_eq!(legend(3.5)[1..3], ["1 blips: outages to 3.5 s, or over 1 % of time", GAPS]);
}

/// The expression of the labels is SQL that SQLite reads as QGIS does: each word names the figure that decided it.
#[test]
fn labels_name_the_figure_that_decides() {
    let (_folder, path) = rows::folder();
    rows::write(&path, false, 3).unwrap();
    let rules = StyleRules::of(&path, ("segments", "rating"), "labeling");
    let label = |by: &str, rating: (&str, i32, &str)| {
        let (name, best, worst) = rating;
        let row = format!(
            "SELECT '{name}' AS rating_name, '{by}' AS rated_by, 4.08 AS outage_p95_s, 0.0234 AS outage_share, {best} AS rating_best, \
             {worst} AS rating_worst, 'primary' AS highway, NULL AS ref, NULL AS name"
        );
        let of_rule = |[_, filter, _, text]: &[String; 4]| {
            let sql = format!("SELECT CASE WHEN {filter} THEN {text} ELSE '' END FROM ({row})");
            Some(texts(&path, &sql).remove(0)).filter(|text| !text.is_empty())
        };
        let found: Vec<String> = rules.0.iter().filter_map(of_rule).collect();
        assert!(found.len() <= 1, "{found:?}");
        found.first().cloned()
    };
    assert_eq!(label("none", ("steady", 0, "0")), None);
    let label = |by: &str, rating: (&str, i32, &str)| label(by, rating).unwrap();
    assert_eq!(label("none", ("steady", 0, "1")), "steady (steady to blips)");
    assert_eq!(label("outage", ("gaps", 2, "2")), "gaps, outages to 4.1 s");
    assert_eq!(label("outage", ("gaps", 1, "3")), "gaps, outages to 4.1 s (blips to drops)");
    assert_eq!(label("share", ("blips", 1, "NULL")), "blips, without a link 2.3 % of the time (worst not known)");
}
