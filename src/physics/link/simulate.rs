//! The drives of a stroke, simulated one by one: their outages, and statistics over all of them.
use std::cell::RefCell;
use std::rc::Rc;

use super::drive::Drive;
use super::model::{OutageStats, Stretch};
use super::name::DriveName;
use super::sky::LinkSky;
use super::stats::{DriveTally, Outage};
use super::usable::DrawnSeconds;
use super::way::StrokeWay;
use crate::physics::orbit::model::Timeline;
use crate::physics::sky::mask::SkyGrid;
use crate::profile::Profile;

/// Outage statistics of every stretch of a stroke in driving order, over the profile's drives.
///
/// `stroke_key` names the stroke: it and the profile's seed are all that the draws depend on.
pub fn simulate(
    stroke: &[Stretch],
    timeline: &Timeline,
    grid: SkyGrid,
    profile: &Profile,
    stroke_key: u64,
) -> Vec<OutageStats> {
    simulate_under(stroke, &LinkSky::new(timeline, grid, profile), profile, stroke_key)
}

/// [`simulate`] under a sky of the same profile, which many strokes may share.
pub fn simulate_under(stroke: &[Stretch], sky: &LinkSky, profile: &Profile, stroke_key: u64) -> Vec<OutageStats> {
    let [stats] = simulate_together([stroke], sky, profile, stroke_key);
    stats
}

/// [`simulate_under`] for one stroke under several assumptions about its roadside, which takes as long to drive under each: they meet
/// the same satellites and gaps, and what is drawn for a second is drawn once.
pub fn simulate_together<const N: usize>(
    strokes: [&[Stretch]; N],
    sky: &LinkSky,
    profile: &Profile,
    stroke_key: u64,
) -> [Vec<OutageStats>; N] {
    let ways = strokes.map(|stroke| StrokeWay::new(stroke, sky));
    let (drives, edges) = (profile.link.drives.max(1) as usize, &profile.rating);
    let edges_s = [edges.blips_outage_s, edges.gaps_outage_s, edges.drops_outage_s];
    let mut tallies = ways.each_ref().map(|way| (&way.road, DriveTally::new(&way.road, drives, edges_s)));
    for name in DriveName::all(profile, stroke_key) {
        let drawn = Rc::new(RefCell::new(DrawnSeconds::default()));
        for (way, (road, tally)) in ways.iter().zip(&mut tallies) {
            let mut drive = Drive::new(way, name);
            if N > 1 {
                drive.usable.share(&drawn);
            }
            tally.add(road, name.nth as usize, &drive.outages());
        }
    }
    tallies.map(|(road, tally)| tally.finish(road, profile.rating.window_s))
}

/// The outages of one simulated drive of a stroke, in order, in seconds of driving.
pub fn outages(
    stroke: &[Stretch],
    timeline: &Timeline,
    grid: SkyGrid,
    profile: &Profile,
    stroke_key: u64,
    nth: u32,
) -> Vec<Outage> {
    outages_under(stroke, &LinkSky::new(timeline, grid, profile), profile, stroke_key, nth)
}

/// [`outages`] under a shared sky.
pub fn outages_under(stroke: &[Stretch], sky: &LinkSky, profile: &Profile, stroke_key: u64, nth: u32) -> Vec<Outage> {
    let Some(name) = DriveName::all(profile, stroke_key).nth(nth as usize) else { return Vec::new() };
    Drive::new(&StrokeWay::new(stroke, sky), name).outages()
}
