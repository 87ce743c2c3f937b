//! The drives of a stroke by name: what is drawn for each depends on nothing else.
use super::crowns::strata;
use super::draw::Draw;
use crate::physics::orbit::model::Timeline;
use crate::profile::Profile;

/// Names of draws.
pub(super) mod draws {
    pub(in super::super) const TIMELINE_START: u64 = 1;
    pub(in super::super) const GAP_OFFSET: u64 = 2;
    pub(in super::super) const USABLE: u64 = 3;
    pub(in super::super) const CANOPY: u64 = 4;
    pub(in super::super) const SLOT: u64 = 5;
    pub(in super::super) const AWARE: u64 = 6;
}

/// Which of the drives of a stroke, and what its draws depend on.
#[derive(Debug, Clone, Copy)]
pub(super) struct DriveName {
    pub key: Draw,
    pub nth: u32,
    pub drives: u32,
    /// Its place among all drives in order of what leaves cost.
    pub stratum: u32,
}

impl DriveName {
    /// All drives of a stroke, in order.
    pub fn all(profile: &Profile, stroke_key: u64) -> impl Iterator<Item = Self> {
        let (key, drives) = (Draw::root(profile.link.seed).of(stroke_key), profile.link.drives.max(1));
        let named = move |(nth, stratum)| Self { key: key.of(u64::from(nth)), nth, drives, stratum };
        (0..drives).zip(strata(key, drives)).map(named)
    }
    /// When it starts, seconds into a timeline: every drive has its own share of it and starts somewhere in that.
    pub fn start_s(&self, seconds: usize) -> f64 {
        let into = f64::from(self.nth) + self.key.of(draws::TIMELINE_START).unit();
        seconds as f64 * into / f64::from(self.drives)
    }
}

/// Where on the timeline a simulated drive starts, seconds.
pub fn timeline_start_s(timeline: &Timeline, profile: &Profile, stroke_key: u64, nth: u32) -> f64 {
    let name = DriveName::all(profile, stroke_key).nth(nth as usize);
    name.map_or(0.0, |name| name.start_s(timeline.starts.len().saturating_sub(1)))
}
