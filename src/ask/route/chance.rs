//! Which ways save more time without a link than the luck of the simulated drives explains.
//!
//! The layer stores for every edge the mean over its drives of the seconds without a link, `m`, and the driving time `t`,
//! and not how much drives differ. In each drive an edge loses something from 0 to `t`; of all quantities from 0 to `t` with
//! the mean `m` none varies more than one that is either 0 or `t`, whose variance is `m (t - m)` (R. Bhatia and C. Davis, "A
//! better bound on the variance", American Mathematical Monthly 107, 2000). What one drive loses on several edges may depend
//! on each other, since a drive has one kind of foliage throughout; the deviation of a sum is never more than the sum of the
//! deviations. Edges that both ways share cancel. So over `n` drives the difference of two ways has a standard error of at
//! most the sum of `sqrt(m (t - m))` over the edges that only one of them uses, divided by `sqrt(n)`. It is 0 in a tunnel and
//! on open road, and mostly too large elsewhere: rather a way too few than one that saves nothing.
use std::collections::HashMap;

use super::journey::EdgePath;
use super::table::EdgeTable;
use crate::base::count::counted;
use crate::base::index::EdgeIndex;

/// A way is listed if it saves more than this many standard errors, and at least this much, seconds: nobody chooses a road for
/// less.
const ERRORS: f64 = 3.0;
const LEAST_S: f64 = 5.0;

/// Ways listed, and how many are not.
pub(super) struct TellingWays {
    pub paths: Vec<EdgePath>,
    pub left_out: usize,
}

impl TellingWays {
    /// Of ways, fastest first, the fastest and every further one that is steadier than the last one listed by more than chance.
    pub fn of(table: &EdgeTable, ways: Vec<EdgePath>, drives: u32) -> Self {
        let found = ways.len();
        let mut paths: Vec<EdgePath> = Vec::new();
        for way in ways {
            let tells = |before: &EdgePath| {
                let saved_s = before.totals.outage_s() - way.totals.outage_s();
                saved_s >= LEAST_S && saved_s > ERRORS * most_error_s(table, before, &way, drives)
            };
            if paths.last().is_none_or(tells) {
                paths.push(way);
            }
        }
        let left_out = found - paths.len();
        Self { paths, left_out }
    }
    /// What is said of ways that are not listed.
    pub fn note(&self) -> Option<String> {
        (self.left_out > 0).then(|| {
            format!(
                "{} left out: the saving in time without a link is less than {LEAST_S:.0} s, or no more than chance \
                 in the simulated drives can explain",
                counted(self.left_out, "slower way")
            )
        })
    }
}

/// The largest standard error that the difference of two ways in time without a link can have, seconds. First and last
/// edges, driven in part, count whole: that is never less.
fn most_error_s(table: &EdgeTable, a: &EdgePath, b: &EdgePath, drives: u32) -> f64 {
    let mut times: HashMap<EdgeIndex, i32> = HashMap::new();
    a.legs.iter().flatten().for_each(|e| *times.entry(*e).or_default() += 1);
    b.legs.iter().flatten().for_each(|e| *times.entry(*e).or_default() -= 1);
    let mut apart: Vec<(EdgeIndex, i32)> = times.into_iter().filter(|t| t.1 != 0).collect();
    // Sums in one order are equal everywhere.
    apart.sort_unstable();
    let deviation_s = |(edge, more): &(EdgeIndex, i32)| {
        let of = table.edge(*edge).totals();
        let (mean_s, time_s) = (of.outage_s(), of.time_s());
        f64::from(more.abs()) * (mean_s * (time_s - mean_s)).max(0.0).sqrt()
    };
    apart.iter().map(deviation_s).sum::<f64>() / f64::from(drives.max(1)).sqrt()
}

#[cfg(test)]
mod tests {
    use super::super::cost::Totals;
    use super::*;
    use crate::layer::model::EdgeRow;

    /// Edges of 100 s that lose this many of them; ways by their edges.
    fn ways(lost_s: &[f64], ways: &[&[usize]]) -> (EdgeTable, Vec<EdgePath>) {
        let mut table = EdgeTable::default();
        for (id, lost_s) in (1..).zip(lost_s) {
            table.add(&EdgeRow { edge_id: id, time_s: 100.0, outage_s: *lost_s, ..EdgeRow::default() });
        }
        let path = |edges: &&[usize]| {
            let legs = vec![edges.iter().map(|e| EdgeIndex::new(*e)).collect::<Vec<_>>()];
            let mut totals = Totals::default();
            legs[0].iter().for_each(|e| totals += table.edge(*e).totals());
            EdgePath { totals, legs }
        };
        let paths = ways.iter().map(path).collect();
        (table, paths)
    }

    #[test]
    fn the_error_is_that_of_drives_that_lose_all_or_nothing_together() {
        let (table, paths) = ways(&[36.0, 36.0, 0.0, 100.0, 50.0], &[&[0, 1, 4], &[2, 3, 4]]);
        // Two edges lost whole in 36 of 100 drives: 2 * 100 * sqrt(0.36 * 0.64), the other way always the same.
        assert!((most_error_s(&table, &paths[0], &paths[1], 64) - 96.0 / 8.0).abs() < 1e-9);
        assert_eq!(most_error_s(&table, &paths[0], &paths[0], 64), 0.0);
    }

    #[test]
    fn ways_are_told_that_save_more_than_chance_and_five_seconds() {
        let told = |lost_s: &[f64], drives: u32| {
            let each: Vec<Vec<usize>> = (0..lost_s.len()).map(|i| vec![i]).collect();
            let (table, paths) = ways(lost_s, &each.iter().map(Vec::as_slice).collect::<Vec<_>>());
            let told = TellingWays::of(&table, paths, drives);
            assert_eq!(told.note().is_some(), told.left_out > 0);
            told.paths.iter().map(|p| p.totals.outage_s()).collect::<Vec<_>>()
        };
        // A tunnel and open road have no chance in them.
        assert_eq!(told(&[100.0, 0.0], 4), [100.0, 0.0]);
        assert_eq!(told(&[4.9, 0.0], 1_000_000), [4.9]);
        // 3 * 40 / sqrt(n) is less than 20 from 37 drives on.
        assert_eq!(told(&[20.0, 0.0], 36), [20.0]);
        assert_eq!(told(&[20.0, 0.0], 37), [20.0, 0.0]);
        // The second is worth telling and the third no better than it.
        assert_eq!(told(&[100.0, 2.0, 0.0], 1_000_000), [100.0, 2.0]);
    }
}
