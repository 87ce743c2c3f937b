//! From places to ways that join them in order.
use super::cost::Totals;
use super::graph::{Directions, RouteNetwork, SpotEnd};
use super::snap::RouteSpot;
use super::table::{EdgeTable, RouteRules};
use super::ways::{Limits, ways};
use crate::base::index::EdgeIndex;

/// A way: edges of each leg, by their place in the table. The first and last edge of a leg are driven in part.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct EdgePath {
    /// What it costs.
    pub totals: Totals,
    /// Edges by leg.
    pub legs: Vec<Vec<EdgeIndex>>,
}

/// Places joined by roads.
pub(crate) struct Journey<'a> {
    network: RouteNetwork<'a>,
    /// The spot of each place that is taken.
    taken: Vec<(usize, SpotEnd)>,
}

impl<'a> Journey<'a> {
    /// Joins places, each with spots nearest first. Taken are the spots with the smallest sum of distances from which
    /// each next place can be reached; nothing where there are none.
    pub fn new(
        table: &'a EdgeTable,
        rules: &RouteRules,
        directions: Directions,
        places: &[Vec<RouteSpot>],
    ) -> Option<Self> {
        let mut network = RouteNetwork::new(table, rules, directions);
        let ends: Vec<Vec<SpotEnd>> =
            places.iter().map(|spots| spots.iter().map(|s| network.add(s)).collect()).collect();
        for i in 1..places.len() {
            for (a, from) in places[i - 1].iter().zip(&ends[i - 1]) {
                places[i].iter().zip(&ends[i]).for_each(|(b, to)| network.join((a, *from), (b, *to)));
            }
        }
        let taken = joined(&network, places, &ends)?;
        let taken = taken.into_iter().zip(&ends).map(|(nth, ends)| (nth, ends[nth])).collect();
        Some(Self { network, taken })
    }
    /// Number of the spot taken at each place.
    pub fn taken(&self) -> Vec<usize> {
        self.taken.iter().map(|t| t.0).collect()
    }
    /// Ways through all places, fastest first.
    pub fn ways(&self, limits: Limits) -> Vec<EdgePath> {
        let found = ways(limits, |weights| {
            let (mut totals, mut legs) = (Totals::default(), Vec::new());
            for pair in self.taken.windows(2) {
                let (cost, edges) = self.network.best(pair[0].1, pair[1].1, weights)?;
                totals += cost;
                legs.push(edges);
            }
            Some((totals, legs))
        });
        found.into_iter().map(|(totals, legs)| EdgePath { totals, legs }).collect()
    }
}

/// The spots to take.
fn joined(network: &RouteNetwork, places: &[Vec<RouteSpot>], ends: &[Vec<SpotEnd>]) -> Option<Vec<usize>> {
    if places.iter().any(Vec::is_empty) {
        return None;
    }
    if ends.windows(2).all(|pair| network.reached(pair[0][0]).end(pair[1][0])) {
        return Some(vec![0; places.len()]);
    }
    // By place and spot: smallest sum of distances so far, and the spot before.
    let first: Vec<Option<(f64, usize)>> = places[0].iter().map(|s| Some((s.distance_m, 0))).collect();
    let mut best = vec![first];
    for i in 1..places.len() {
        let mut column: Vec<Option<(f64, usize)>> = vec![None; places[i].len()];
        for (before, from) in best[i - 1].iter().zip(&ends[i - 1]).enumerate() {
            let (Some((so_far_m, _)), from) = from else { continue };
            let reached = network.reached(*from);
            for (nth, spot) in places[i].iter().enumerate().filter(|(nth, _)| reached.end(ends[i][*nth])) {
                let sum_m = so_far_m + spot.distance_m;
                if column[nth].is_none_or(|c| sum_m < c.0) {
                    column[nth] = Some((sum_m, before));
                }
            }
        }
        best.push(column);
    }
    let last = best.last()?.iter().enumerate().filter_map(|(nth, c)| Some(((*c)?.0, nth)));
    let mut at = last.min_by(|a, b| a.0.total_cmp(&b.0))?.1;
    let mut taken = Vec::new();
    for column in best.iter().rev() {
        taken.push(at);
        at = column[at]?.1;
    }
    taken.reverse();
    Some(taken)
}
