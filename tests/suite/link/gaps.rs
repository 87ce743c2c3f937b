//! Gaps between crowns are alike over a length of road: that decides how long outages are and, with one satellite, not how
//! much of the road they take.
use crate::link::kit::*;
use waymask::physics::link::simulate::outages;
use waymask::physics::link::stats::Outage;
use waymask::physics::sky::leaves::LeafOdds;

const LENGTH_M: f64 = 20_000.0;
const SPEED_MPS: f64 = 20.0;
/// Probability that the canopy blocks at a gap.
fn blocked() -> f64 {
    LeafOdds::of(&profile()).blocked(leaves(0.4))
}

/// Outages of drives through endless canopy of one probability, gaps of a length, under satellites that stand still.
fn drives(gap_length_m: f64, sky: &[(f64, f64)]) -> Vec<Vec<Outage>> {
    let wood = [painted(stretch(LENGTH_M, SPEED_MPS, 0.0), |m| paint_canopy(m, 0..72, 91.0, leaves(0.4)))];
    let mut profile = profile();
    profile.link.drives = 16;
    profile.canopy.gap_length_m = gap_length_m;
    let timeline = still_timeline(2000, sky);
    (0..16).map(|r| outages(&wood, &timeline, GRID, &profile, 5, r)).collect()
}

fn outage_share(drives: &[Vec<Outage>]) -> f64 {
    drives.iter().flatten().map(Outage::length_s).sum::<f64>() * SPEED_MPS / LENGTH_M / drives.len() as f64
}

fn mean_m(drives: &[Vec<Outage>]) -> f64 {
    let lengths: Vec<f64> = drives.iter().flatten().map(|outage| outage.length_s() * SPEED_MPS).collect();
    lengths.iter().sum::<f64>() / lengths.len() as f64
}

#[test]
fn the_outage_share_of_one_satellite_knows_no_gap_length_and_outages_are_runs_of_gaps() {
    let p = blocked();
    for gap_length_m in [1.0, 4.0, 16.0] {
        let found = drives(gap_length_m, &[(45.0, 50.0)]);
        let cells = 16.0 * LENGTH_M / gap_length_m;
        // Five standard errors of a mean of independent cells.
        assert_near(outage_share(&found), p, 5.0 * (p * (1.0 - p) / cells).sqrt(), "outage share");
        // Runs of blocked cells are geometric: mean 1 / (1 - p), deviation sqrt(p) / (1 - p), p (1 - p) of them per cell.
        let runs = cells * p * (1.0 - p);
        let error_m = gap_length_m * p.sqrt() / (1.0 - p) / runs.sqrt();
        assert_near(mean_m(&found), gap_length_m / (1.0 - p), 5.0 * error_m, "mean outage");
    }
}

#[test]
fn places_closer_than_a_gap_length_are_alike_in_proportion() {
    // Two places x apart lie in one gap with probability 1 - x / L, else they are independent: the correlation of being
    // blocked falls in a straight line from 1 to 0 at the gap length.
    let gap_length_m = 8.0;
    let found = drives(gap_length_m, &[(45.0, 50.0)]);
    let step_m = 1.0;
    let n = (LENGTH_M / step_m) as usize;
    let blocked: Vec<Vec<f64>> = found
        .iter()
        .map(|outages| {
            let mut line = vec![0.0; n];
            for (i, place) in line.iter_mut().enumerate() {
                let at_s = (i as f64 + 0.5) * step_m / SPEED_MPS;
                let next = outages.partition_point(|outage| outage.end_s <= at_s);
                *place = f64::from(u8::from(outages.get(next).is_some_and(|outage| outage.start_s <= at_s)));
            }
            line
        })
        .collect();
    let p = outage_share(&found);
    for lag in [1, 2, 4, 6, 8, 12, 20] {
        let pairs = blocked.iter().flat_map(|line| line.iter().zip(&line[lag..]));
        let both = pairs.map(|(a, b)| (a - p) * (b - p)).sum::<f64>() / (16 * (n - lag)) as f64;
        let want = (1.0 - lag as f64 * step_m / gap_length_m).max(0.0);
        // 40,000 independent gaps.
        assert_near(both / (p * (1.0 - p)), want, 0.025, "correlation");
    }
}

#[test]
fn another_satellite_helps_the_more_the_longer_the_gaps_are() {
    // The link looks for another satellite one second, 20 m, after it is lost: blocks shorter than that are waited out.
    let two = [(45.0, 50.0), (200.0, 60.0)];
    let shares = [1.0, 4.0, 16.0, 64.0].map(|gap_length_m| outage_share(&drives(gap_length_m, &two)));
    let p = blocked();
    // Short gaps: as with one satellite. Endless ones: only while both are blocked.
    assert_near(shares[0], p, 0.01, "gaps of a metre");
    assert!(shares.windows(2).all(|s| s[1] < s[0] + 0.005), "{shares:?}");
    assert!(shares[3] < 0.85 * p && shares[3] > p * p, "{shares:?}");
}
