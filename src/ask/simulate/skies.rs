//! Skies that drives are simulated under, made when they are first asked for.
use std::cell::RefCell;
use std::collections::HashMap;
use std::rc::Rc;

use crate::physics::link::sky::LinkSky;
use crate::physics::orbit::Sky;
use crate::physics::orbit::model::Timeline;
use crate::physics::sky::mask::SkyGrid;
use crate::profile::{Bearings, Profile, Terminal};
use crate::rating::drives::TIMELINE_S;

/// Time for which gaps between crowns stay as they are at rest, seconds; assumed.
const STANDING_GAP_S: f64 = 60.0;
/// Speed at which time passes at rest in place of a road, metres per second.
pub(super) const STANDING_MPS: f64 = 1.0;

/// How a panel is used.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(super) enum Use {
    /// On a vehicle that drives.
    Driving,
    /// On a vehicle that stands.
    Parked,
    /// Level, at a place of its own.
    Level,
}

/// Timelines by latitude, which any number of drives shares.
pub(super) struct Timelines {
    profile: Profile,
    grid: SkyGrid,
    made: RefCell<HashMap<i32, Rc<Timeline>>>,
}

impl Timelines {
    /// Nothing is made yet.
    pub fn new(profile: &Profile, grid: SkyGrid) -> Self {
        Self { profile: profile.clone(), grid, made: RefCell::default() }
    }
    fn of(&self, key: i32) -> Rc<Timeline> {
        let made = || {
            let sky = Sky::build(key, &self.profile.constellation, &self.profile.link, self.grid, TIMELINE_S);
            Rc::new(sky.timeline)
        };
        Rc::clone(self.made.borrow_mut().entry(key).or_insert_with(made))
    }
}

/// Skies by latitude and use, for one number of drives.
pub(super) struct SkyShelf {
    timelines: Rc<Timelines>,
    profile: Profile,
    made: RefCell<HashMap<(i32, Use), Rc<LinkSky>>>,
}

impl SkyShelf {
    /// Nothing is made yet.
    pub fn new(timelines: &Rc<Timelines>, drives: u32) -> Self {
        let mut profile = timelines.profile.clone();
        profile.link.drives = drives;
        Self { timelines: Rc::clone(timelines), profile, made: RefCell::default() }
    }
    /// Number of drives.
    pub fn drives(&self) -> u32 {
        self.profile.link.drives
    }
    /// The profile of a use.
    pub fn profile(&self, use_: Use) -> Profile {
        let mut profile = self.profile.clone();
        if use_ != Use::Driving {
            profile.canopy.gap_length_m = STANDING_GAP_S * STANDING_MPS;
        }
        if use_ == Use::Level {
            let (tilt_deg, bearings_from) = (0.0, Bearings::North);
            profile.terminal = Terminal { tilt_deg, bearings_from, blocked: Vec::new(), ..profile.terminal };
        }
        profile
    }
    /// The sky of a latitude.
    pub fn of(&self, key: i32, use_: Use) -> Rc<LinkSky> {
        let made = || Rc::new(LinkSky::new(&self.timelines.of(key), self.timelines.grid, &self.profile(use_)));
        Rc::clone(self.made.borrow_mut().entry((key, use_)).or_insert_with(made))
    }
}
