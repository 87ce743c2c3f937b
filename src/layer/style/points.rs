//! Styles of points: what stands over the road, places to stop, junctions.
use super::look::{
    Drawn, Filter, INK, LabelPiece, LabelPlace, MarkShape, Marker, Style, StyleLabel, StyleRule, USUAL_PRIORITY, WHITE,
};
use crate::base::ramp::look;
use crate::base::words::{OverheadKind, Rating, StopAccess};
use crate::layer::model::{NodeRow, OverheadRow, StopRow};
use crate::layer::schema::Row;

const GREY: [u8; 3] = [0xA0, 0xA0, 0xA0];
/// Rim of what stands over the road: the dark end of the ramp.
const OVER: [u8; 3] = look(Rating::Dark).colour;
/// Scale of a town, a district of one, a street.
const TOWN: u32 = 30_000;
const DISTRICT: u32 = 12_000;
const STREET: u32 = 6_000;
/// Open share from which a place sees nearly all of the sky.
pub const SEES_ALL: f64 = 0.9;
/// Open share from which a place sees a good part of it.
pub const SEES_HALF: f64 = 0.5;

fn label(rows: Filter, text: &[LabelPiece], from_scale: u32) -> StyleLabel {
    StyleLabel {
        rows,
        text: text.to_vec(),
        from_scale,
        size_pt: 7.5,
        place: LabelPlace::Beside,
        colour: INK,
        priority: USUAL_PRIORITY,
    }
}

fn rule(legend: &str, rows: Filter, from_scale: u32, marker: Marker) -> StyleRule {
    StyleRule { legend: legend.to_owned(), rows, from_scale, symbol: Drawn::Marker(marker) }
}

/// What stands over the road, by kind; posted clearances from the scale of streets on.
pub fn overheads() -> Style {
    let of = |kinds: &[OverheadKind]| Filter::any_of("kind", kinds.iter().map(|kind| kind.name()));
    let marker = |shape, size_mm| Marker { shape, fill: WHITE, rim: OVER, size_mm };
    use OverheadKind::{FootDeck, Gallery, Gantry, OtherDeck, Passage, RailDeck, RoadDeck, Roof, Tunnel};
    let rules = vec![
        rule("tunnel, passage or gallery", of(&[Tunnel, Passage, Gallery]), TOWN, marker(MarkShape::Square, 1.6)),
        rule("roof", of(&[Roof]), TOWN, marker(MarkShape::Circle, 1.6)),
        rule("bridge", of(&[RoadDeck, RailDeck, OtherDeck]), TOWN, marker(MarkShape::Triangle, 2.0)),
        // They hardly hide the sky, and there are many.
        rule("footbridge", of(&[FootDeck]), STREET, marker(MarkShape::Triangle, 1.5)),
        rule("sign gantry", of(&[Gantry]), STREET, marker(MarkShape::Cross, 1.5)),
    ];
    let posted = [LabelPiece::Text("posted "), LabelPiece::Column("maxheight_m"), LabelPiece::Text(" m")];
    Style {
        table: OverheadRow::TABLE.name,
        name: "overheads",
        title: "What stands over the road, by kind, with posted clearances",
        default: true,
        grades: vec![],
        rules,
        labels: vec![label(Filter::Empty("maxheight_m").not(), &posted, DISTRICT)],
    }
}

/// Places to stop, by how much sky they see; nobody may stop on private ground.
pub fn stops() -> Style {
    let private = || Filter::Is("access", StopAccess::Private.name());
    let sees = |rows: Filter| private().not().and(rows);
    let circle = |fill, rim| Marker { shape: MarkShape::Circle, fill, rim, size_mm: 1.8 };
    let at_least = |share| Filter::AtLeast("open_share", share);
    let below = |share| Filter::Below("open_share", share);
    let text = [
        LabelPiece::Column("name"),
        LabelPiece::Text(", open sky "),
        LabelPiece::Percent("open_share"),
        LabelPiece::Text(" %"),
    ];
    Style {
        table: StopRow::TABLE.name,
        name: "stops",
        title: "Places to stop, by the share of open sky on the vehicle",
        default: true,
        grades: vec![],
        rules: vec![
            rule("place to stop, 90 % of the sky or more", sees(at_least(SEES_ALL)), TOWN, circle(WHITE, INK)),
            rule(
                "place to stop, 50 to 90 % of the sky",
                sees(at_least(SEES_HALF).and(below(SEES_ALL))),
                TOWN,
                circle(GREY, INK),
            ),
            rule("place to stop, less than half of the sky", sees(below(SEES_HALF)), TOWN, circle(INK, WHITE)),
            rule(
                "private ground: do not stop",
                private(),
                STREET,
                Marker { shape: MarkShape::Cross, fill: INK, rim: INK, size_mm: 1.4 },
            ),
        ],
        labels: vec![label(private().not().and(Filter::Empty("name").not()), &text, STREET)],
    }
}

/// Junctions, for those who look for a node.
pub fn nodes() -> Style {
    let marker = Marker { shape: MarkShape::Circle, fill: WHITE, rim: GREY, size_mm: 1.0 };
    Style {
        table: NodeRow::TABLE.name,
        name: "nodes",
        title: "Junctions, where edges begin and end",
        default: true,
        grades: vec![],
        rules: vec![rule("junction", Filter::Every, STREET, marker)],
        labels: vec![],
    }
}
