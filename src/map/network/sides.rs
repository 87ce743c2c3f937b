//! The side that traffic keeps to on every way, and what the map's roundabouts say of it.
use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::base::geodesy::LocalPlane;
use crate::base::index::RoadIndex;
use crate::base::words::{DrivingSide, SideFrom};
use crate::map::extract::model::{Oneway, Road};
use crate::map::place::places::{Locale, Places};

/// Fewer roundabouts than this prove nothing: one may be drawn the wrong way round.
const FEWEST_ROUNDABOUTS: u32 = 3;

/// Where a way lies and which side its traffic keeps to, the same over its whole length.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sided {
    /// Left or right.
    pub side: DrivingSide,
    /// What says so.
    pub from: SideFrom,
    /// Country and legal speeds.
    pub locale: Locale,
}

/// One for each road. A way is looked up at its node with the lowest id, so that neither the order of its nodes nor where it
/// is cut matters.
pub fn sides(roads: &[Road], given: Option<DrivingSide>, places: &Places) -> Vec<Sided> {
    let of_way = |pieces: &[Road]| {
        let lowest = pieces.iter().flat_map(|r| &r.nodes).min_by_key(|n| n.id);
        let locale = lowest.map(|n| places.locale(n.at)).unwrap_or_default();
        let (side, from) = match (pieces[0].driving_side, given, locale.country) {
            (Some(side), _, _) => (side, SideFrom::Tag),
            (_, Some(side), _) => (side, SideFrom::Profile),
            (_, _, Some(country)) => (country.keeps(), SideFrom::Country),
            _ => (DrivingSide::Right, SideFrom::Default),
        };
        std::iter::repeat_n(Sided { side, from, locale }, pieces.len())
    };
    roads.chunk_by(|a, b| a.id == b.id).flat_map(of_way).collect()
}

/// What one roundabout says of the side taken.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SideVote {
    /// Its road.
    pub road: RoadIndex,
    /// Code of its country; nothing where it is not known.
    pub country: Option<String>,
    /// The side taken.
    pub side: DrivingSide,
    /// Whether it is drawn for that side.
    pub agrees: bool,
}

/// How the roundabouts of a country are drawn.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct SideVotes {
    /// Code of the country; nothing where it is not known.
    pub country: Option<String>,
    /// The side taken.
    pub side: DrivingSide,
    /// Roundabouts drawn for it.
    pub agree: u32,
    /// Roundabouts drawn for the other side.
    pub disagree: u32,
}

/// One for each one-way roundabout: driven clockwise where traffic keeps left.
pub fn votes(roads: &[Road], sides: &[Sided]) -> Vec<SideVote> {
    let vote = |((road, of), sided): ((RoadIndex, &Road), &Sided)| {
        let drawn = drawn_for(of)?;
        let country = sided.locale.country.map(|c| c.code().to_owned());
        Some(SideVote { road, country, side: sided.side, agrees: drawn == sided.side })
    };
    RoadIndex::numbered(roads).zip(sides).filter_map(vote).collect()
}

impl SideVotes {
    /// Adds up votes by country and side.
    pub fn sum(all: impl IntoIterator<Item = Self>) -> Vec<Self> {
        let mut sums: BTreeMap<(Option<String>, DrivingSide), (u32, u32)> = BTreeMap::new();
        for of in all {
            let (agree, disagree) = sums.entry((of.country, of.side)).or_default();
            (*agree, *disagree) = (*agree + of.agree, *disagree + of.disagree);
        }
        let votes = sums.into_iter();
        votes.map(|((country, side), (agree, disagree))| Self { country, side, agree, disagree }).collect()
    }
    /// Whether most of them speak against the side taken.
    pub fn doubt_it(&self) -> bool {
        self.agree + self.disagree >= FEWEST_ROUNDABOUTS && self.disagree > self.agree
    }
}

impl From<&SideVote> for SideVotes {
    fn from(vote: &SideVote) -> Self {
        let (agree, disagree) = (u32::from(vote.agrees), u32::from(!vote.agrees));
        Self { country: vote.country.clone(), side: vote.side, agree, disagree }
    }
}

/// The side that a roundabout in one piece is drawn for.
fn drawn_for(road: &Road) -> Option<DrivingSide> {
    let (first, last) = (road.nodes.first()?, road.nodes.last()?);
    if !road.roundabout || road.oneway == Oneway::Both || first.id != last.id || road.nodes.len() < 4 {
        return None;
    }
    let plane = LocalPlane::at_position(first.at);
    let points: Vec<_> = road.nodes.iter().map(|n| plane.to_plane(n.at)).collect();
    let twice_area_m2: f64 = points.windows(2).map(|w| w[0].x_m * w[1].y_m - w[1].x_m * w[0].y_m).sum();
    let clockwise = (twice_area_m2 < 0.0) == (road.oneway == Oneway::Forward);
    (twice_area_m2 != 0.0).then_some(if clockwise { DrivingSide::Left } else { DrivingSide::Right })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::geodesy::Position;
    use crate::base::words::RoadClass;
    use crate::map::extract::model::RoadNode;
    use crate::map::network::test_roads::ring;

    fn road_at(id: i64, nodes: &[(i64, f64, f64)]) -> Road {
        let node = |&(id, lat, lon): &(i64, f64, f64)| RoadNode { id, at: Position::from_deg(lon, lat) };
        Road::untagged(id, RoadClass::Primary, nodes.iter().map(node).collect())
    }

    #[test]
    fn a_way_across_a_border_keeps_one_side_and_its_lowest_node_decides() {
        // From Gibraltar's neighbour to nowhere special: Ireland (left) and, far off, France (right).
        let (dublin, lyon) = ((53.35, -6.26), (45.76, 4.84));
        let pieces = [
            road_at(7, &[(9, dublin.0, dublin.1), (5, lyon.0, lyon.1)]),
            road_at(7, &[(3, dublin.0, dublin.1), (8, lyon.0, lyon.1)]),
            road_at(8, &[(9, dublin.0, dublin.1), (5, lyon.0, lyon.1)]),
        ];
        let places = Places::embedded().unwrap();
        let found = sides(&pieces, None, &places);
        assert_eq!(
            found.iter().map(|s| s.side).collect::<Vec<_>>(),
            [DrivingSide::Left, DrivingSide::Left, DrivingSide::Right]
        );
        assert_eq!(found[0].locale.country.map(|c| c.code().to_owned()), Some("IE".to_owned()));
    }

    #[test]
    fn the_tag_comes_before_the_profile_before_the_country_before_right() {
        let places = Places::embedded().unwrap();
        let mut road = road_at(1, &[(1, 53.35, -6.26), (2, 53.36, -6.26)]);
        let ocean = road_at(2, &[(1, 47.0, -28.0), (2, 47.01, -28.0)]);
        let of = |road: &Road, given| {
            let s = sides(std::slice::from_ref(road), given, &places)[0];
            (s.side, s.from)
        };
        assert_eq!(of(&road, None), (DrivingSide::Left, SideFrom::Country));
        assert_eq!(of(&road, Some(DrivingSide::Right)), (DrivingSide::Right, SideFrom::Profile));
        assert_eq!(of(&ocean, None), (DrivingSide::Right, SideFrom::Default));
        road.driving_side = Some(DrivingSide::Left);
        assert_eq!(of(&road, Some(DrivingSide::Right)), (DrivingSide::Left, SideFrom::Tag));
    }

    #[test]
    fn roundabouts_drawn_for_the_other_side_are_told_from_three_on() {
        let right =
            |n: usize| vec![Sided { side: DrivingSide::Right, from: SideFrom::Default, locale: Locale::default() }; n];
        let doubts = |rings: &[Road]| {
            let votes = votes(rings, &right(rings.len()));
            let sums = SideVotes::sum(votes.iter().map(SideVotes::from));
            sums.into_iter().filter(SideVotes::doubt_it).collect::<Vec<_>>()
        };
        let rings: Vec<Road> = (0..4).map(|i| ring(i, 15.0, 12, i > 0)).collect();
        assert_eq!(doubts(&rings), [SideVotes { country: None, side: DrivingSide::Right, agree: 1, disagree: 3 }]);
        assert_eq!(doubts(&rings[..3]).len(), 1);
        assert_eq!(doubts(&rings[1..3]), [], "two prove nothing");
        let mut against = rings.clone();
        against.iter_mut().for_each(|r| r.oneway = Oneway::Backward);
        assert_eq!(doubts(&against), [], "drawn against their nodes they are of the other side");
    }
}
