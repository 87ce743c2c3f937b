//! Styles of what lies below the roads: water, and names of places.
use super::look::{
    ALWAYS, Drawn, Filter, INK, LabelPiece, LabelPlace, MarkShape, Marker, Style, StyleLabel, StyleRule, WHITE,
};
use crate::base::words::{GroundLineKind, LAST_RANK};
use crate::layer::model::{GroundLineRow, GroundRow, PlaceRow};
use crate::layer::schema::Row;

/// Water: calm and grey, so that no colour of a rating is lost on it.
const WATER: [u8; 3] = [0xC9, 0xD6, 0xDC];
/// Lines of rivers, a little darker than areas: thin lines look lighter.
const RIVER: [u8; 3] = [0xAE, 0xC1, 0xCA];
/// The coast, which divides land from sea where no area of water does.
const COAST: [u8; 3] = [0x7F, 0x96, 0xA1];
const RIVER_MM: f64 = 0.35;
const COAST_MM: f64 = 0.2;
/// Of names of water, read on its colour.
const WATER_NAME: [u8; 3] = [0x4A, 0x62, 0x6E];
/// Scale from which water bears its name.
const WATER_NAMES_FROM: u32 = 60_000;

/// Names of places: ranks, the scale from which they are drawn, the height of letters, and how they give way to others.
const NAMES: [(std::ops::RangeInclusive<u8>, u32, f64, u8); 4] =
    [(0..=1, ALWAYS, 10.0, 10), (2..=3, 600_000, 9.0, 9), (4..=5, 120_000, 8.0, 7), (6..=LAST_RANK, 30_000, 7.5, 4)];

fn of_ranks(ranks: &std::ops::RangeInclusive<u8>) -> Filter {
    Filter::AtLeast("rank", f64::from(*ranks.start())).and(Filter::Below("rank", f64::from(ranks.end() + 1)))
}

/// Names of places by rank, beside a small dot.
pub fn places() -> Style {
    let dots = [("city", 1.6), ("town", 1.3), ("village, island or pass", 1.0), ("hamlet or suburb", 0.8)];
    let rule = |((ranks, from_scale, ..), (legend, size_mm)): (&(_, u32, _, _), (&str, f64))| StyleRule {
        legend: legend.to_owned(),
        rows: of_ranks(ranks),
        from_scale: *from_scale,
        symbol: Drawn::Marker(Marker { shape: MarkShape::Circle, fill: INK, rim: WHITE, size_mm }),
    };
    let label = |(ranks, from_scale, size_pt, priority): &(_, u32, f64, u8)| StyleLabel {
        rows: of_ranks(ranks),
        text: vec![LabelPiece::Column("name")],
        from_scale: *from_scale,
        size_pt: *size_pt,
        place: LabelPlace::Beside,
        colour: INK,
        priority: *priority,
    };
    Style {
        table: PlaceRow::TABLE.name,
        name: "places",
        title: "Names of places, larger ones first",
        default: true,
        grades: vec![],
        rules: NAMES.iter().zip(dots).map(rule).collect(),
        labels: NAMES.iter().map(label).collect(),
    }
}

/// Areas of water.
pub fn ground() -> Style {
    Style {
        table: GroundRow::TABLE.name,
        name: "ground",
        title: "Areas of water",
        default: true,
        grades: vec![],
        rules: vec![StyleRule {
            legend: "water".to_owned(),
            rows: Filter::Every,
            from_scale: ALWAYS,
            symbol: Drawn::Area(WATER),
        }],
        labels: vec![water_name(LabelPlace::Within)],
    }
}

/// Coasts, rivers and canals.
pub fn ground_lines() -> Style {
    let coast = || Filter::Is("kind", GroundLineKind::Coastline.name());
    let rule = |legend: &str, rows, colour, width_mm| StyleRule {
        legend: legend.to_owned(),
        rows,
        from_scale: ALWAYS,
        symbol: Drawn::Thin(colour, width_mm),
    };
    Style {
        table: GroundLineRow::TABLE.name,
        name: "ground_lines",
        title: "Coasts, rivers and canals",
        default: true,
        grades: vec![],
        rules: vec![rule("coast", coast(), COAST, COAST_MM), rule("river or canal", coast().not(), RIVER, RIVER_MM)],
        labels: vec![StyleLabel {
            rows: coast().not().and(Filter::Empty("name").not()),
            ..water_name(LabelPlace::Along)
        }],
    }
}

fn water_name(place: LabelPlace) -> StyleLabel {
    StyleLabel {
        rows: Filter::Empty("name").not(),
        text: vec![LabelPiece::Column("name")],
        from_scale: WATER_NAMES_FROM,
        size_pt: 7.0,
        place,
        colour: WATER_NAME,
        priority: 2,
    }
}
