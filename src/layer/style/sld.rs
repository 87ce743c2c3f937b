//! Styles as SLD 1.0 (OGC 02-070), for map servers and other viewers.
//!
//! Its sizes are pixels of 0.28 mm (OGC 02-070, 10.2), which stand here for millimetres. It has no widths by expression, so that
//! each group of roads has rules of its own, of one width at all scales.
use super::classes::RoadGroup;
use super::look::{
    ALWAYS, CASING_MM, DOTS_MM, Drawn, Filter, HOLLOW, INK, LabelPiece, LabelPlace, MarkShape, Marker, OVER_DASHES_MM,
    OVER_MM, Style, StyleLabel, WHITE,
};
use crate::base::markup::escape;
use crate::base::ramp::hex;

/// A pixel of the standard, millimetres.
const PX_MM: f64 = 0.28;
/// A point of type, millimetres.
const MM_PER_PT: f64 = 25.4 / 72.0;

/// The whole document.
pub fn document(style: &Style) -> String {
    let mut casings = String::new();
    let mut lines = String::new();
    // Lesser roads first: what comes later lies above.
    for group in RoadGroup::ROADS.into_iter().rev() {
        for grade in &style.grades {
            let (width_mm, from) = (grade.width_mm * group.look().width, group.look().from_scale);
            let on_group = |rows: &Filter| rows.clone().and(Filter::any_of("highway", group.classes()));
            let one = |words: &str, rows: &Filter, symbol: &str| rule(words, &on_group(rows), from, symbol);
            casings += &one(&grade.legend, &grade.rows, &stroke(WHITE, width_mm + 2.0 * CASING_MM, &[]));
            let colour = stroke(grade.colour, width_mm, grade.dashes_mm);
            lines += &feature_type_style(&one(&grade.legend, &grade.rows, &colour));
            for sign in style.rules.iter().filter(|sign| matches!(sign.symbol, Drawn::Hollow)) {
                let rows = sign.rows.clone().and(grade.rows.clone());
                lines += &feature_type_style(&one(&sign.legend, &rows, &stroke(WHITE, HOLLOW * width_mm, &[])));
            }
        }
        for sign in style.rules.iter().filter(|sign| matches!(sign.symbol, Drawn::Dotted)) {
            let dots = stroke(WHITE, 2.0 * DOTS_MM[0], &DOTS_MM) + stroke(INK, DOTS_MM[0], &DOTS_MM).as_str();
            let rows = sign.rows.clone().and(Filter::any_of("highway", group.classes()));
            let from = group.look().from_scale.min(sign.from_scale);
            lines += &feature_type_style(&rule(&sign.legend, &rows, from, &dots));
        }
    }
    let mut body = feature_type_style(&casings) + lines.as_str();
    for rule in &style.rules {
        let drawn = match &rule.symbol {
            Drawn::Hollow | Drawn::Dotted => continue,
            Drawn::Line(line) => stroke(line.colour, line.width_mm, &line.dash_mm),
            Drawn::Over(colour) => stroke(*colour, OVER_MM, &OVER_DASHES_MM),
            Drawn::Marker(marker) => mark(marker),
            Drawn::Thin(colour, width_mm) => stroke(*colour, *width_mm, &[]),
            Drawn::Area(colour) => {
                format!("<PolygonSymbolizer><Fill>{}</Fill></PolygonSymbolizer>", parameter("fill", &hex(*colour)))
            }
        };
        body += &feature_type_style(&self::rule(&rule.legend, &rule.rows, rule.from_scale, &drawn));
    }
    let labels: String = style.labels.iter().map(label).collect();
    body += &feature_type_style(&labels);
    format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n\
         <StyledLayerDescriptor version=\"1.0.0\" xmlns=\"http://www.opengis.net/sld\" xmlns:ogc=\"http://www.opengis.net/ogc\">\n\
         <NamedLayer><Name>{}</Name><UserStyle><Title>{}</Title>\n{body}</UserStyle></NamedLayer>\n</StyledLayerDescriptor>\n",
        escape(style.table),
        escape(style.title)
    )
}

fn feature_type_style(rules: &str) -> String {
    if rules.is_empty() { String::new() } else { format!("<FeatureTypeStyle>\n{rules}</FeatureTypeStyle>\n") }
}

fn rule(title: &str, rows: &Filter, from: u32, symbol: &str) -> String {
    let filter = match filter(rows) {
        rows if rows.is_empty() => String::new(),
        rows => format!("<ogc:Filter>{rows}</ogc:Filter>"),
    };
    let scale = match from {
        ALWAYS => String::new(),
        from => format!("<MaxScaleDenominator>{from}</MaxScaleDenominator>"),
    };
    format!("<Rule><Title>{}</Title>{filter}{scale}{symbol}</Rule>\n", escape(title))
}

fn property(column: &str) -> String {
    format!("<ogc:PropertyName>{}</ogc:PropertyName>", escape(column))
}

/// Rows, as a filter; empty for all.
fn filter(rows: &Filter) -> String {
    let literal = |value: &str| format!("<ogc:Literal>{}</ogc:Literal>", escape(value));
    let is = |name: &str, a: String, b: String| format!("<ogc:{name}>{a}{b}</ogc:{name}>");
    // Both need two terms or more.
    let joined = |all: &[Filter], word: &str| {
        let all: Vec<String> = all.iter().map(filter).filter(|one| !one.is_empty()).collect();
        match all.len() {
            0 | 1 => all.concat(),
            _ => format!("<ogc:{word}>{}</ogc:{word}>", all.concat()),
        }
    };
    match rows {
        Filter::Every => String::new(),
        Filter::Is(column, word) => is("PropertyIsEqualTo", property(column), literal(word)),
        Filter::Code(column, code) => is("PropertyIsEqualTo", property(column), literal(&code.to_string())),
        Filter::AtLeast(column, least) => {
            is("PropertyIsGreaterThanOrEqualTo", property(column), literal(&least.to_string()))
        }
        Filter::Below(column, limit) => is("PropertyIsLessThan", property(column), literal(&limit.to_string())),
        Filter::Empty(column) => is("PropertyIsNull", property(column), String::new()),
        Filter::Equal(a, b) => is("PropertyIsEqualTo", property(a), property(b)),
        Filter::Not(rows) => is("Not", filter(rows), String::new()),
        Filter::And(all) => joined(all, "And"),
        Filter::Or(any) => joined(any, "Or"),
    }
}

fn parameter(name: &str, value: &str) -> String {
    format!("<CssParameter name=\"{name}\">{value}</CssParameter>")
}

/// Millimetres as pixels of the standard.
fn px(mm: f64) -> String {
    format!("{:.2}", mm / PX_MM)
}

fn stroke(colour: [u8; 3], width_mm: f64, dashes_mm: &[f64]) -> String {
    let dashes = if dashes_mm.is_empty() {
        parameter("stroke-linecap", "round")
    } else {
        let lengths: Vec<String> = dashes_mm.iter().map(|mm| px(*mm)).collect();
        parameter("stroke-dasharray", &lengths.join(" "))
    };
    format!(
        "<LineSymbolizer><Stroke>{}{}{}{dashes}</Stroke></LineSymbolizer>",
        parameter("stroke", &hex(colour)),
        parameter("stroke-width", &px(width_mm)),
        parameter("stroke-linejoin", "round")
    )
}

fn mark(mark: &Marker) -> String {
    let shape = match mark.shape {
        MarkShape::Square => "square",
        MarkShape::Triangle => "triangle",
        MarkShape::Circle => "circle",
        MarkShape::Cross => "x",
    };
    format!(
        "<PointSymbolizer><Graphic><Mark><WellKnownName>{}</WellKnownName><Fill>{}</Fill><Stroke>{}{}</Stroke></Mark><Size>{}</Size>\
         </Graphic></PointSymbolizer>",
        shape,
        parameter("fill", &hex(mark.fill)),
        parameter("stroke", &hex(mark.rim)),
        parameter("stroke-width", &px(0.3)),
        px(mark.size_mm)
    )
}

/// Labels; a rating stands as its code and a share has all its decimals, since expressions of filters have no words for either.
fn label(label: &StyleLabel) -> String {
    let piece = |piece: &LabelPiece| match piece {
        LabelPiece::Text(words) => escape(words),
        LabelPiece::Percent(column) => {
            format!("<ogc:Mul><ogc:Literal>100</ogc:Literal>{}</ogc:Mul>", property(column))
        }
        LabelPiece::Column(column) | LabelPiece::Rounded(column) | LabelPiece::RatingWord(column) => property(column),
    };
    let text: String = label.text.iter().map(piece).collect();
    let placement = match label.place {
        LabelPlace::Along => "<LinePlacement/>",
        LabelPlace::Within => {
            "<PointPlacement><AnchorPoint><AnchorPointX>0.5</AnchorPointX><AnchorPointY>0.5</AnchorPointY></AnchorPoint></PointPlacement>"
        }
        LabelPlace::Beside => {
            "<PointPlacement><Displacement><DisplacementX>6</DisplacementX><DisplacementY>6</DisplacementY></Displacement></PointPlacement>"
        }
    };
    let font = parameter("font-size", &px(label.size_pt * MM_PER_PT));
    let fill = parameter("fill", &hex(label.colour));
    let symbol = format!(
        "<TextSymbolizer><Label>{text}</Label><Font>{font}</Font><LabelPlacement>{placement}</LabelPlacement>\
         <Halo><Radius>1</Radius></Halo><Fill>{fill}</Fill></TextSymbolizer>"
    );
    rule("label", &label.rows, label.from_scale, &symbol)
}
