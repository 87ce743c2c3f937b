//! What the statistics of both directions say of a segment: shared by builds and by rating a layer again.
use super::drives::Skies;
use super::pieces::RoadPiece;
use crate::base::index::{LaneIndex, SegmentIndex};
use crate::base::words::{Cause, Direction, PerDirection, Rating, ValueFrom};
use crate::layer::model::{Driven, EdgeRow, SegmentRow};
use crate::physics::link::model::OutageStats;
use crate::physics::link::rating::rating;
use crate::physics::scene::overheads::overhead::Overhead;
use crate::physics::sky::half_shadow::half_shadow_m;
use crate::physics::sky::shares::Shares;
use crate::profile::Profile;

/// Blocked below this share in all names no main cause where the segment is steady all the same.
pub(crate) const NO_CAUSE_BELOW: f64 = 0.01;
/// Of a lane without any sky, as on a ferry.
const NO_SKY: Shares =
    Shares { open: 0.0, open_min: 0.0, cover: 1.0, deck: 0.0, solid: 0.0, terrain: 0.0, canopy: 0.0 };

/// Statistics of every lane and the profile that judges them.
pub(crate) struct Verdicts<'a> {
    /// By lane.
    pub stats: &'a [OutageStats],
    /// Edges between ratings, and the vehicle.
    pub profile: &'a Profile,
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
        let s = &self.stats[lane.at()];
        rating(s.outage_p95_s, s.outage_share, s.outage_share_window, &self.profile.rating)
    }
    /// The lane that decides: the worse rating, then the larger outage share.
    pub fn worse(&self, judged: &Judged) -> LaneIndex {
        let lanes = judged.directions().map(|d| judged.id.lane(d));
        lanes
            .max_by(|a, b| {
                let by_share = self.stats[a.at()].outage_share.total_cmp(&self.stats[b.at()].outage_share);
                self.rating(*a).cmp(&self.rating(*b)).then(by_share).then(b.cmp(a))
            })
            .unwrap_or(judged.id.lane(Direction::Forward))
    }
    /// Fills in what the drives and the sky say of a segment.
    pub fn fill(&self, row: &mut SegmentRow, judged: &Judged, shares: &dyn Fn(LaneIndex) -> Option<Shares>) {
        let worse = self.worse(judged);
        let direction = worse.direction();
        let (stats, rated, vehicle) = (&self.stats[worse.at()], self.rating(worse), &self.profile.vehicle);
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
        row.rating = rated;
        (row.open_share, row.open_share_min) = (shares.open, shares.open_min);
        (row.outage_share, row.outages_per_10km) = (stats.outage_share, stats.outages_per_10km);
        (row.outage_p50_s, row.outage_p95_s) = (stats.outage_p50_s, stats.outage_p95_s);
        row.longest_outage_s = stats.longest_outage_s;
        row.main_cause = main_cause(&shares, rated == Rating::Steady);
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
        let (stats, rating) = (&self.stats[lane.at()], self.rating(lane));
        let [beyond_blips, beyond_gaps, beyond_drops] = stats.beyond;
        Some(Driven {
            edge,
            rating,
            time_s: judged.piece.seconds(direction, &self.profile.vehicle),
            outage_s: stats.outage_s,
            outage_p95_s: stats.outage_p95_s,
            beyond_blips,
            beyond_gaps,
            beyond_drops,
            main_cause: main_cause(shares, rating == Rating::Steady),
        })
    }
    /// Fills in what the drives say of an edge; `segments` in the order they are driven.
    pub(crate) fn fill_edge(&self, row: &mut EdgeRow, segments: &[SegmentIndex], pieces: &[RoadPiece]) {
        let direction = Direction::of(row.forward);
        let lanes = || segments.iter().map(|s| s.lane(direction));
        row.time_s = segments.iter().map(|s| pieces[s.at()].seconds(direction, &self.profile.vehicle)).sum();
        row.outage_s = lanes().map(|l| self.stats[l.at()].outage_s).sum();
        row.longest_outage_s = lanes().map(|l| self.stats[l.at()].longest_outage_s).fold(0.0, f64::max);
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
