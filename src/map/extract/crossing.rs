//! Where rings cross themselves or each other.
use geo::line_intersection::{LineIntersection, line_intersection};
use geo::{Coord, Line, LineString};
use rstar::primitives::{GeomWithData, Rectangle};
use rstar::{RTree, RTreeObject};

/// A side of a ring: which ring, which side of it.
type RingSide = (usize, usize);

/// Where one of some rings crosses itself or another, if they do. Borders of countries have a hundred thousand corners: only
/// what lies near each other is compared.
pub(crate) fn first_crossing(rings: &[LineString<f64>]) -> Option<Coord<f64>> {
    let sides: Vec<Vec<Line<f64>>> = rings.iter().map(|ring| ring.lines().collect()).collect();
    let around = |ring: usize, side: usize, line: &Line<f64>| {
        let (a, b) = (line.start, line.end);
        GeomWithData::new(Rectangle::from_corners([a.x, a.y], [b.x, b.y]), (ring, side))
    };
    let all = sides.iter().enumerate();
    let boxes =
        all.flat_map(|(ring, lines)| lines.iter().enumerate().map(move |(side, line)| around(ring, side, line)));
    let index: RTree<GeomWithData<Rectangle<[f64; 2]>, RingSide>> = RTree::bulk_load(boxes.collect());
    for here in &index {
        for there in index.locate_in_envelope_intersecting(here.envelope()) {
            let ((ring, side), (other, far)) = (here.data, there.data);
            // Neighbours share a corner, and the first and last one too.
            let apart = side.abs_diff(far);
            let beside = ring == other && (apart <= 1 || apart + 1 == sides[ring].len());
            if here.data >= there.data || beside {
                continue;
            }
            if let Some(LineIntersection::SinglePoint { intersection, is_proper: true }) =
                line_intersection(sides[ring][side], sides[other][far])
            {
                return Some(intersection);
            }
        }
    }
    None
}
