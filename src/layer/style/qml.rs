//! Styles as QML: rules with filters and scales, sizes in millimetres.
//!
//! Symbol levels put worse ratings above better ones where roads meet, and lesser roads below all of them. Main roads have a rule
//! for each grade, whose symbols make the legend; streets and tracks share one each, which takes colour and width by expression.
use super::classes::{RoadGroup, WIDTH_BY_SCALE};
use super::look::{
    ALWAYS, CASING_MM, DOTS_MM, Drawn, Filter, Grade, HOLLOW, INK, LabelPiece, LabelPlace, MarkShape, Marker,
    OVER_DASHES_MM, OVER_MM, PlainLine, Style, StyleLabel, StyleRule, USUAL_PRIORITY, WHITE,
};
use crate::base::markup::escape;
use crate::base::words::Rating;

/// Of the symbols of streets and tracks in the legend: on the map they have the colours of grades.
const GREY: [u8; 3] = [0x80, 0x80, 0x80];
/// Levels of symbols: what is higher is drawn later.
const BOARDED_LEVEL: usize = 0;
const LESSER_LEVEL: usize = 2;
const LOCAL_LEVEL: usize = 4;
const CASING_LEVEL: usize = 6;
const FIRST_GRADE_LEVEL: usize = 7;
const SIGNS_LEVEL: usize = 20;

/// A rule as it is written.
struct QmlRule {
    legend: String,
    filter: String,
    from_scale: u32,
    kind: &'static str,
    layers: String,
}

/// The whole document.
pub fn document(style: &Style) -> String {
    let mut written: Vec<QmlRule> = Vec::new();
    if !style.grades.is_empty() {
        written.extend(style.grades.iter().enumerate().map(|(i, grade)| main(grade, i)));
        written.push(thinner(style, RoadGroup::Local, LOCAL_LEVEL, "streets and lanes"));
        written.push(thinner(style, RoadGroup::Lesser, LESSER_LEVEL, "service roads and tracks"));
    }
    written.extend(style.rules.iter().map(|rule| other(style, rule)));
    let rule = |(index, w): (usize, &QmlRule)| {
        format!(
            "<rule key=\"{index}\" symbol=\"{index}\" label=\"{}\"{}{}/>\n",
            escape(&w.legend),
            filter(&w.filter),
            scale(w.from_scale)
        )
    };
    let symbol = |(index, w): (usize, &QmlRule)| {
        format!("<symbol name=\"{index}\" type=\"{}\" alpha=\"1\" clip_to_extent=\"1\">{}</symbol>\n", w.kind, w.layers)
    };
    let rules: String = written.iter().enumerate().map(rule).collect();
    let symbols: String = written.iter().enumerate().map(symbol).collect();
    format!(
        "<!DOCTYPE qgis PUBLIC 'http://mrcc.com/qgis.dtd' 'SYSTEM'>\n<qgis version=\"3.22.0\" styleCategories=\"Symbology|Labeling\" \
         labelsEnabled=\"{}\">\n<renderer-v2 type=\"RuleRenderer\" symbollevels=\"1\" enableorderby=\"0\" forceraster=\"0\" \
         referencescale=\"-1\">\n<rules key=\"all\">\n{rules}</rules>\n<symbols>\n{symbols}</symbols>\n</renderer-v2>\n{}\
         <layerGeometryType>{}</layerGeometryType>\n</qgis>\n",
        u8::from(!style.labels.is_empty()),
        labels(&style.labels),
        // Of points, lines, areas.
        written
            .iter()
            .map(|w| ["marker", "line", "fill"].iter().position(|k| *k == w.kind).unwrap_or(0))
            .max()
            .unwrap_or(0)
    )
}

fn filter(rows: &str) -> String {
    if rows.is_empty() { String::new() } else { format!(" filter=\"{}\"", escape(rows)) }
}

/// A grade on main and through roads.
fn main(grade: &Grade, index: usize) -> QmlRule {
    let width = format!("{} * {}", grade.width_mm, factor());
    let cased = format!("{width} + {}", 2.0 * CASING_MM);
    let casing =
        line((WHITE, grade.width_mm + 2.0 * CASING_MM, &[]), CASING_LEVEL, &[("outlineWidth", cased.as_str())]);
    let colour = line(
        (grade.colour, grade.width_mm, grade.dashes_mm),
        FIRST_GRADE_LEVEL + index,
        &[("outlineWidth", width.as_str())],
    );
    QmlRule {
        legend: grade.legend.clone(),
        filter: format!("{} AND {}", expression(&grade.rows), shown(&[RoadGroup::Main, RoadGroup::Through])),
        from_scale: ALWAYS,
        kind: "line",
        layers: casing + colour.as_str(),
    }
}

/// All grades on a group of lesser roads.
fn thinner(style: &Style, group: RoadGroup, level: usize, words: &str) -> QmlRule {
    let (wide, from_scale) = (style.grades[style.grades.len() / 2].width_mm, group.look().from_scale);
    let width_mm = wide * group.look().width;
    let width = format!("{} * {}", of_grade(style), factor());
    let cased = format!("{width} + {}", 2.0 * CASING_MM);
    let colours = by_grade(style, |grade| format!("'{}'", colour(grade.colour)));
    let casing = line((WHITE, width_mm + 2.0 * CASING_MM, &[]), level, &[("outlineWidth", cased.as_str())]);
    let drawn =
        line((GREY, width_mm, &[]), level + 1, &[("outlineWidth", width.as_str()), ("outlineColor", colours.as_str())]);
    QmlRule {
        legend: format!("{words}: from 1:{} 000", from_scale / 1000),
        filter: format!("\"highway\" IN ({})", classes(group)),
        from_scale,
        kind: "line",
        layers: casing + drawn.as_str(),
    }
}

fn other(style: &Style, rule: &StyleRule) -> QmlRule {
    let rows = expression(&rule.rows);
    let (kind, filter, layers) = match &rule.symbol {
        Drawn::Hollow => ("line", format!("{rows} AND {}", shown(&RoadGroup::ROADS)), hollow(style)),
        Drawn::Dotted => ("line", format!("{rows} AND {}", shown(&RoadGroup::ROADS)), dotted()),
        Drawn::Line(plain) => ("line", rows, self::plain(plain)),
        Drawn::Over(colour) => ("line", rows, line((*colour, OVER_MM, &OVER_DASHES_MM), 0, &[])),
        Drawn::Marker(marker) => ("marker", rows, self::marker(marker)),
        Drawn::Thin(colour, width_mm) => ("line", rows, line((*colour, *width_mm, &[]), 0, &[])),
        Drawn::Area(colour) => ("fill", rows, area(*colour)),
    };
    QmlRule { legend: rule.legend.clone(), filter, from_scale: rule.from_scale, kind, layers }
}

/// What a grade has, by the first that fits.
fn by_grade(style: &Style, what: impl Fn(&Grade) -> String) -> String {
    let one = |grade: &Grade| format!("WHEN {} THEN {} ", expression(&grade.rows), what(grade));
    format!("CASE {}END", style.grades.iter().map(one).collect::<String>())
}

fn of_grade(style: &Style) -> String {
    by_grade(style, |grade| grade.width_mm.to_string())
}

/// The line once more, so that the legend shows it, and white in it.
fn hollow(style: &Style) -> String {
    let width = format!("{} * {}", of_grade(style), factor());
    let core = format!("{HOLLOW} * {width}");
    let colours = by_grade(style, |grade| format!("'{}'", colour(grade.colour)));
    let worst = style.grades.iter().max_by(|a, b| a.width_mm.total_cmp(&b.width_mm));
    let (shown, width_mm) = worst.map_or((GREY, 1.0), |grade| (grade.colour, grade.width_mm));
    let by_row = [("outlineWidth", width.as_str()), ("outlineColor", colours.as_str())];
    line((shown, width_mm, &[]), SIGNS_LEVEL, &by_row)
        + line((WHITE, HOLLOW * width_mm, &[]), SIGNS_LEVEL + 1, &[("outlineWidth", core.as_str())]).as_str()
}

/// Dots with white beside them: seen on every colour of a road, and in the legend.
fn dotted() -> String {
    let dots = |colour, width_mm, level| line((colour, width_mm, &DOTS_MM), level, &[]);
    dots(WHITE, 2.0 * DOTS_MM[0], SIGNS_LEVEL + 2) + dots(INK, DOTS_MM[0], SIGNS_LEVEL + 3).as_str()
}

/// Dashes of one length at every scale. A pattern begins anew in each segment, of 250 m at most: at small scales a dash would
/// fill it. There some segments are drawn and the next left out, by their number in the way.
fn plain(plain: &PlainLine) -> String {
    let [dash_mm, gap_mm] = plain.dash_mm;
    let period_mm = dash_mm + gap_mm;
    // Dashed, too: a whole one would be the brightest line on a dark map.
    let cased_mm = plain.width_mm + 2.0 * CASING_MM;
    let pieces = format!("round({period_mm} * @map_scale / 1000 / \"length_m\")");
    let near = format!("coalesce({pieces} <= 1, 1)");
    let far = format!("{pieces} > 1 AND \"part\" % {pieces} < {pieces} / 2");
    let value = |[r, g, b]: [u8; 3], opacity: u8| format!("value=\"{r},{g},{b},{opacity}\"");
    let dashed = |painted: [u8; 3], width_mm: f64, level: usize| {
        line((painted, width_mm, &plain.dash_mm), level, &[("enabled", near.as_str())])
    };
    let whole = |painted: [u8; 3], width_mm: f64, level: usize| {
        // Without colour in the legend, where no row tells how long a segment is.
        let colours = format!("CASE WHEN {far} THEN '{}' END", colour(painted));
        line((painted, width_mm, &[]), level, &[("enabled", far.as_str()), ("outlineColor", colours.as_str())])
            .replace(&value(painted, 255), &value(painted, 0))
    };
    let both = |painted: [u8; 3], width_mm: f64, level: usize| {
        dashed(painted, width_mm, level) + whole(painted, width_mm, level).as_str()
    };
    both(WHITE, cased_mm, BOARDED_LEVEL) + both(plain.colour, plain.width_mm, BOARDED_LEVEL + 1).as_str()
}

/// Roads of groups that are drawn at the scale of the map.
fn shown(groups: &[RoadGroup]) -> String {
    let group = |group: &RoadGroup| {
        format!("(@map_scale <= {} AND \"highway\" IN ({}))", group.look().from_scale, classes(*group))
    };
    format!("({})", groups.iter().map(group).collect::<Vec<_>>().join(" OR "))
}

/// Times the width on a main road at scales of valleys.
fn factor() -> String {
    let group = |group: &RoadGroup| format!("WHEN \"highway\" IN ({}) THEN {} ", classes(*group), group.look().width);
    let groups: String = RoadGroup::ROADS.iter().map(group).collect();
    let scale = |(from, factor): &(u32, f64)| match *from {
        u32::MAX => format!("ELSE {factor} "),
        from => format!("WHEN @map_scale <= {from} THEN {factor} "),
    };
    let by_scale: String = WIDTH_BY_SCALE.iter().map(scale).collect();
    format!("CASE {groups}ELSE 1 END * CASE {by_scale}END")
}

fn classes(group: RoadGroup) -> String {
    group.classes().map(|class| format!("'{class}'")).collect::<Vec<_>>().join(", ")
}

fn line((colour, width_mm, dashes_mm): ([u8; 3], f64, &[f64]), level: usize, by_row: &[(&str, &str)]) -> String {
    let dashes: Vec<String> = dashes_mm.iter().map(f64::to_string).collect();
    // Round ends of dashes would grow into their gaps.
    let cap = if dashes_mm.is_empty() { "round" } else { "flat" };
    let mut options = vec![
        ("capstyle", cap.to_owned()),
        ("joinstyle", "round".to_owned()),
        ("line_color", self::colour(colour)),
        ("line_style", "solid".to_owned()),
        ("line_width", format!("{width_mm:.3}")),
        ("line_width_unit", "MM".to_owned()),
    ];
    if !dashes.is_empty() {
        options.extend([
            ("use_custom_dash", "1".to_owned()),
            ("customdash", dashes.join(";")),
            ("customdash_unit", "MM".to_owned()),
        ]);
    }
    layer("SimpleLine", level, &options, by_row)
}

fn area(colour: [u8; 3]) -> String {
    let options = [("color", self::colour(colour)), ("style", "solid".to_owned()), ("outline_style", "no".to_owned())];
    layer("SimpleFill", 0, &options, &[])
}

fn marker(marker: &Marker) -> String {
    let shape = match marker.shape {
        MarkShape::Square => "square",
        MarkShape::Triangle => "triangle",
        MarkShape::Circle => "circle",
        MarkShape::Cross => "cross2",
    };
    let options = [
        ("name", shape.to_owned()),
        ("color", colour(marker.fill)),
        ("outline_color", colour(marker.rim)),
        ("outline_style", "solid".to_owned()),
        ("outline_width", "0.3".to_owned()),
        ("outline_width_unit", "MM".to_owned()),
        ("size", marker.size_mm.to_string()),
        ("size_unit", "MM".to_owned()),
    ];
    layer("SimpleMarker", 0, &options, &[])
}

/// Largest denominator of a scale at which something is drawn, as an attribute.
fn scale(from: u32) -> String {
    if from == ALWAYS { String::new() } else { format!(" scalemaxdenom=\"{from}\"") }
}

/// Rows, as an expression; empty for all.
fn expression(rows: &Filter) -> String {
    let joined = |all: &[Filter], word: &str| {
        let all: Vec<String> = all.iter().map(expression).filter(|one| !one.is_empty()).collect();
        if all.is_empty() { String::new() } else { format!("({})", all.join(word)) }
    };
    match rows {
        Filter::Every => String::new(),
        Filter::Is(column, word) => format!("\"{column}\" = '{word}'"),
        Filter::Code(column, code) => format!("\"{column}\" = {code}"),
        Filter::AtLeast(column, least) => format!("\"{column}\" >= {least}"),
        Filter::Below(column, limit) => format!("\"{column}\" < {limit}"),
        Filter::Empty(column) => format!("\"{column}\" IS NULL"),
        Filter::Equal(a, b) => format!("\"{a}\" = \"{b}\""),
        Filter::Not(rows) => format!("NOT ({})", expression(rows)),
        Filter::And(all) => joined(all, " AND "),
        Filter::Or(any) => match one_column(any) {
            Some((column, words)) => format!("\"{column}\" IN ({words})"),
            None => joined(any, " OR "),
        },
    }
}

/// Words of one column, which fit in a list.
fn one_column(any: &[Filter]) -> Option<(&'static str, String)> {
    let of_one = |filter: &Filter| match filter {
        Filter::Is(column, word) => Some((*column, format!("'{word}'"))),
        _ => None,
    };
    let all: Vec<_> = any.iter().map(of_one).collect::<Option<_>>()?;
    let column = all.first()?.0;
    let words: Vec<String> = all.iter().map(|(_, word)| word.clone()).collect();
    all.iter().all(|(other, _)| *other == column).then(|| (column, words.join(", ")))
}

fn colour([r, g, b]: [u8; 3]) -> String {
    format!("{r},{g},{b},255")
}

/// One layer of a symbol; expressions of `by_row` take the place of options.
fn layer(class: &str, level: usize, options: &[(&str, String)], by_row: &[(&str, &str)]) -> String {
    let text =
        |name: &str, value: &str| format!("<Option name=\"{name}\" type=\"QString\" value=\"{}\"/>", escape(value));
    let options: String = options.iter().map(|(name, value)| text(name, value)).collect();
    let property = |(name, value): &(&str, &str)| {
        format!(
            "<Option name=\"{name}\" type=\"Map\"><Option name=\"active\" type=\"bool\" value=\"true\"/>{}\
             <Option name=\"type\" type=\"int\" value=\"3\"/></Option>",
            text("expression", value)
        )
    };
    let properties: String = by_row.iter().map(property).collect();
    let defined = if properties.is_empty() {
        String::new()
    } else {
        format!(
            "<data_defined_properties><Option type=\"Map\">{}<Option name=\"properties\" type=\"Map\">{properties}</Option>{}</Option>\
             </data_defined_properties>",
            text("name", ""),
            text("type", "collection")
        )
    };
    format!(
        "<layer class=\"{class}\" enabled=\"1\" locked=\"0\" pass=\"{level}\"><Option type=\"Map\">{options}</Option>{defined}</layer>"
    )
}

/// Rules of labels.
fn labels(all: &[StyleLabel]) -> String {
    if all.is_empty() {
        return String::new();
    }
    let one = |(index, label): (usize, &StyleLabel)| {
        let rows = expression(&label.rows);
        let filter = if rows.is_empty() { String::new() } else { format!(" filter=\"{}\"", escape(&rows)) };
        // Beside a line, bent with it, one for pieces of one road; or around a point; or level within an area.
        let placement = match label.place {
            LabelPlace::Along => {
                "placement=\"3\" placementFlags=\"10\" maxCurvedCharAngleIn=\"25\" maxCurvedCharAngleOut=\"-25\" overrunDistance=\"0\" dist=\"0.7\""
            }
            LabelPlace::Within => "placement=\"4\" dist=\"0\"",
            LabelPlace::Beside => "placement=\"6\" predefinedPositionOrder=\"TR,TL,BR,BL,R,L\" dist=\"1.4\"",
        };
        let priority = match label.priority {
            USUAL_PRIORITY => String::new(),
            other => format!(" priority=\"{other}\""),
        };
        format!(
            "<rule key=\"label{index}\"{filter}{}><settings calloutType=\"simple\"><text-style fieldName=\"{}\" isExpression=\"1\" \
             fontSize=\"{}\" fontSizeUnit=\"Point\" textColor=\"{}\"><text-buffer bufferDraw=\"1\" bufferSize=\"0.8\" \
             bufferSizeUnits=\"MM\" bufferColor=\"255,255,255,255\"/></text-style><placement {placement}{priority} \
             distUnits=\"MM\" repeatDistance=\"60\" repeatDistanceUnits=\"MM\"/><rendering mergeLines=\"{}\" obstacle=\"1\"/></settings></rule>\n",
            scale(label.from_scale),
            escape(&text(&label.text)),
            label.size_pt,
            colour(label.colour),
            u8::from(label.place == LabelPlace::Along)
        )
    };
    let rules: String = all.iter().enumerate().map(one).collect();
    format!("<labeling type=\"rule-based\">\n<rules key=\"labels\">\n{rules}</rules>\n</labeling>\n")
}

/// A text as an expression.
fn text(pieces: &[LabelPiece]) -> String {
    let one = |piece: &LabelPiece| match piece {
        LabelPiece::Text(words) => format!("'{words}'"),
        LabelPiece::Column(column) => format!("\"{column}\""),
        LabelPiece::Rounded(column) => format!("round(\"{column}\", 1)"),
        LabelPiece::Percent(column) => format!("round(100 * \"{column}\", 1)"),
        LabelPiece::RatingWord(column) => {
            let word = |r: &Rating| format!("WHEN \"{column}\" = {} THEN '{r}' ", r.code());
            format!("CASE {}END", Rating::ALL.iter().map(word).collect::<String>())
        }
    };
    pieces.iter().map(one).collect::<Vec<_>>().join(" || ")
}
