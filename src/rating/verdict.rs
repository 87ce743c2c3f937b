//! What the statistics of both directions say of a segment: shared by builds and by rating a layer again.
use super::drives::Skies;
use super::lanes::{lane, of_lane};
use super::pieces::Piece;
use crate::layer::model::{EdgeRow, SegmentRow};
use crate::map::network::model::Direction;
use crate::physics::link::model::OutageStats;
use crate::physics::link::rating::{Rating, rating};
use crate::physics::scene::overhead::Overhead;
use crate::physics::sky::half_shadow::half_shadow_m;
use crate::physics::sky::shares::Shares;
use crate::profile::Profile;

/// Blocked below this share in all names no main cause where the segment is steady all the same.
pub const NO_CAUSE_BELOW: f64 = 0.01;
/// Of a lane without any sky, as on a ferry.
const NO_SKY: Shares =
    Shares { open: 0.0, open_min: 0.0, cover: 1.0, deck: 0.0, solid: 0.0, terrain: 0.0, canopy: 0.0 };

/// Statistics of every lane and the profile that judges them.
pub struct Verdicts<'a> {
    /// By lane.
    pub stats: &'a [OutageStats],
    /// Edges between ratings, and the vehicle.
    pub profile: &'a Profile,
}

/// One segment before it is judged.
pub struct Judged<'a> {
    /// Its number.
    pub id: u32,
    /// Line and speeds.
    pub piece: &'a Piece<'a>,
    /// Whether it is driven in node order and against it.
    pub driven: [bool; 2],
    /// Where the speeds came from.
    pub speeds_from: [&'static str; 2],
}

impl Judged<'_> {
    /// The directions it is driven in.
    pub fn directions(&self) -> impl Iterator<Item = Direction> {
        let all = [Direction::Forward, Direction::Backward].into_iter().zip(self.driven);
        all.filter(|(_, driven)| *driven).map(|(direction, _)| direction)
    }
}

impl Verdicts<'_> {
    /// Rating of a lane.
    pub fn rating(&self, lane: usize) -> Rating {
        let s = &self.stats[lane];
        rating(s.outage_p95_s, s.outage_share, s.outage_share_window, &self.profile.rating)
    }
    /// The lane that decides: the worse rating, then the larger outage share.
    pub fn worse(&self, judged: &Judged) -> usize {
        let lanes = judged.directions().map(|d| lane(judged.id, d));
        lanes
            .max_by(|a, b| {
                let by_share = self.stats[*a].outage_share.total_cmp(&self.stats[*b].outage_share);
                self.rating(*a).code().cmp(&self.rating(*b).code()).then(by_share).then(b.cmp(a))
            })
            .unwrap_or(lane(judged.id, Direction::Forward))
    }
    /// Fills in what the drives and the sky say of a segment.
    pub fn fill(&self, row: &mut SegmentRow, judged: &Judged, shares: &dyn Fn(usize) -> Option<Shares>) {
        let worse = self.worse(judged);
        let (_, direction) = of_lane(worse);
        let (stats, rated, vehicle) = (&self.stats[worse], self.rating(worse), &self.profile.vehicle);
        self.fill_directions(row, judged, shares);
        let shares = shares(worse).unwrap_or(NO_SKY);
        let code = |d: Direction| judged.directions().any(|x| x == d).then(|| self.rating(lane(judged.id, d)).code());
        row.speed_kmh = judged.piece.driven_kmh(direction, vehicle);
        row.speed_from = match judged.piece.climbs(direction, vehicle) {
            true => "climb",
            false => judged.speeds_from[usize::from(direction == Direction::Backward)],
        };
        (row.rating, row.rating_name) = (rated.code(), rated.name());
        (row.rating_forward, row.rating_backward) = (code(Direction::Forward), code(Direction::Backward));
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
    /// Fills in the figures of each direction by itself.
    fn fill_directions(&self, row: &mut SegmentRow, judged: &Judged, shares: &dyn Fn(usize) -> Option<Shares>) {
        for direction in judged.directions() {
            let lane = lane(judged.id, direction);
            let stats = &self.stats[lane];
            let seconds = judged.piece.seconds(direction, &self.profile.vehicle);
            let steady = self.rating(lane) == Rating::Steady;
            let cause = main_cause(&shares(lane).unwrap_or(NO_SKY), steady);
            let (time, outage, p95, main) = match direction {
                Direction::Forward => (
                    &mut row.time_forward_s,
                    &mut row.outage_forward_s,
                    &mut row.outage_p95_forward_s,
                    &mut row.main_cause_forward,
                ),
                Direction::Backward => (
                    &mut row.time_backward_s,
                    &mut row.outage_backward_s,
                    &mut row.outage_p95_backward_s,
                    &mut row.main_cause_backward,
                ),
            };
            (*time, *outage, *p95, *main) =
                (Some(seconds), Some(stats.outage_s), Some(stats.outage_p95_s), Some(cause));
            let [blips, gaps, drops] = stats.beyond.map(Some);
            let beyond = match direction {
                Direction::Forward => {
                    [&mut row.beyond_blips_forward, &mut row.beyond_gaps_forward, &mut row.beyond_drops_forward]
                }
                Direction::Backward => {
                    [&mut row.beyond_blips_backward, &mut row.beyond_gaps_backward, &mut row.beyond_drops_backward]
                }
            };
            for (column, expected) in beyond.into_iter().zip([blips, gaps, drops]) {
                *column = expected;
            }
        }
    }
    /// Fills in what the drives say of an edge; `segments` in the order they are driven.
    pub fn fill_edge(&self, row: &mut EdgeRow, segments: &[u32], pieces: &[Piece]) {
        let direction = if row.forward { Direction::Forward } else { Direction::Backward };
        let lanes = || segments.iter().map(|s| lane(*s, direction));
        row.time_s = segments.iter().map(|s| pieces[*s as usize].seconds(direction, &self.profile.vehicle)).sum();
        row.outage_s = lanes().map(|l| self.stats[l].outage_s).sum();
        row.longest_outage_s = lanes().map(|l| self.stats[l].longest_outage_s).fold(0.0, f64::max);
        row.rating = lanes().map(|l| self.rating(l).code()).max().unwrap_or(0);
    }
    /// Seconds during which one overhead hides more than half of the usable sky.
    pub fn shadow_s(&self, skies: &Skies, piece: &Piece, lane: usize, own: &[Overhead], nth: usize) -> f64 {
        let heading_deg = own.first().map_or(0.0, |o| o.heading_start_deg);
        let weights = skies.weights(piece, heading_deg);
        let (_, direction) = of_lane(lane);
        let speed_mps = piece.driven_kmh(direction, &self.profile.vehicle) / 3.6;
        half_shadow_m(skies.grid, &weights, &own[nth]) / speed_mps
    }
}

/// The largest of the blocked shares; the first in order where two are equal. A segment that is not steady
/// names its cause however small: the mouth of a tunnel beyond its end may be all it has.
pub fn main_cause(shares: &Shares, steady: bool) -> &'static str {
    let causes = [
        ("cover", shares.cover),
        ("deck", shares.deck),
        ("building", shares.solid),
        ("terrain", shares.terrain),
        ("canopy", shares.canopy),
    ];
    let blocked = causes.iter().map(|c| c.1).sum::<f64>();
    if blocked <= 0.0 || steady && blocked < NO_CAUSE_BELOW {
        return "none";
    }
    let best = causes.iter().rev().max_by(|a, b| a.1.total_cmp(&b.1));
    best.map_or("none", |c| c.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_largest_share_is_the_main_cause() {
        let shares = Shares { terrain: 0.2, canopy: 0.3, deck: 0.1, ..Shares::default() };
        assert_eq!(main_cause(&shares, true), "canopy");
        let little = Shares { canopy: 0.005, ..Shares::default() };
        assert_eq!((main_cause(&little, true), main_cause(&little, false)), ("none", "canopy"));
        assert_eq!(main_cause(&Shares { cover: 0.5, canopy: 0.5, ..Shares::default() }, false), "cover");
        assert_eq!(main_cause(&Shares { open: 1.0, ..Shares::default() }, false), "none");
    }
}
