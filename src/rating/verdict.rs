//! What the statistics of both directions say of a segment: shared by builds and by rating a layer again.
use super::drives::Skies;
use super::pieces::RoadPiece;
use crate::base::index::{LaneIndex, SegmentIndex};
use crate::base::words::{Cause, Direction, PerCase, PerDirection, RatedBy, Rating, ValueFrom};
use crate::layer::model::{Driven, EdgeRow, SegmentRow};
use crate::layer::stored_share;
use crate::physics::link::model::{OutageStats, RatedFigures};
use crate::physics::link::rating::{judge, rating};
use crate::physics::scene::overheads::overhead::Overhead;
use crate::physics::sky::half_shadow::half_shadow_m;
use crate::physics::sky::shares::Shares;
use crate::profile::Profile;

/// Blocked below this share in all names no main cause where the segment is steady all the same.
pub(crate) const NO_CAUSE_BELOW: f64 = 0.01;
/// Sky of which no more than this share is blocked is not what a road lacks; assumed.
const MOST_BLOCKED: f64 = 0.5;
/// Of a lane without any sky, as on a ferry.
const NO_SKY: Shares =
    Shares { open: 0.0, open_min: 0.0, cover: 1.0, deck: 0.0, solid: 0.0, terrain: 0.0, canopy: 0.0 };

/// Statistics of every lane and the profile that judges them.
pub(crate) struct Verdicts<'a> {
    /// By lane.
    pub stats: PerCase<&'a [OutageStats]>,
    /// Edges between ratings, and the vehicle.
    pub profile: &'a Profile,
    /// What roads with nothing beside them are like.
    pub skies: &'a Skies,
}

/// What a road is like at best and at worst.
struct Spread {
    rating_best: Rating,
    rating_worst: Rating,
    outage_share_best: f64,
    outage_share_worst: f64,
}

/// Where a cause could not be known, the worst is not known either.
pub(crate) fn leave_worst_unknown(row: &mut SegmentRow) {
    (row.rating_worst, row.outage_share_worst) = (None, None);
    for driven in [&mut row.driven.forward, &mut row.driven.backward].into_iter().flatten() {
        (driven.rating_worst, driven.outage_share_worst) = (None, None);
    }
}

/// Whether best, likely and worst agree in the figures of a row and of its directions, to the step that is stored.
pub(crate) fn agree(row: &SegmentRow) -> bool {
    let alike = |(best, worst): (Rating, Option<Rating>), (low, high): (f64, Option<f64>)| {
        worst == Some(best) && high.is_some_and(|high| stored_share(high) == stored_share(low))
    };
    let directions = [&row.driven.forward, &row.driven.backward].into_iter().flatten();
    let all = directions.map(|d| ((d.rating_best, d.rating_worst), (d.outage_share_best, d.outage_share_worst)));
    all.chain([((row.rating_best, row.rating_worst), (row.outage_share_best, row.outage_share_worst))])
        .all(|(ratings, shares)| alike(ratings, shares))
}

/// One segment before it is judged.
pub(crate) struct Judged<'a> {
    /// Its number.
    pub id: SegmentIndex,
    /// Line and speeds.
    pub piece: &'a RoadPiece<'a>,
    /// Ids of the edges that drive it; none where it is not driven so.
    pub edges: PerDirection<Option<i64>>,
    /// Where the speeds came from.
    pub speeds_from: [ValueFrom; 2],
}

impl Judged<'_> {
    /// The directions it is driven in.
    pub fn directions(&self) -> impl Iterator<Item = Direction> {
        Direction::BOTH.into_iter().filter(|d| self.edges[*d].is_some())
    }
}

impl Verdicts<'_> {
    /// Rating of a lane.
    pub fn rating(&self, lane: LaneIndex) -> Rating {
        self.rated(&self.stats.likely[lane.at()])
    }
    fn rated(&self, s: &OutageStats) -> Rating {
        self.judged(s).0
    }
    fn judged(&self, s: &OutageStats) -> (Rating, RatedBy) {
        judge(s.outage_p95_s, s.outage_share, s.outage_share_window, &self.profile.rating)
    }
    /// Rating and outage share of some lanes at best, as stated and at worst: each time those of the worse lane. Best is the
    /// smallest and worst the largest of the three, which differ little by chance where much of a road is assumed.
    fn spread(&self, lanes: &[LaneIndex]) -> Spread {
        let of_case = |stats: &[OutageStats]| {
            let of_lane = |lane: &LaneIndex| (self.rated(&stats[lane.at()]), stats[lane.at()].outage_share);
            lanes.iter().map(of_lane).max_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1))).unwrap_or_default()
        };
        let three = self.stats.map(of_case);
        let ratings = || three.each_ref().into_iter().map(|(rating, _)| *rating);
        let shares = || three.each_ref().into_iter().map(|(_, share)| *share);
        Spread {
            rating_best: ratings().min().unwrap_or_default(),
            rating_worst: ratings().max().unwrap_or_default(),
            outage_share_best: shares().fold(f64::INFINITY, f64::min),
            outage_share_worst: shares().fold(0.0, f64::max),
        }
    }
    /// Whether the drives of even and of odd number would rate a segment apart.
    pub fn is_by_chance(&self, judged: &Judged) -> bool {
        let of_half = |half: usize| {
            let of_lane = |d: Direction| {
                let figures = &self.stats.likely[judged.id.lane(d).at()].halves[half];
                let RatedFigures { outage_p95_s, outage_share, outage_share_window } = *figures;
                rating(outage_p95_s, outage_share, outage_share_window, &self.profile.rating)
            };
            judged.directions().map(of_lane).max()
        };
        of_half(0) != of_half(1)
    }
    /// The lane that decides: the worse rating, then the larger outage share.
    pub fn worse(&self, judged: &Judged) -> LaneIndex {
        let lanes = judged.directions().map(|d| judged.id.lane(d));
        lanes
            .max_by(|a, b| {
                let by_share =
                    self.stats.likely[a.at()].outage_share.total_cmp(&self.stats.likely[b.at()].outage_share);
                self.rating(*a).cmp(&self.rating(*b)).then(by_share).then(b.cmp(a))
            })
            .unwrap_or(judged.id.lane(Direction::Forward))
    }
    /// Fills in what the drives and the sky say of a segment.
    pub fn fill(&self, row: &mut SegmentRow, judged: &Judged, shares: &dyn Fn(LaneIndex) -> Option<Shares>) {
        let worse = self.worse(judged);
        let direction = worse.direction();
        let (stats, vehicle) = (&self.stats.likely[worse.at()], &self.profile.vehicle);
        let (rated, rated_by) = self.judged(stats);
        for direction in judged.directions() {
            let seen = shares(judged.id.lane(direction)).unwrap_or(NO_SKY);
            row.driven[direction] = self.driven(judged, direction, &seen);
        }
        let shares = shares(worse).unwrap_or(NO_SKY);
        row.speed_kmh = judged.piece.driven_kmh(direction, vehicle);
        row.speed_from = match judged.piece.climbs(direction, vehicle) {
            true => ValueFrom::Climb,
            false => judged.speeds_from[usize::from(direction == Direction::Backward)],
        };
        (row.rating, row.rated_by) = (rated, rated_by);
        let lanes: Vec<LaneIndex> = judged.directions().map(|d| judged.id.lane(d)).collect();
        let spread = self.spread(&lanes);
        (row.rating_best, row.rating_worst) = (spread.rating_best, Some(spread.rating_worst));
        (row.outage_share_best, row.outage_share_worst) = (spread.outage_share_best, Some(spread.outage_share_worst));
        (row.open_share, row.open_share_min) = (shares.open, shares.open_min);
        (row.outage_share, row.outages_per_10km) = (stats.outage_share, stats.outages_per_10km);
        (row.outage_p50_s, row.outage_p95_s) = (stats.outage_p50_s, stats.outage_p95_s);
        row.longest_outage_s = stats.longest_outage_s;
        row.main_cause = self.cause(judged.piece, &shares, rated);
        row.blocked_cover = shares.cover;
        row.blocked_deck = shares.deck;
        row.blocked_building = shares.solid;
        row.blocked_terrain = shares.terrain;
        row.blocked_canopy = shares.canopy;
    }
    /// Figures of one direction by itself; nothing where it is not driven.
    fn driven(&self, judged: &Judged, direction: Direction, shares: &Shares) -> Option<Driven> {
        let edge = judged.edges[direction]?;
        let lane = judged.id.lane(direction);
        let (stats, rating) = (&self.stats.likely[lane.at()], self.rating(lane));
        let [beyond_blips, beyond_gaps, beyond_drops] = stats.beyond;
        let [running_blips, running_gaps, running_drops] = stats.running;
        let spread = self.spread(&[lane]);
        Some(Driven {
            edge,
            rating,
            rating_best: spread.rating_best,
            rating_worst: Some(spread.rating_worst),
            outage_share_best: spread.outage_share_best,
            outage_share_worst: Some(spread.outage_share_worst),
            time_s: judged.piece.seconds(direction, &self.profile.vehicle),
            outage_s: stats.outage_s,
            outage_p95_s: stats.outage_p95_s,
            beyond_blips,
            beyond_gaps,
            beyond_drops,
            running_blips,
            running_gaps,
            running_drops,
            main_cause: self.cause(judged.piece, shares, rating),
        })
    }
    /// What a rating is put down to: where open road is no better it is not what stands beside this one, unless that hides most of
    /// the sky, as a tunnel does under any satellites.
    fn cause(&self, piece: &RoadPiece, shares: &Shares, rated: Rating) -> Cause {
        if piece.boarded {
            return Cause::Boarded;
        }
        let blocked = shares.cover + shares.deck + shares.solid + shares.terrain + shares.canopy;
        let mostly_open = blocked <= MOST_BLOCKED;
        if rated != Rating::Steady && mostly_open && rated <= self.skies.open_road(piece) {
            return Cause::Satellites;
        }
        main_cause(shares, rated == Rating::Steady)
    }
    /// Fills in what the drives say of an edge; `segments` in the order they are driven.
    pub(crate) fn fill_edge(&self, row: &mut EdgeRow, segments: &[SegmentIndex], pieces: &[RoadPiece]) {
        let direction = Direction::of(row.forward);
        let lanes = || segments.iter().map(|s| s.lane(direction));
        row.time_s = segments.iter().map(|s| pieces[s.at()].seconds(direction, &self.profile.vehicle)).sum();
        row.outage_s = lanes().map(|l| self.stats.likely[l.at()].outage_s).sum();
        row.longest_outage_s = lanes().map(|l| self.stats.likely[l.at()].longest_outage_s).fold(0.0, f64::max);
        row.rating = lanes().map(|l| self.rating(l)).max().unwrap_or(Rating::Steady);
    }
    /// Seconds during which one overhead hides more than half of the usable sky.
    pub fn shadow_s(&self, skies: &Skies, piece: &RoadPiece, lane: LaneIndex, own: &[Overhead], nth: usize) -> f64 {
        let heading_deg = own.first().map_or(0.0, |o| o.heading_start_deg);
        let weights = skies.weights(piece, heading_deg);
        let speed_mps = piece.driven_kmh(lane.direction(), &self.profile.vehicle) / 3.6;
        half_shadow_m(skies.grid, &weights, &own[nth]) / speed_mps
    }
}

/// The largest of the blocked shares; the first in order where two are equal. A segment that is not steady
/// names its cause however small: the mouth of a tunnel beyond its end may be all it has.
pub fn main_cause(shares: &Shares, steady: bool) -> Cause {
    let causes = [
        (Cause::Cover, shares.cover),
        (Cause::Deck, shares.deck),
        (Cause::Building, shares.solid),
        (Cause::Terrain, shares.terrain),
        (Cause::Canopy, shares.canopy),
    ];
    let blocked = causes.iter().map(|c| c.1).sum::<f64>();
    if blocked <= 0.0 || steady && blocked < NO_CAUSE_BELOW {
        return Cause::None;
    }
    let best = causes.iter().rev().max_by(|a, b| a.1.total_cmp(&b.1));
    best.map_or(Cause::None, |c| c.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_largest_share_is_the_main_cause() {
        let shares = Shares { terrain: 0.2, canopy: 0.3, deck: 0.1, ..Shares::default() };
        assert_eq!(main_cause(&shares, true), Cause::Canopy);
        let little = Shares { canopy: 0.005, ..Shares::default() };
        assert_eq!((main_cause(&little, true), main_cause(&little, false)), (Cause::None, Cause::Canopy));
        assert_eq!(main_cause(&Shares { cover: 0.5, canopy: 0.5, ..Shares::default() }, false), Cause::Cover);
        assert_eq!(main_cause(&Shares { open: 1.0, ..Shares::default() }, false), Cause::None);
    }
}
