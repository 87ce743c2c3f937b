//! Styles of lines: the rating of segments, at worst, what it rests on, and outages.
use super::classes::RoadGroup;
use super::legend;
use super::look::{
    ALWAYS, Drawn, Filter, Grade, INK, LabelPiece, LabelPlace, PlainLine, Style, StyleLabel, StyleRule, USUAL_PRIORITY,
};
use crate::base::ramp::look;
use crate::base::words::{Evidence, Highway, RatedBy, Rating};
use crate::layer::model::{OutageRow, SegmentRow};
use crate::layer::schema::Row;
use crate::profile::RatingEdges;

/// Of ferries and shuttle trains, which have no link.
const DARK: [u8; 3] = look(Rating::Dark).colour;
/// Of roads of which something is not known.
const GREY: [u8; 3] = [0x8C, 0x8C, 0x8C];
/// Width of lines that are not told apart by it, millimetres.
const EVEN_MM: f64 = 0.7;
/// A segment is drawn as covered where at least this share of its usable sky is.
pub const COVERED_FROM: f64 = 0.5;
/// Names are written at scales larger than one to this, for main and for all roads.
const NAMES_FROM: [u32; 2] = [50_000, 12_000];
/// Figures join names at scales larger than one to this, and outages appear.
const FIGURES_FROM: u32 = 6_000;
/// Roads of which something is not known are dotted at scales larger than one to this; else dots would fill them.
const DOTS_FROM: u32 = 60_000;

/// Width of a main road of a rating at scales of valleys, millimetres.
pub const fn rating_width_mm(rating: Rating) -> f64 {
    match rating {
        Rating::Steady => 0.5,
        Rating::Blips => 0.62,
        Rating::Gaps => 0.78,
        Rating::Drops => 1.0,
        Rating::Dark => 1.3,
    }
}

/// The rating, as likely.
pub fn rating(edges: &RatingEdges) -> Style {
    let grade = |&rating: &Rating| grade(rating, "rating", legend::rating(rating, edges));
    let mut labels = names();
    labels.extend(figures());
    Style {
        table: SegmentRow::TABLE.name,
        name: "rating",
        title: "Rating of roads, as likely",
        default: true,
        grades: Rating::ALL.iter().map(grade).collect(),
        rules: signs().into_iter().chain([unknown()]).collect(),
        labels,
    }
}

/// The rating with the assumptions about the roadside at their unfavourable ends.
pub fn worst() -> Style {
    let known = Rating::ALL.iter().map(|&r| grade(r, "rating_worst", format!("{} {r} at worst", r.code())));
    let rest = not_known("worst not known: roadside not mapped", Filter::Empty("rating_worst"));
    Style {
        table: SegmentRow::TABLE.name,
        name: "rating at worst",
        title: "Rating of roads with assumptions about the roadside at their unfavourable ends",
        default: false,
        grades: known.chain([rest]).collect(),
        rules: signs().into(),
        labels: names(),
    }
}

/// What the rating rests on.
pub fn evidence() -> Style {
    let rows = |evidence: Evidence| Filter::Is("evidence", evidence.name());
    let known = |evidence: Evidence, legend: &str, rating: Rating| Grade {
        legend: legend.to_owned(),
        rows: rows(evidence),
        colour: look(rating).colour,
        width_mm: EVEN_MM,
        dashes_mm: &[],
    };
    Style {
        table: SegmentRow::TABLE.name,
        name: "evidence",
        title: "What the rating of roads rests on",
        default: false,
        grades: vec![
            known(Evidence::Data, "data: best, likely and worst are the same", Rating::Blips),
            known(Evidence::Default, "default: assumptions may move the rating", Rating::Drops),
            not_known("unknown: roadside not mapped", rows(Evidence::Unknown)),
        ],
        rules: signs().into(),
        labels: names(),
    }
}

/// Outages that end a call, over the roads they cover.
pub fn outages(edges: &RatingEdges) -> Style {
    Style {
        table: OutageRow::TABLE.name,
        name: "outages",
        title: "Outages and the road they cover, in the direction driven",
        default: true,
        grades: vec![],
        rules: vec![StyleRule {
            legend: format!("outages over {} s, on the roads they cover", edges.gaps_outage_s),
            rows: Filter::AtLeast("outage_p95_s", edges.gaps_outage_s),
            from_scale: FIGURES_FROM,
            symbol: Drawn::Over(INK),
        }],
        labels: vec![],
    }
}

fn grade(rating: Rating, column: &'static str, legend: String) -> Grade {
    let rows = Filter::Code(column, rating.code());
    Grade { legend, rows, colour: look(rating).colour, width_mm: rating_width_mm(rating), dashes_mm: &[] }
}

fn not_known(legend: &str, rows: Filter) -> Grade {
    Grade { legend: legend.to_owned(), rows, colour: GREY, width_mm: EVEN_MM, dashes_mm: &[0.8, 0.8] }
}

/// Not on a ferry or shuttle train.
fn on_road(rows: Filter) -> Filter {
    Filter::any_of("highway", RoadGroup::Boarded.classes()).not().and(rows)
}

/// What is told from all other roads in every style: roads under a cover, ferries, shuttle trains.
fn signs() -> [StyleRule; 3] {
    let boarded = |class: Highway, legend: &str, width_mm, dash_mm| StyleRule {
        legend: legend.to_owned(),
        rows: Filter::Is("highway", class.name()),
        from_scale: RoadGroup::Boarded.look().from_scale,
        symbol: Drawn::Line(PlainLine { colour: DARK, width_mm, dash_mm }),
    };
    [
        StyleRule {
            legend: "hollow: tunnel or roof over most of it".to_owned(),
            rows: on_road(Filter::AtLeast("blocked_cover", COVERED_FROM)),
            from_scale: ALWAYS,
            symbol: Drawn::Hollow,
        },
        boarded(Highway::Ferry, "ferry: counts as without a link", 0.45, [2.4, 1.6]),
        boarded(Highway::ShuttleTrain, "shuttle train: counts as without a link", 0.9, [1.2, 1.2]),
    ]
}

/// Roads that may be worse than they are rated: unknown is not clear.
fn unknown() -> StyleRule {
    StyleRule {
        legend: "dotted: may be worse, roadside not mapped".to_owned(),
        rows: on_road(Filter::Is("evidence", Evidence::Unknown.name())),
        from_scale: DOTS_FROM,
        symbol: Drawn::Dotted,
    }
}

/// Names, of main roads first.
fn names() -> Vec<StyleLabel> {
    let main = || {
        let groups = [RoadGroup::Main, RoadGroup::Through, RoadGroup::Boarded];
        Filter::any_of("highway", groups.into_iter().flat_map(RoadGroup::classes))
    };
    let named = |rows: Filter, column: &'static str, from_scale: u32| StyleLabel {
        rows: rows.and(Filter::Empty(column).not()),
        text: vec![LabelPiece::Column(column)],
        from_scale,
        size_pt: 7.5,
        place: LabelPlace::Along,
        colour: INK,
        priority: USUAL_PRIORITY,
    };
    let [of_main, of_all] = NAMES_FROM;
    vec![
        named(main().and(Filter::Empty("ref").not()), "ref", of_main),
        named(main().and(Filter::Empty("ref")), "name", of_main),
        named(main().not(), "name", of_all),
    ]
}

/// The rating in words, the figure that decides it, and best and worst where these differ or the worst is not known. A steady
/// road that cannot be worse has none.
fn figures() -> Vec<StyleLabel> {
    let (open, to, close) = (LabelPiece::Text(" ("), LabelPiece::Text(" to "), LabelPiece::Text(")"));
    let unknown = || Filter::Empty("rating_worst");
    let same = || Filter::Equal("rating_best", "rating_worst");
    let ranges = [
        (unknown(), vec![LabelPiece::Text(" (worst not known)")]),
        (
            unknown().not().and(same().not()),
            vec![open, LabelPiece::RatingWord("rating_best"), to, LabelPiece::RatingWord("rating_worst"), close],
        ),
        (unknown().not().and(same()), vec![]),
    ];
    let mut labels = Vec::new();
    for by in RatedBy::ALL {
        let figure = match by {
            RatedBy::Outage => {
                vec![LabelPiece::Text(", outages to "), LabelPiece::Rounded("outage_p95_s"), LabelPiece::Text(" s")]
            }
            RatedBy::Share => vec![
                LabelPiece::Text(", without a link "),
                LabelPiece::Percent("outage_share"),
                LabelPiece::Text(" % of the time"),
            ],
            RatedBy::None => vec![],
        };
        for (rows, range) in ranges.iter().filter(|(_, range)| !(figure.is_empty() && range.is_empty())) {
            labels.push(StyleLabel {
                rows: on_road(Filter::Is("rated_by", by.name())).and(rows.clone()),
                text: [&[LabelPiece::Column("rating_name")][..], &figure, range].concat(),
                from_scale: FIGURES_FROM,
                size_pt: 7.0,
                place: LabelPlace::Along,
                colour: INK,
                priority: USUAL_PRIORITY,
            });
        }
    }
    labels
}
