//! Styles that travel inside the layer, in the table `layer_styles` that GIS viewers read.
//!
//! Colours (five steps of viridis) and widths are those of [`crate::base::ramp`], which names their source.
//! A white casing keeps lines apart from the map below. Forms: OGC 05-077r4 (Symbology Encoding) inside
//! OGC 02-070 (SLD 1.0), and the QML of QGIS.
use rusqlite::{Connection, params};

use crate::base::markup::escape;
use crate::base::ramp::{RatingLook, hex, look};
use crate::base::words::{OverheadKind, RatedBy, Rating};

use super::container;
use super::fixed::NO_TIME;
use super::model::{OverheadRow, SegmentRow};
use super::schema::{GEOMETRY, Row};

/// Colour of the casing and of the rim of points.
const CASING: [u8; 3] = [0xFF, 0xFF, 0xFF];
/// Width of the casing on each side, pixels.
const CASING_PX: f64 = 0.8;
/// Fill of points: the dark end of the ramp.
const POINT_FILL: [u8; 3] = look(Rating::Dark).colour;
/// Size of points, pixels.
const POINT_PX: f64 = 9.0;

const TABLE_SQL: &str = "CREATE TABLE layer_styles (
  id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
  f_table_catalog TEXT(256), f_table_schema TEXT(256), f_table_name TEXT(256), f_geometry_column TEXT(256),
  styleName TEXT(30), styleQML TEXT, styleSLD TEXT, useAsDefault BOOLEAN,
  description TEXT, owner TEXT(30), ui TEXT(30),
  update_time DATETIME DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ','now')))";

/// Labels are shown at scales larger than one to this.
const LABELS_FROM: u32 = 20_000;

/// Writes the styles.
pub fn write(connection: &Connection) -> rusqlite::Result<()> {
    connection.execute_batch(TABLE_SQL)?;
    container::register(connection, "layer_styles", "Styles for GIS viewers", false)?;
    let styles = [
        (SegmentRow::TABLE.name, "rating", segments_qml(), segments_sld(), "Rating 0 to 4: colour and width"),
        (
            OverheadRow::TABLE.name,
            "overheads",
            overheads_qml(),
            overheads_sld(),
            "Covers as squares, the rest as triangles",
        ),
    ];
    for (table, name, qml, sld, description) in styles {
        connection.execute(
            "INSERT INTO layer_styles (f_table_catalog, f_table_schema, f_table_name, f_geometry_column, styleName,
             styleQML, styleSLD, useAsDefault, description, owner, update_time) VALUES ('', '', ?, ?, ?, ?, ?, 1, ?, '', ?)",
            params![table, GEOMETRY, name, qml, sld, description, NO_TIME],
        )?;
    }
    Ok(())
}

fn label(rating: Rating) -> String {
    format!("{} {rating}", rating.code())
}

fn sld(layer: &str, title: &str, body: &str) -> String {
    format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n\
         <StyledLayerDescriptor version=\"1.0.0\" xmlns=\"http://www.opengis.net/sld\" xmlns:ogc=\"http://www.opengis.net/ogc\">\n\
         <NamedLayer><Name>{}</Name><UserStyle><Title>{}</Title>\n{body}</UserStyle></NamedLayer>\n</StyledLayerDescriptor>\n",
        escape(layer),
        escape(title)
    )
}

fn equals(column: &str, value: &str) -> String {
    format!(
        "<ogc:PropertyIsEqualTo><ogc:PropertyName>{}</ogc:PropertyName><ogc:Literal>{}</ogc:Literal></ogc:PropertyIsEqualTo>",
        escape(column),
        escape(value)
    )
}

fn stroke(colour: [u8; 3], width_px: f64) -> String {
    format!(
        "<LineSymbolizer><Stroke><CssParameter name=\"stroke\">{}</CssParameter><CssParameter name=\"stroke-width\">{width_px:.1}\
         </CssParameter><CssParameter name=\"stroke-linecap\">round</CssParameter>\
         <CssParameter name=\"stroke-linejoin\">round</CssParameter></Stroke></LineSymbolizer>",
        hex(colour)
    )
}

/// One pass for the casings of all lines, then one per rating, so that worse lies on top.
fn segments_sld() -> String {
    let rule = |rating: Rating, symbol: &str| {
        let filter = equals("rating", &rating.code().to_string());
        format!("<Rule><Title>{}</Title><ogc:Filter>{filter}</ogc:Filter>{symbol}</Rule>\n", escape(&label(rating)))
    };
    let casing = |rating: &Rating| rule(*rating, &stroke(CASING, look(*rating).width_px + 2.0 * CASING_PX));
    let casings: String = Rating::ALL.iter().map(casing).collect();
    let mut body = format!("<FeatureTypeStyle>\n{casings}</FeatureTypeStyle>\n");
    for &rating in Rating::ALL {
        let RatingLook { colour, width_px } = look(rating);
        body += &format!("<FeatureTypeStyle>\n{}</FeatureTypeStyle>\n", rule(rating, &stroke(colour, width_px)));
    }
    body += &labels_sld();
    sld(SegmentRow::TABLE.name, "Rating of road segments", &body)
}

/// Labels with the rating, the figure that decides it, and the codes of best and worst where these differ or the worst is not
/// known.
fn labels_sld() -> String {
    let column = |name: &str| format!("<ogc:PropertyName>{name}</ogc:PropertyName>");
    let is_null = format!("<ogc:PropertyIsNull>{}</ogc:PropertyIsNull>", column("rating_worst"));
    let equal =
        format!("<ogc:PropertyIsEqualTo>{}{}</ogc:PropertyIsEqualTo>", column("rating_best"), column("rating_worst"));
    let not = |filter: &str| format!("<ogc:Not>{filter}</ogc:Not>");
    let range = |worst: &str| format!(" ({} to {worst})", column("rating_best"));
    let ranges = [
        (is_null.clone(), range("not known")),
        (format!("<ogc:And>{}{}</ogc:And>", not(&is_null), not(&equal)), range(&column("rating_worst"))),
        (format!("<ogc:And>{}{equal}</ogc:And>", not(&is_null)), String::new()),
    ];
    let mut rules = String::new();
    for by in RatedBy::ALL {
        let figure = match by {
            RatedBy::Outage => format!(", outages to {} s", column("outage_p95_s")),
            RatedBy::Share => format!(", without a link {} of the time", column("outage_share")),
            RatedBy::None => String::new(),
        };
        for (filter, range) in &ranges {
            if figure.is_empty() && range.is_empty() {
                continue;
            }
            rules += &format!(
                "<Rule><ogc:Filter><ogc:And>{}{filter}</ogc:And></ogc:Filter><MaxScaleDenominator>{LABELS_FROM}</MaxScaleDenominator>\
                 <TextSymbolizer><Label>{}{figure}{range}</Label><LabelPlacement><LinePlacement/></LabelPlacement><Halo><Radius>1\
                 </Radius></Halo></TextSymbolizer></Rule>\n",
                equals("rated_by", by.name()),
                column("rating_name"),
            );
        }
    }
    format!("<FeatureTypeStyle>\n{rules}</FeatureTypeStyle>\n")
}

/// The same as an expression, with the words of the codes and the share in percent.
fn labels_qml() -> String {
    let named = |column: &str| {
        let word = |r: &Rating| format!("WHEN {} THEN '{r}' ", r.code());
        format!("CASE \"{column}\" {}END", Rating::ALL.iter().map(word).collect::<String>())
    };
    let expression = format!(
        "\"rating_name\" || CASE \"rated_by\" WHEN '{}' THEN ', outages to ' || \"outage_p95_s\" || ' s' WHEN '{}' THEN ', without a link ' \
         || round(100 * \"outage_share\", 1) || ' % of the time' ELSE '' END || CASE WHEN \"rating_worst\" IS NULL THEN ' (worst not known)' \
         WHEN \"rating_best\" = \"rating_worst\" THEN '' ELSE ' (' || {} || ' to ' || {} || ')' END",
        RatedBy::Outage,
        RatedBy::Share,
        named("rating_best"),
        named("rating_worst")
    );
    format!(
        "<labeling type=\"simple\"><settings calloutType=\"simple\"><text-style fieldName=\"{}\" isExpression=\"1\" fontSize=\"8\" \
         fontSizeUnit=\"Point\" textColor=\"26,26,26,255\"><text-buffer bufferDraw=\"1\" bufferSize=\"1\" bufferSizeUnits=\"MM\" \
         bufferColor=\"255,255,255,255\"/></text-style><placement placement=\"2\"/><rendering scaleVisibility=\"1\" scaleMin=\"1\" \
         scaleMax=\"{LABELS_FROM}\"/></settings></labeling>\n",
        escape(&expression)
    )
}

/// Mark of a kind: name in SLD, name in QML.
fn mark(kind: OverheadKind) -> (&'static str, &'static str) {
    if kind.is_cover() { ("square", "square") } else { ("triangle", "triangle") }
}

fn overheads_sld() -> String {
    let rule = |kind: OverheadKind| {
        format!(
            "<Rule><Title>{0}</Title><ogc:Filter>{1}</ogc:Filter><PointSymbolizer><Graphic><Mark><WellKnownName>{2}</WellKnownName>\
             <Fill><CssParameter name=\"fill\">{3}</CssParameter></Fill><Stroke><CssParameter name=\"stroke\">{4}</CssParameter>\
             <CssParameter name=\"stroke-width\">1.2</CssParameter></Stroke></Mark><Size>{POINT_PX}</Size></Graphic></PointSymbolizer></Rule>\n",
            escape(&kind.name().replace('_', " ")),
            equals("kind", kind.name()),
            mark(kind).0,
            hex(POINT_FILL),
            hex(CASING)
        )
    };
    let rules: String = OverheadKind::ALL.iter().copied().map(rule).collect();
    sld(
        OverheadRow::TABLE.name,
        "What stands over the road",
        &format!("<FeatureTypeStyle>\n{rules}</FeatureTypeStyle>\n"),
    )
}

/// One layer of a QML symbol. Options are written twice: as `Option` for current versions, as `prop` for those before 3.22.
fn qml_layer(class: &str, pass: usize, options: &[(&str, String)]) -> String {
    let new: String = options
        .iter()
        .map(|(k, v)| format!("<Option name=\"{k}\" type=\"QString\" value=\"{}\"/>", escape(v)))
        .collect();
    let old: String = options.iter().map(|(k, v)| format!("<prop k=\"{k}\" v=\"{}\"/>", escape(v))).collect();
    format!(
        "<layer class=\"{class}\" enabled=\"1\" locked=\"0\" pass=\"{pass}\"><Option type=\"Map\">{new}</Option>{old}</layer>"
    )
}

fn qml_colour([r, g, b]: [u8; 3]) -> String {
    format!("{r},{g},{b},255")
}

fn qml_line(colour: [u8; 3], width_px: f64, pass: usize) -> String {
    let options = [
        ("capstyle", "round".to_owned()),
        ("joinstyle", "round".to_owned()),
        ("line_color", qml_colour(colour)),
        ("line_style", "solid".to_owned()),
        ("line_width", format!("{width_px:.1}")),
        ("line_width_unit", "Pixel".to_owned()),
    ];
    qml_layer("SimpleLine", pass, &options)
}

fn qml_marker(kind: OverheadKind) -> String {
    let options = [
        ("name", mark(kind).1.to_owned()),
        ("color", qml_colour(POINT_FILL)),
        ("outline_color", qml_colour(CASING)),
        ("outline_style", "solid".to_owned()),
        ("outline_width", "1.2".to_owned()),
        ("outline_width_unit", "Pixel".to_owned()),
        ("size", format!("{POINT_PX:.1}")),
        ("size_unit", "Pixel".to_owned()),
    ];
    qml_layer("SimpleMarker", 0, &options)
}

/// A category of a QML renderer: value, label, layers of its symbol.
struct Category {
    value: String,
    label: String,
    layers: String,
}

fn qml(column: &str, value_type: &str, symbol_type: &str, categories: &[Category], labels: &str) -> String {
    let list: String = categories
        .iter()
        .enumerate()
        .map(|(i, c)| {
            let (value, label) = (escape(&c.value), escape(&c.label));
            format!(
                "<category render=\"true\" symbol=\"{i}\" type=\"{value_type}\" value=\"{value}\" label=\"{label}\"/>\n"
            )
        })
        .collect();
    let symbols: String = categories
        .iter()
        .enumerate()
        .map(|(i, c)| {
            format!(
                "<symbol name=\"{i}\" type=\"{symbol_type}\" alpha=\"1\" clip_to_extent=\"1\">{}</symbol>\n",
                c.layers
            )
        })
        .collect();
    format!(
        "<!DOCTYPE qgis PUBLIC 'http://mrcc.com/qgis.dtd' 'SYSTEM'>\n<qgis version=\"3.22.0\" styleCategories=\"Symbology|Labeling\">\n\
         <renderer-v2 type=\"categorizedSymbol\" attr=\"{}\" symbollevels=\"1\" enableorderby=\"0\" forceraster=\"0\">\n\
         <categories>\n{list}</categories>\n<symbols>\n{symbols}</symbols>\n</renderer-v2>\n{labels}<layerGeometryType>{}</layerGeometryType>\n</qgis>\n",
        escape(column),
        if symbol_type == "line" { 1 } else { 0 }
    )
}

fn segments_qml() -> String {
    let category = |rating: Rating| {
        let (RatingLook { colour, width_px }, code) = (look(rating), rating.code());
        let layers = qml_line(CASING, width_px + 2.0 * CASING_PX, 0)
            + qml_line(colour, width_px, usize::from(code) + 1).as_str();
        Category { value: code.to_string(), label: label(rating), layers }
    };
    let categories: Vec<Category> = Rating::ALL.iter().copied().map(category).collect();
    qml("rating", "integer", "line", &categories, &labels_qml())
}

fn overheads_qml() -> String {
    let category = |kind: OverheadKind| Category {
        value: kind.name().to_owned(),
        label: kind.name().replace('_', " "),
        layers: qml_marker(kind),
    };
    let categories: Vec<Category> = OverheadKind::ALL.iter().copied().map(category).collect();
    qml("kind", "string", "marker", &categories, "")
}
