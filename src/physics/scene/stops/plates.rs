//! What stands above a place beside the road: decks, and the roof the place lies under, as level plates.
//!
//! In: decks near a window; slabs over one place. Out: [`Plate`]s above the ground of the place. A deck's height above ground that
//! is not the road below it is not known: it is assumed as low as decks over roads are built, which hides most from below it
//! and least from beside it.
use crate::base::geodesy::Point;
use crate::base::words::RoadClass;
use crate::map::extract::model::{Deck, DeckShape, Extract, Road};
use crate::physics::scene::overheads::deck_width::{deck_width_m, default_underside_m, kind_of, thickness_m};
use crate::physics::scene::rings::{contains, distance_to_piece_m};
use crate::physics::scene::solids::slabs::Slab;
use crate::physics::scene::vicinity::Vicinity;

/// A level body over open ground.
#[derive(Debug, Clone, PartialEq)]
pub struct Plate {
    /// Footprint, outer ring first.
    pub rings: Vec<Vec<Point>>,
    /// Underside above the ground, metres.
    pub underside_m: f64,
    /// Top above the ground, metres.
    pub top_m: f64,
    /// A roof, not a deck.
    pub roof: bool,
}

impl Plate {
    /// The roof a slab is.
    pub fn of(slab: &Slab) -> Self {
        Self { rings: slab.rings.clone(), underside_m: slab.underside_m, top_m: slab.tops_m.likely, roof: true }
    }
    /// Whether anything of it may stand above an elevation, given by its tangent, for a panel at a height.
    pub fn reaches(&self, p: Point, panel_m: f64, floor_tan: f64) -> bool {
        let reach_m = (self.top_m - panel_m).max(0.0) / floor_tan;
        let near = |pair: &[Point]| distance_to_piece_m(p, pair[0], pair[1]) <= reach_m;
        contains(&self.rings, p) || self.rings.iter().any(|ring| ring.windows(2).any(near))
    }
}

/// Decks of a vicinity as plates, one per straight piece.
pub fn decks(around: &Vicinity) -> Vec<Plate> {
    around.decks().flat_map(|deck| plates_of(around, deck)).collect()
}

fn plates_of(around: &Vicinity, deck: &Deck) -> Vec<Plate> {
    let tagged_m = deck.min_height_m.map(f64::from).filter(|h| h.is_finite() && *h > 0.0);
    let underside_m = tagged_m.unwrap_or(default_underside_m(RoadClass::Unclassified, kind_of(deck.carries)));
    let plate = |rings| Plate { rings, underside_m, top_m: underside_m + thickness_m(deck.carries), roof: false };
    match &deck.shape {
        DeckShape::Outline(area) => vec![plate(around.rings(area))],
        DeckShape::Line(line) => {
            let half_m = deck_width_m(deck, road_of(around.extract, deck.id)) / 2.0;
            let line = around.line(line);
            line.windows(2).map(|pair| plate(vec![quad(pair[0], pair[1], half_m)])).collect()
        }
    }
}

/// The road a deck carries; roads come by id.
fn road_of(extract: &Extract, id: i64) -> Option<&Road> {
    let first = extract.roads.partition_point(|r| r.id < id);
    extract.roads.get(first).filter(|r| r.id == id)
}

/// The rectangle of a straight piece and a width.
fn quad(a: Point, b: Point, half_m: f64) -> Vec<Point> {
    let across_deg = a.azimuth_deg(b) + 90.0;
    let corner = |p: Point, m: f64| p.moved(across_deg, m);
    vec![corner(a, half_m), corner(b, half_m), corner(b, -half_m), corner(a, -half_m), corner(a, half_m)]
}
