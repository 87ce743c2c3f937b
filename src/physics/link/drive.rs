//! One simulated drive: which satellite serves, when the link is lost, when it returns.
//!
//! The drive goes from border to border (see `place`); within such a piece only what stands
//! overhead changes, and its shadows are placed in continuous time. A satellite stands still within
//! a second of the timeline: overhead it moves at most 0.8 degrees a second (7.6 km/s at 550 km), five
//! centimetres of the shadow of a deck three metres up.
//!
//! The rules. One satellite serves. At the border of a slot, while the link holds, one is drawn among
//! those in open sky; if it leaves the usable cone, another in open sky takes over without an outage.
//! When the serving one is blocked the link is lost; it returns when the block passes, or, from
//! the reselection time on, as soon as any usable satellite stands in open sky. A stroke starts on a
//! satellite in open sky if there is one; else the link is down from the start and already searching. Among several
//! in open sky those seen through crowns come last; and a search that an outage began is finished though the link came back
//! before, as between trees, and hands over to a satellite that stands clearer.
use super::draw::Draw;
use super::hiding::{Hiding, OnLeg};
use super::model::Stretch;
use super::place::DriveMoment;
use super::road::{Leg, StrokeRoad};
use super::rules::{Candidate, LinkRules};
use super::stats::{DriveTally, Outage};
use crate::physics::link::model::OutageStats;
use crate::physics::orbit::model::{Sighting, Timeline};
use crate::physics::sky::mask::SkyGrid;
use crate::profile::Profile;

/// Names of draws.
mod draws {
    pub(crate) const TIMELINE_START: u64 = 1;
    pub(crate) const GAP_OFFSET: u64 = 2;
    pub(crate) const USABLE: u64 = 3;
    pub(crate) const CANOPY: u64 = 4;
    pub(crate) const SLOT: u64 = 5;
}

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
    let rules = LinkRules::new(grid, profile);
    let road = StrokeRoad::new(stroke, rules.lowest_elevation_deg.min(grid.floor_deg));
    let drives = profile.link.drives.max(1);
    let edges = &profile.rating;
    let edges_s = [edges.blips_outage_s, edges.gaps_outage_s, edges.drops_outage_s];
    let mut tally = DriveTally::new(&road, drives as usize, edges_s);
    for nth in 0..drives {
        let drive = Drive::new(&road, timeline, &rules, drive_key(profile, stroke_key, nth), nth, drives);
        tally.add(&road, nth as usize, &drive.outages());
    }
    tally.finish(&road, profile.rating.window_s)
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
    let rules = LinkRules::new(grid, profile);
    let road = StrokeRoad::new(stroke, rules.lowest_elevation_deg.min(grid.floor_deg));
    let key = drive_key(profile, stroke_key, nth);
    Drive::new(&road, timeline, &rules, key, nth, profile.link.drives.max(1)).outages()
}

/// Where on the timeline a simulated drive starts, seconds.
pub fn timeline_start_s(timeline: &Timeline, profile: &Profile, stroke_key: u64, nth: u32) -> f64 {
    let key = drive_key(profile, stroke_key, nth);
    stratified_start_s(timeline, key, nth, profile.link.drives.max(1))
}

fn drive_key(profile: &Profile, stroke_key: u64, nth: u32) -> Draw {
    Draw::root(profile.link.seed).of(stroke_key).of(u64::from(nth))
}

/// Every simulated drive has its own share of the timeline and starts somewhere in it.
fn stratified_start_s(timeline: &Timeline, key: Draw, nth: u32, drives: u32) -> f64 {
    let seconds = timeline.starts.len().saturating_sub(1) as f64;
    seconds * (f64::from(nth) + key.of(draws::TIMELINE_START).unit()) / f64::from(drives)
}

#[derive(Debug, Clone, Copy)]
enum LinkState {
    Up(Candidate),
    Down { since_s: f64, retry_s: f64, served: Option<Candidate> },
}

struct Drive<'a> {
    road: &'a StrokeRoad<'a>,
    timeline: &'a Timeline,
    rules: &'a LinkRules,
    key: Draw,
    place: DriveMoment<'a>,
    link: LinkState,
    /// Usable satellites of this moment, filled when first asked for.
    sky: Vec<Candidate>,
    sky_is_current: bool,
    /// When a search that an outage began is over, seconds; the link may be back before that.
    search_ends_s: Option<f64>,
    /// Until this place, metres along the stroke, shadows hide every satellite of the list.
    hidden_until_m: f64,
    hiding: Hiding<'a>,
    outages: Vec<Outage>,
}

impl<'a> Drive<'a> {
    fn new(
        road: &'a StrokeRoad<'a>,
        timeline: &'a Timeline,
        rules: &'a LinkRules,
        key: Draw,
        nth: u32,
        drives: u32,
    ) -> Self {
        let start_s = stratified_start_s(timeline, key, nth, drives);
        let offset_m = rules.gap_length_m * key.of(draws::GAP_OFFSET).unit();
        Self {
            road,
            timeline,
            rules,
            key,
            place: DriveMoment::start(road, start_s, rules.slot_s, rules.gap_length_m, offset_m),
            link: LinkState::Down { since_s: 0.0, retry_s: 0.0, served: None },
            sky: Vec::new(),
            sky_is_current: false,
            search_ends_s: None,
            hidden_until_m: f64::NEG_INFINITY,
            hiding: Hiding::new(key),
            outages: Vec::new(),
        }
    }

    fn outages(mut self) -> Vec<Outage> {
        self.pass_borders();
        if let Some(open) = self.draw_open() {
            self.link = LinkState::Up(open);
        }
        while let Some(leg) = self.place.leg() {
            let to_s = self.place.next_s();
            self.drive_piece(leg, to_s);
            self.place.time_s = to_s;
            self.pass_borders();
        }
        if let LinkState::Down { since_s, .. } = self.link {
            self.record(since_s, self.road.duration_s());
        }
        self.outages
    }

    /// Goes to the end of a piece, through as many outages as its shadows make.
    fn drive_piece(&mut self, leg: &Leg, to_s: f64) {
        loop {
            let now_s = self.place.time_s;
            match self.link {
                LinkState::Up(served) => {
                    let Some(blocked_s) = self.hiding.first_blocked_s(self.on(leg), &served, now_s, to_s) else {
                        return;
                    };
                    self.place.time_s = blocked_s;
                    self.link = self.down(blocked_s, Some(served));
                }
                LinkState::Down { since_s, retry_s, served } => {
                    let Some((open_s, next)) = self.first_return(leg, served, retry_s, to_s) else {
                        return;
                    };
                    self.place.time_s = open_s;
                    self.record(since_s, open_s);
                    self.search_ends_s = (open_s < retry_s).then_some(retry_s);
                    self.link = LinkState::Up(next);
                }
            }
        }
    }

    /// Passes the borders up to now and does what they ask for.
    fn pass_borders(&mut self) {
        let passed = self.place.pass();
        let Some(leg) = self.place.leg() else { return };
        self.hiding.crowns = self.key.of(draws::CANOPY).of(self.place.gap);
        self.meet_covers(leg);
        if passed.second || (passed.station && self.rules.cone.turns()) {
            self.sky_is_current = false;
            self.follow_served(leg);
        }
        self.finish_search(leg);
        if passed.slot
            && matches!(self.link, LinkState::Up(_))
            && let Some(drawn) = self.draw_open()
        {
            self.link = LinkState::Up(drawn);
        }
    }

    /// Brings the serving satellite to this moment; one that has left the cone is handed over.
    fn follow_served(&mut self, leg: &Leg) {
        let heading_deg = leg.heading_deg(self.place.station);
        match self.link {
            LinkState::Up(served) => {
                self.link = match self.find(served.satellite, heading_deg).or_else(|| self.draw_open()) {
                    Some(next) => LinkState::Up(next),
                    None => self.down(self.place.time_s, None),
                };
            }
            LinkState::Down { since_s, retry_s, served } => {
                let served = served.and_then(|s| self.find(s.satellite, heading_deg));
                self.link = LinkState::Down { since_s, retry_s, served };
            }
        }
    }

    /// A search goes on when the link is back before it ends; what it finds takes over, without an outage, where it stands
    /// clearer of crowns than the serving one.
    fn finish_search(&mut self, leg: &Leg) {
        if !self.search_ends_s.is_some_and(|end_s| end_s <= self.place.time_s) {
            return;
        }
        self.search_ends_s = None;
        if let LinkState::Up(served) = self.link
            && self.hiding.dimness(self.on(leg), &served) > 0
            && self.hiding.is_open(self.on(leg), &served, self.place.time_s)
            && let Some(found) = self.draw_open()
            && self.hiding.dimness(self.on(leg), &found) < self.hiding.dimness(self.on(leg), &served)
        {
            self.link = LinkState::Up(found);
        }
    }

    fn down(&self, since_s: f64, served: Option<Candidate>) -> LinkState {
        LinkState::Down { since_s, retry_s: since_s + self.rules.reselection_s, served }
    }

    fn record(&mut self, start_s: f64, end_s: f64) {
        if end_s > start_s {
            self.outages.push(Outage { start_s, end_s });
        }
    }

    /// Keeps the covers that can hide anything up to the next border.
    fn meet_covers(&mut self, leg: &Leg) {
        if self.road.covers.is_empty() {
            return;
        }
        let (from_m, to_m) = (leg.place_m(self.place.time_s), leg.place_m(self.place.next_s()));
        self.hiding.meet(self.road, from_m, to_m);
    }

    fn on<'l>(&self, leg: &'l Leg<'l>) -> OnLeg<'l> {
        OnLeg { leg, station: self.place.station }
    }

    fn sightings(&self) -> &'a [Sighting] {
        let timeline: &'a Timeline = self.timeline;
        if timeline.starts.len() < 2 {
            &[]
        } else {
            timeline.at((self.place.second % timeline.seconds() as u64) as usize)
        }
    }

    fn find(&self, satellite: u32, heading_deg: f64) -> Option<Candidate> {
        let sightings = self.sightings();
        let found = sightings.binary_search_by_key(&satellite, |s| s.satellite).ok()?;
        self.rules.candidate(sightings.get(found)?, heading_deg)
    }

    /// Fills the list of usable satellites for this moment.
    fn look_up(&mut self) {
        if self.sky_is_current {
            return;
        }
        let heading_deg = self.place.leg().map_or(0.0, |leg| leg.heading_deg(self.place.station));
        let (rules, usable) = (self.rules, self.key.of(draws::USABLE));
        let sightings = self.sightings();
        self.sky.clear();
        self.sky.extend(
            sightings
                .iter()
                .filter(|s| usable.of(u64::from(s.satellite)).unit() < rules.usable_share)
                .filter_map(|s| rules.candidate(s, heading_deg)),
        );
        self.sky_is_current = true;
        self.hidden_until_m = f64::NEG_INFINITY;
    }

    /// Draws one of the usable satellites that stand in open sky now.
    fn draw_open(&mut self) -> Option<Candidate> {
        let leg = self.place.leg()?;
        self.look_up();
        let on = self.on(leg);
        let open = self.sky.iter().filter(|c| self.hiding.is_open(on, c, self.place.time_s));
        self.favourite(on, open)
    }

    /// Draws by preference among those seen most clearly: a satellite seen through a gap between crowns is weaker than
    /// one in clear sky. The key of a draw is `ln(u) / weight` and the greatest wins, which picks
    /// each with probability in proportion to its weight (Efraimidis and Spirakis 2006); so taking
    /// one satellite away does not change the order of the others.
    fn favourite<'c>(&self, on: OnLeg, among: impl Iterator<Item = &'c Candidate>) -> Option<Candidate> {
        let slot = self.key.of(draws::SLOT).of(self.place.slot);
        let draw = |c: &Candidate| slot.of(u64::from(c.satellite)).unit().ln() / self.rules.preference(c);
        let keyed = among.map(|c| (self.hiding.dimness(on, c), draw(c), *c));
        let best = keyed.min_by(|a, b| a.0.cmp(&b.0).then(b.1.total_cmp(&a.1)));
        best.map(|(_, _, candidate)| candidate)
    }

    /// When, in a piece, the link returns and on which satellite.
    fn first_return(
        &mut self,
        leg: &Leg,
        served: Option<Candidate>,
        retry_s: f64,
        to_s: f64,
    ) -> Option<(f64, Candidate)> {
        let now_s = self.place.time_s;
        let on = self.on(leg);
        let served = served.and_then(|s| Some((self.hiding.first_open_s(on, &s, now_s, to_s)?, s)));
        let from_s = now_s.max(retry_s);
        // No other can be earlier than its retry, so a served one that returns before needs no search.
        if from_s >= to_s || served.is_some_and(|(open_s, _)| open_s <= from_s) {
            return served;
        }
        self.look_up();
        let end_m = leg.place_m(to_s);
        if end_m > self.hidden_until_m {
            self.hidden_until_m = self.hiding.shadows_until_m(&self.sky, leg.place_m(from_s));
        }
        if end_m <= self.hidden_until_m {
            return served;
        }
        let first_s = |c: &Candidate| self.hiding.first_open_s(on, c, from_s, to_s);
        let Some(soonest_s) = self.sky.iter().filter_map(first_s).min_by(f64::total_cmp) else {
            return served;
        };
        if served.is_some_and(|(open_s, _)| open_s <= soonest_s) {
            return served;
        }
        let next = self.favourite(on, self.sky.iter().filter(|c| first_s(c) == Some(soonest_s)))?;
        Some((soonest_s, next))
    }
}
