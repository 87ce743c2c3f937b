//! The fastest way, the steadiest, and those between them that are best for some rate of exchange.
//!
//! Time and expected time without a link are two goals. A way is worth telling if no other is better in one and as good
//! in the other. Of these ways the *supported* ones are found: the corners of the lower convex hull of all ways in the
//! plane of both goals, each the best for some `k` in `time + k * outage`. Ways inside a bay of that hull exist, may be
//! worth driving, and are not found: no weighted sum leads to them. Y. P. Aneja and K. P. K. Nair, "Bicriteria
//! transportation problem", Management Science 25, 1979, search between two neighbours as is done here.
use std::collections::HashSet;

use super::cost::{Totals, Weights};

/// How many ways are wanted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Limits {
    /// The most ways that are listed.
    pub ways: usize,
    /// None that takes this much longer than the fastest, milliseconds.
    pub longer_ms: Option<u64>,
}

/// A way, and the number of the search that found it.
struct FoundWay<P> {
    totals: Totals,
    path: P,
    nth: usize,
}

/// Finds ways, fastest first; `search` gives the best for some weights, or nothing where there is none.
pub fn ways<P>(limits: Limits, mut search: impl FnMut(Weights) -> Option<(Totals, P)>) -> Vec<(Totals, P)> {
    let mut nth = 0;
    let mut found: Vec<FoundWay<P>> = Vec::new();
    let mut ask = |weights| {
        nth += 1;
        search(weights).map(|(totals, path)| FoundWay { totals, path, nth })
    };
    for weights in [Weights::FASTEST, Weights::STEADIEST] {
        let way = ask(weights);
        found.extend(way.filter(|w| found.first().is_none_or(|f| f.totals != w.totals)));
    }
    let Some(fastest) = found.first() else { return Vec::new() };
    let limit_ms = limits.longer_ms.map_or(u64::MAX, |l| fastest.totals.time_ms.saturating_add(l));
    let mut closed = HashSet::new();
    while let Some(left) = widest(&found, &closed, limits.ways, limit_ms) {
        let (a, b) = (found[left].totals, found[left + 1].totals);
        let weights = Weights::between(a, b);
        match ask(weights) {
            Some(way) if weights.sum(way.totals) < weights.sum(a) => found.insert(left + 1, way),
            _ => {
                closed.insert((a, b));
            }
        }
    }
    chosen(found, limits.ways, limit_ms)
}

/// The gap to be searched next: the one that holds the steadiest way allowed, then the one that could hide most.
fn widest<P>(found: &[FoundWay<P>], closed: &HashSet<(Totals, Totals)>, ways: usize, limit_ms: u64) -> Option<usize> {
    let enough = found.iter().filter(|f| f.totals.time_ms <= limit_ms).count() >= ways;
    let gaps = found.windows(2).enumerate().filter_map(|(i, pair)| {
        let (a, b) = (pair[0].totals, pair[1].totals);
        let straddles = b.time_ms > limit_ms;
        let open = a.time_ms <= limit_ms && (straddles && ways > 1 || !enough) && !closed.contains(&(a, b));
        let room = u128::from(b.time_ms - a.time_ms) * u128::from(a.outage_ms - b.outage_ms);
        open.then_some((straddles, room, std::cmp::Reverse(i)))
    });
    gaps.max().map(|gap| gap.2.0)
}

/// The fastest, the steadiest allowed, and the first found of the others.
fn chosen<P>(mut found: Vec<FoundWay<P>>, ways: usize, limit_ms: u64) -> Vec<(Totals, P)> {
    found.retain(|f| f.totals.time_ms <= limit_ms);
    if found.len() > ways {
        let last = found.len() - 1;
        let mut order: Vec<usize> = (1..last).collect();
        order.sort_by_key(|i| found[*i].nth);
        let keep: HashSet<usize> = [0, last].into_iter().chain(order).take(ways.max(1)).collect();
        let mut i = 0;
        found.retain(|_| {
            i += 1;
            keep.contains(&(i - 1))
        });
    }
    found.into_iter().map(|f| (f.totals, f.path)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(time_ms: u64, outage_ms: u64) -> Totals {
        Totals { time_ms, outage_ms }
    }

    fn of(all: &[Totals], ways_wanted: usize, longer_ms: Option<u64>) -> Vec<Totals> {
        let best = |w: Weights| all.iter().copied().min_by_key(|t| w.cost(*t)).map(|t| (t, ()));
        ways(Limits { ways: ways_wanted, longer_ms }, best).into_iter().map(|w| w.0).collect()
    }

    /// (130, 52) lies in a bay, (150, 60) is dominated.
    const ALL: [Totals; 6] = [
        Totals { time_ms: 100, outage_ms: 90 },
        Totals { time_ms: 110, outage_ms: 60 },
        Totals { time_ms: 130, outage_ms: 52 },
        Totals { time_ms: 150, outage_ms: 60 },
        Totals { time_ms: 140, outage_ms: 30 },
        Totals { time_ms: 400, outage_ms: 10 },
    ];

    #[test]
    fn the_corners_of_the_hull_are_found_and_nothing_else() {
        assert_eq!(of(&ALL, 9, None), [at(100, 90), at(110, 60), at(140, 30), at(400, 10)]);
        assert_eq!(of(&[at(5, 5), at(5, 7), at(6, 5)], 9, None), [at(5, 5)]);
        assert_eq!(of(&[], 9, None), []);
    }

    #[test]
    fn few_ways_keep_both_ends() {
        assert_eq!(of(&ALL, 3, None), [at(100, 90), at(140, 30), at(400, 10)]);
        assert_eq!(of(&ALL, 2, None), [at(100, 90), at(400, 10)]);
        assert_eq!(of(&ALL, 1, None), [at(100, 90)]);
    }

    #[test]
    fn the_steadiest_within_a_limit_is_found() {
        assert_eq!(of(&ALL, 2, Some(50)), [at(100, 90), at(140, 30)]);
        assert_eq!(of(&ALL, 2, Some(15)), [at(100, 90), at(110, 60)]);
        assert_eq!(of(&ALL, 5, Some(5)), [at(100, 90)]);
    }
}
