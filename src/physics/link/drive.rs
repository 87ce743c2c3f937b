//! One simulated drive: which satellite serves, when the link is lost, when it returns.
//!
//! The drive goes from border to border (see `place`); within such a piece only what stands overhead changes, and its shadows are
//! placed in continuous time. A satellite stands still within a second of the timeline: overhead it moves at most 0.8 degrees a
//! second (7.6 km/s at 550 km), five centimetres of the shadow of a deck three metres up.
//!
//! The rules. One satellite serves. At the border of a slot, while the link holds, the next one is drawn: in a share of the slots,
//! the awareness, among those in open sky; in the others among all, by elevation alone, as whoever hands out satellites need not know
//! what stands beside a road. If the serving one leaves the usable cone, a draw of the same kind replaces it without an outage.
//! When the serving one is blocked the signal is lost; it returns when the block passes, or, from the reselection time on, as
//! soon as any usable satellite stands in open sky; a glimpse of what was lost does not end that search. What of it all is an
//! outage `hold` says. A stroke starts on a satellite in open sky if there is one; else the link is down from the start and already
//! searching. Among several in open sky those seen through crowns come last; and a search that an outage began is finished though the
//! link came back before, as between trees, and hands over to a satellite that stands clearer.
use super::choice::{Choice, favourite};
use super::draw::Draw;
use super::hiding::{Hiding, OnLeg};
use super::hold::lived;
use super::name::{DriveName, draws};
use super::place::{DriveMoment, Heed};
use super::road::Leg;
use super::sky::Candidate;
use super::stats::Outage;
use super::usable::Usable;
use super::views::CellState;
use super::way::{NextDark, StrokeWay};

#[derive(Debug, Clone, Copy)]
enum LinkState<'a> {
    Up(&'a Candidate),
    Down { since_s: f64, retry_s: f64, served: Option<&'a Candidate> },
}

pub(super) struct Drive<'a> {
    way: &'a StrokeWay<'a>,
    pub usable: Usable<'a>,
    slots: Draw,
    aware: Draw,
    place: DriveMoment<'a>,
    link: LinkState<'a>,
    /// When a search that an outage began is over, seconds; the link may be back before that.
    search_ends_s: Option<f64>,
    /// When the link was last back.
    back_s: f64,
    next_dark: NextDark,
    hiding: Hiding<'a>,
    outages: Vec<Outage>,
}

impl<'a> Drive<'a> {
    pub fn new(way: &'a StrokeWay<'a>, name: DriveName) -> Self {
        let (rules, key) = (&way.sky.rules, name.key);
        let start_s = name.start_s(way.sky.seconds());
        let offset_m = rules.gap_length_m * key.of(draws::GAP_OFFSET).unit();
        Self {
            way,
            usable: Usable::new(way.sky, key.of(draws::USABLE)),
            slots: key.of(draws::SLOT),
            aware: key.of(draws::AWARE),
            place: DriveMoment::start(&way.road, start_s, rules.slot_s, rules.gap_length_m, offset_m),
            link: LinkState::Down { since_s: 0.0, retry_s: 0.0, served: None },
            search_ends_s: None,
            back_s: f64::NEG_INFINITY,
            next_dark: NextDark::default(),
            hiding: Hiding::new(way.sky, way.sky.odds.stratum(name.stratum), key.of(draws::CANOPY)),
            outages: Vec::new(),
        }
    }

    pub fn outages(mut self) -> Vec<Outage> {
        self.pass_borders();
        if let Some(open) = self.draw_open() {
            self.link = LinkState::Up(open);
        }
        while let Some(leg) = self.place.leg() {
            let is_dark = self.is_dark(leg);
            let heed = if is_dark { Heed::Seconds } else { self.heed(leg) };
            if heed == Heed::Every {
                self.hiding.meet_gap(self.place.gap());
            }
            let to_s = self.place.next_s(heed);
            if !is_dark && self.changes_before(leg, to_s) {
                self.catch_up();
            } else {
                let is_gap = !self.way.every_border && to_s < self.place.next_s(Heed::StationsBehind(0));
                self.place.time_s = to_s;
                if is_gap {
                    // All that the border of a gap can end is a search.
                    self.finish_search(leg);
                } else {
                    self.pass_borders();
                }
            }
        }
        if let LinkState::Down { since_s, .. } = self.link {
            self.record(since_s, self.way.road.duration_s());
        }
        lived(&self.way.sky.rules, self.outages, self.way.road.duration_s())
    }

    /// Whether the link is down and a tunnel hides the whole sky for as long as a piece can last.
    fn is_dark(&mut self, leg: &Leg) -> bool {
        let road = &self.way.road;
        // A cone that turns may lose the served satellite at any station.
        if self.way.sky.rules.cone.turns()
            || self.next_dark.is_none(road)
            || self.way.every_border
            || !matches!(self.link, LinkState::Down { .. })
        {
            return false;
        }
        let to_m = leg.place_m(self.place.next_s(Heed::Seconds));
        self.next_dark.holds(road, leg.place_m(self.place.time_s), to_m)
    }

    /// At which borders of stations and gaps what the link depends on may change before the next second or slot.
    fn heed(&mut self, leg: &Leg) -> Heed {
        if self.way.every_border {
            return Heed::Every;
        }
        let on = self.on(leg);
        match self.link {
            LinkState::Up(served) => match self.hiding.cell(on, served) {
                // A search may end at any border.
                CellState::Open(run) if self.search_ends_s.is_none() => self.behind(run),
                _ => Heed::Every,
            },
            LinkState::Down { retry_s, served, .. } => {
                let served_run = match served.map(|s| self.hiding.cell(on, s)) {
                    None => usize::MAX,
                    Some(CellState::Open(run) | CellState::Shut(run)) => run,
                    Some(CellState::Gaps | CellState::Horizon) => return Heed::Every,
                };
                let next = self.behind(0);
                if retry_s >= self.place.next_s(next) {
                    return next;
                }
                self.look_up(leg);
                if self.usable.is_unsure { Heed::Every } else { self.behind(served_run.min(self.usable.shut_run)) }
            }
        }
    }

    /// This many further stations; where the cone turns each of them may show other satellites.
    fn behind(&self, stations: usize) -> Heed {
        Heed::StationsBehind(if self.way.sky.rules.turns { 0 } else { stations })
    }

    /// Goes to the first moment of a piece at which the link is lost or returns; `false` where there is none.
    fn changes_before(&mut self, leg: &Leg, to_s: f64) -> bool {
        let now_s = self.place.time_s;
        match self.link {
            LinkState::Up(served) => {
                let Some(blocked_s) = self.hiding.first_blocked_s(self.on(leg), served, now_s, to_s) else {
                    return false;
                };
                self.place.time_s = blocked_s;
                self.link = self.down(blocked_s, Some(served));
            }
            LinkState::Down { since_s, retry_s, served } => {
                let Some((open_s, next)) = self.first_return(leg, served, retry_s, to_s) else {
                    return false;
                };
                self.place.time_s = open_s;
                self.record(since_s, open_s);
                self.search_ends_s = (open_s < retry_s).then_some(retry_s);
                self.back_s = open_s;
                self.link = LinkState::Up(next);
            }
        }
        true
    }

    /// Passes the borders of stations and gaps that were not heeded up to a change of the link.
    fn catch_up(&mut self) {
        if self.place.pass().station {
            self.usable.pass(false);
        }
    }

    /// Passes the borders up to now and does what they ask for.
    fn pass_borders(&mut self) {
        let passed = self.place.pass();
        let Some(leg) = self.place.leg() else { return };
        self.meet_covers(leg);
        if passed.second || passed.station {
            self.usable.pass(passed.second);
        }
        if passed.second || (passed.station && self.way.sky.rules.turns) {
            self.follow_served(leg, passed.second);
        }
        self.finish_search(leg);
        if passed.slot
            && matches!(self.link, LinkState::Up(_))
            && let Some(drawn) = self.draw_next(self.aware.of(self.place.slot))
        {
            self.link = LinkState::Up(drawn);
        }
    }

    /// Draws the satellite of the next slot, knowing what is hidden or not.
    fn draw_next(&mut self, aware: Draw) -> Option<&'a Candidate> {
        if aware.unit() < self.way.sky.rules.awareness { self.draw_open() } else { self.draw_blindly() }
    }

    /// Draws one of the usable satellites by elevation alone.
    fn draw_blindly(&mut self) -> Option<&'a Candidate> {
        let heading_deg = self.place.leg()?.heading_deg(self.place.station);
        let (sky, slot) = (self.way.sky, self.slots.of(self.place.slot));
        let all = self.usable.of_second(self.place.second).iter().filter(|candidate| sky.sees(candidate, heading_deg));
        let all: Vec<Choice> = all.map(|candidate| Choice { candidate, crowns: 0.0, dimness: 0 }).collect();
        favourite(slot, all.iter())
    }

    /// Brings the serving satellite to this moment, a second later or not; one that has left the cone is handed over.
    fn follow_served(&mut self, leg: &Leg, second: bool) {
        let sky = self.way.sky;
        let heading_deg = leg.heading_deg(self.place.station);
        let find = |served: &'a Candidate| {
            let found = if second { sky.after(served)? } else { served };
            sky.sees(found, heading_deg).then_some(found)
        };
        match self.link {
            LinkState::Up(served) => {
                let aware = self.aware.of(self.place.slot).of(u64::from(served.satellite));
                self.link = match find(served).or_else(|| self.draw_next(aware)) {
                    Some(next) => LinkState::Up(next),
                    None => self.down(self.place.time_s, None),
                };
            }
            LinkState::Down { since_s, retry_s, served } => {
                self.link = LinkState::Down { since_s, retry_s, served: served.and_then(find) };
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
        self.hiding.meet_gap(self.place.gap());
        if let LinkState::Up(served) = self.link
            && self.hiding.dimness(self.on(leg), served) > 0
            && self.hiding.is_open(self.on(leg), served, self.place.time_s)
            && let Some(found) = self.draw_open()
            && self.hiding.dimness(self.on(leg), found) < self.hiding.dimness(self.on(leg), served)
        {
            self.link = LinkState::Up(found);
        }
    }

    fn down(&mut self, since_s: f64, served: Option<&'a Candidate>) -> LinkState<'a> {
        let rules = &self.way.sky.rules;
        // A search goes on through a glimpse of what was lost.
        let goes_on = since_s - self.back_s < rules.glimpse_s;
        let ends_s = self.search_ends_s.filter(|ends_s| goes_on && *ends_s > since_s);
        LinkState::Down { since_s, retry_s: ends_s.unwrap_or(since_s + rules.reselection_s), served }
    }

    fn record(&mut self, start_s: f64, end_s: f64) {
        if end_s > start_s {
            self.outages.push(Outage { start_s, end_s });
        }
    }

    /// Keeps the covers that can hide anything up to the end of the next piece, however far it reaches.
    fn meet_covers(&mut self, leg: &Leg) {
        let road = &self.way.road;
        if self.hiding.is_uncovered_until(road, leg.start_m + leg.length_m()) {
            return;
        }
        let (from_m, to_m) = (leg.place_m(self.place.time_s), leg.place_m(self.place.next_s(Heed::Seconds)));
        self.hiding.meet(road, from_m, to_m);
    }

    fn on<'l>(&self, leg: &'l Leg<'l>) -> OnLeg<'l>
    where
        'a: 'l,
    {
        self.way.on(leg, self.place.leg, self.place.station)
    }

    fn look_up(&mut self, leg: &Leg) {
        self.usable.look_up(&self.hiding, self.on(leg), self.place.second);
    }

    /// Draws one of the usable satellites that stand in open sky now.
    fn draw_open(&mut self) -> Option<&'a Candidate> {
        let leg = self.place.leg()?;
        self.look_up(leg);
        self.hiding.meet_gap(self.place.gap());
        let (hiding, now_s) = (&self.hiding, self.place.time_s);
        let open = self.usable.list().iter().filter(|choice| hiding.lets_through(choice));
        self.favourite(open.filter(|choice| !hiding.is_shadowed(leg, choice.candidate, now_s)))
    }

    fn favourite<'c>(&self, among: impl Iterator<Item = &'c Choice<'a>>) -> Option<&'a Candidate>
    where
        'a: 'c,
    {
        favourite(self.slots.of(self.place.slot), among)
    }

    /// When, in a piece, the link returns and on which satellite.
    fn first_return(
        &mut self,
        leg: &Leg,
        served: Option<&'a Candidate>,
        retry_s: f64,
        to_s: f64,
    ) -> Option<(f64, &'a Candidate)> {
        let now_s = self.place.time_s;
        let on = self.on(leg);
        let served = served.and_then(|s| Some((self.hiding.first_open_s(on, s, now_s, to_s)?, s)));
        let from_s = now_s.max(retry_s);
        // No other can be earlier than its retry, so a served one that returns before needs no search.
        if from_s >= to_s || served.is_some_and(|(open_s, _)| open_s <= from_s) {
            return served;
        }
        self.look_up(leg);
        let hiding = &self.hiding;
        let list = self.usable.list();
        if !hiding.has_covers() {
            // Under crowns most of these searches are in vain; none of them needs a branch.
            if !list.iter().fold(false, |any, choice| any | hiding.lets_through(choice)) {
                return served;
            }
            let open = list.iter().filter(|choice| hiding.lets_through(choice));
            return self.favourite(open).map(|next| (from_s, next)).or(served);
        }
        let end_m = leg.place_m(to_s);
        if end_m > self.usable.hidden_until_m {
            self.usable.hidden_until_m = hiding.shadows_until_m(list, leg.place_m(from_s));
        }
        if end_m <= self.usable.hidden_until_m {
            return served;
        }
        let first_s = |choice: &Choice| self.hiding.first_open_s(on, choice.candidate, from_s, to_s);
        let list = self.usable.list();
        let Some(soonest_s) = list.iter().filter_map(first_s).min_by(f64::total_cmp) else {
            return served;
        };
        if served.is_some_and(|(open_s, _)| open_s <= soonest_s) {
            return served;
        }
        let next = self.favourite(list.iter().filter(|choice| first_s(choice) == Some(soonest_s)))?;
        Some((soonest_s, next))
    }
}
