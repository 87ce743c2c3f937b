//! Why places are not joined, and why a place was not moved to the road next to it.
use super::graph::Directions;
use super::question::RouteQuestion;
use super::snap::{NearSegment, RouteSpot};
use super::table::{EdgeTable, Refusal, RouteRules};

/// What can stand in the way.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Obstacle {
    /// Loose surfaces are not wanted.
    Unpaved,
    /// Ferries are not wanted.
    Boarded,
    /// Private roads are not wanted.
    Private,
    /// Posted clearances.
    Low,
    /// One-way roads.
    Oneway,
    /// Several of these together.
    Several,
}

impl Obstacle {
    /// All, the simplest to change first.
    pub const ALL: [Self; 6] = [Self::Unpaved, Self::Boarded, Self::Private, Self::Low, Self::Oneway, Self::Several];

    /// What is known of the way that there would be without it.
    pub fn text(self) -> &'static str {
        match self {
            Self::Unpaved => "the only way uses unpaved roads",
            Self::Boarded => "the only way uses a ferry or car shuttle train",
            Self::Private => "the only way uses private roads",
            Self::Low => "the only way passes under posted clearances too low for the vehicle",
            Self::Oneway => "the only way goes against one-way roads",
            Self::Several => {
                "the only way breaks several of these restrictions: surface, ferries, access, posted clearances, \
                 one-way roads"
            }
        }
    }
    /// The rules without it; nothing where it plays no part.
    pub fn lifted(self, rules: &RouteRules) -> Option<(RouteRules, Directions)> {
        let kept = |rules: RouteRules| (rules, Directions::Kept);
        match self {
            Self::Unpaved => (!rules.unpaved).then_some(kept(RouteRules { unpaved: true, ..*rules })),
            Self::Boarded => (!rules.boarded).then_some(kept(RouteRules { boarded: true, ..*rules })),
            Self::Private => (!rules.private).then_some(kept(RouteRules { private: true, ..*rules })),
            Self::Low => Some(kept(RouteRules { height_m: 0.0, ..*rules })),
            Self::Oneway => Some((*rules, Directions::Ignored)),
            Self::Several => {
                let all = RouteRules { unpaved: true, boarded: true, private: true, height_m: 0.0 };
                Some((all, Directions::Ignored))
            }
        }
    }
}

/// Why a road is not used, as the end of a sentence.
pub fn refused(refusal: Refusal) -> &'static str {
    match refusal {
        Refusal::Unpaved => "is unpaved",
        Refusal::Boarded => "is a ferry or car shuttle train",
        Refusal::Private => "is private",
        Refusal::Low => "has a posted clearance below the vehicle's height",
    }
}

/// What to say of a place that was not taken to the nearest road.
pub fn notes(
    label: &str,
    table: &EdgeTable,
    question: &RouteQuestion,
    nears: &[NearSegment],
    nearest: &RouteSpot,
    taken: &RouteSpot,
) -> Vec<String> {
    let mut out = Vec::new();
    let far = |m: f64| question.units.near(m);
    if let Some(near) = nears.first()
        && let Some(refusal) = near.refusal(table, &question.rules)
    {
        let (road, why) = (near.road(), refused(refusal));
        let instead = format!("{}, {} away, is used instead", nearest.road, far(nearest.distance_m));
        out.push(format!("{label}: the nearest road, {road} ({}), {why}; {instead}", far(near.distance_m)));
    }
    if nearest != taken {
        out.push(format!(
            "{label}: {} ({}) is nearer, but no way joins it to the other places; {}, {} away, is used instead",
            nearest.road,
            far(nearest.distance_m),
            taken.road,
            far(taken.distance_m)
        ));
    }
    out
}
