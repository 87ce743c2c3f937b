//! The search for the day that costs least: every departure within the limits, every place to stop, every stay that a
//! rule or a meeting gives a reason for.
//!
//! Places stand in the order of the drive, so a day is a path from the start over some of them to the end. What later
//! parts of a path cost depends only on the place one leaves, the minute, and the hours at the wheel since the last break,
//! change of drivers and night: paths that agree in these are one, and the cheapest is kept. That is exhaustive: no path
//! within the limits is cheaper than the one found. Only whole minutes of departure are tried.
//!
//! Where the travellers are named, every leg from stop to stop has the driver with whom its meetings cost least; a meeting that
//! nobody is free to hold then costs as much as one that is interrupted for sure.
use std::cell::Cell;
use std::collections::BTreeMap;

use super::agenda::{Agenda, Weighed};
use super::crew::{self, MeetingOnLeg};
use super::day::Day;
use super::kind::Kind;
use super::risk;
use super::span::{Doing, Span};

/// Why one stays.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Why {
    /// Another person takes the wheel.
    Change,
    /// The break the rules ask for.
    Break,
    /// A meeting is held: its place in the day's list.
    Meeting(usize),
    /// The night.
    Night,
}

/// What a search may do.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Freedom {
    /// Other departures than the one asked for.
    pub shift: bool,
    /// Stops for meetings.
    pub stop: bool,
    /// Nights on the way.
    pub nights: bool,
    /// Rules of breaks and drivers are kept.
    pub rules: bool,
    /// Breaks and changes also in the first half of what a rule allows.
    pub early: bool,
}

/// A stay at a place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Stay {
    /// Place in the day's list.
    pub halt: usize,
    /// Arrival, seconds since 1970-01-01 UTC.
    pub arrive_s: i64,
    /// Departure.
    pub leave_s: i64,
    /// Reason.
    pub why: Why,
}

/// A day found.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct FoundDay {
    /// Departure, seconds since 1970-01-01 UTC.
    pub depart_s: i64,
    /// Arrival.
    pub arrive_s: i64,
    /// Stays, in order.
    pub stays: Vec<Stay>,
    /// Cost, minutes (see [`super::rules::Worth`]).
    pub cost_min: f64,
    /// Partial paths compared.
    pub compared: usize,
}

/// A partial path that leaves a place. Times at the wheel in seconds.
#[derive(Debug, Clone, Copy)]
struct Leaving {
    leave_s: i64,
    since: Since,
    cost_min: f64,
    stay: Option<Stay>,
    /// Index of the one it continues.
    before: Option<usize>,
}

/// Seconds at the wheel since things that rules count from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
struct Since {
    break_s: i64,
    change_s: i64,
    night_s: i64,
}

type PathKey = (i64, Since);

/// Days kept: figures of the layer only rank them, and what simulated drives say may rank them otherwise.
pub(crate) const MOST_KEPT: usize = 10;

/// More partial paths than this are not compared; the caller asks again with fewer places.
pub(crate) const MOST_COMPARED: usize = 4_000_000;

/// Nor are meetings weighed more often than this.
const MOST_WEIGHINGS: usize = 200_000_000;

/// The cheapest days, cheapest first, [`MOST_KEPT`] at most; none where no day keeps the rules.
///
/// # Errors
/// More than [`MOST_COMPARED`] partial paths, or more meetings along them than can be weighed.
pub fn search(day: &Day, freedom: Freedom, most_cost_min: f64) -> Result<Vec<FoundDay>, TooMany> {
    let agenda = Agenda::of(day.meetings);
    let (paths, weighings) = (Vec::new(), Cell::new(0));
    DaySearch { day, agenda, freedom, paths, best: Vec::new(), most_cost_min, compared: 0, weighings }.run()
}

/// The search would not end in reasonable time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct TooMany;

struct DaySearch<'a> {
    day: &'a Day<'a>,
    agenda: Agenda,
    freedom: Freedom,
    paths: Vec<Leaving>,
    /// Cost, arrival and last path of the cheapest days, cheapest first.
    best: Vec<(f64, i64, usize)>,
    most_cost_min: f64,
    compared: usize,
    weighings: Cell<usize>,
}

impl DaySearch<'_> {
    fn run(mut self) -> Result<Vec<FoundDay>, TooMany> {
        // By place, then by key: indices into `paths`.
        let mut open: Vec<BTreeMap<PathKey, usize>> = vec![BTreeMap::new(); self.day.halts.len() + 1];
        for leave_s in self.departures() {
            let shift_min = (leave_s - self.day.depart_s).abs() as f64 / 60.0;
            let cost_min = shift_min * self.day.rules.worth.shift_min + self.before_trip(leave_s);
            let path = Leaving { leave_s, since: Since::default(), cost_min, stay: None, before: None };
            open[0].insert((leave_s, path.since), self.paths.len());
            self.paths.push(path);
        }
        for place in 0..open.len() {
            for index in std::mem::take(&mut open[place]).into_values() {
                self.reach_end(place, index);
                for halt in place..self.day.halts.len() {
                    self.reach_halt(place, index, halt, &mut open[halt + 1]);
                }
                if self.compared > MOST_COMPARED || self.weighings.get() > MOST_WEIGHINGS {
                    return Err(TooMany);
                }
            }
        }
        Ok(self.best.iter().map(|best| self.found(*best)).collect())
    }

    fn departures(&self) -> Vec<i64> {
        let d = &self.day.rules.departure;
        if !self.freedom.shift {
            return vec![self.day.depart_s];
        }
        let step = i64::from(d.step_min.max(1));
        let (earlier, later) = (i64::from(d.earlier_min) / step, i64::from(d.later_min) / step);
        (-earlier..=later).map(|i| self.day.depart_s + i * step * 60).collect()
    }

    /// Seconds at the wheel along the road where a place (0 is the start) lies, and seconds off the road.
    fn place(&self, place: usize) -> (f64, f64) {
        match place.checked_sub(1).map(|i| &self.day.halts[i]) {
            Some(halt) => (self.day.drive.seconds_at(halt.at_km), halt.off_road_s(&self.day.rules.stopping)),
            None => (0.0, 0.0),
        }
    }

    /// The drive from a place to where the road has been driven for `to_wheel_s`, and `off_s` off it; nothing where the
    /// rules forbid it.
    fn drive(&self, place: usize, path: &Leaving, to_wheel_s: f64, off_s: f64) -> Option<(Span, Since)> {
        let (from_wheel_s, own_off_s) = self.place(place);
        let seconds = (own_off_s + (to_wheel_s - from_wheel_s).max(0.0) + off_s).ceil() as i64;
        let to_s = path.leave_s + seconds;
        let since = Since {
            break_s: path.since.break_s + seconds,
            change_s: path.since.change_s + seconds,
            night_s: path.since.night_s + seconds,
        };
        let d = &self.day.rules.driving;
        let keeps = |seconds: i64, hours: f64| seconds as f64 <= hours * 3_600.0;
        let alone = d.drivers < 2;
        let rules = keeps(since.break_s, d.break_after_h) && (alone || keeps(since.change_s, d.change_after_h));
        let hours = keeps(since.night_s, d.day_h) && self.day.in_driving_hours(path.leave_s, to_s);
        let doing = Doing::Driving {
            wheel_from_s: from_wheel_s,
            wheel_to_s: to_wheel_s.max(from_wheel_s),
            off_road_s: own_off_s,
        };
        (!self.freedom.rules || (rules && hours)).then_some((Span { from_s: path.leave_s, to_s, doing }, since))
    }

    fn reach_end(&mut self, place: usize, index: usize) {
        let path = self.paths[index];
        let Some((span, _)) = self.drive(place, &path, self.day.drive.length_s(), 0.0) else { return };
        if !self.day.in_time(span.to_s) && self.freedom.rules {
            return;
        }
        self.compared += 1;
        let after = Span { from_s: span.to_s, to_s: i64::MAX, doing: Doing::AfterTrip };
        let cost_min = path.cost_min + self.meetings(&span) + self.meetings(&after);
        if cost_min < self.bound_min() {
            let place = self.best.partition_point(|b| b.0 <= cost_min);
            self.best.insert(place, (cost_min, span.to_s, index));
            self.best.truncate(MOST_KEPT);
        }
    }

    /// What costs this much or more is not kept.
    fn bound_min(&self) -> f64 {
        let worst_kept = self.best.get(MOST_KEPT - 1).map_or(f64::INFINITY, |b| b.0);
        worst_kept.min(self.most_cost_min)
    }

    fn reach_halt(&mut self, place: usize, index: usize, halt: usize, open: &mut BTreeMap<PathKey, usize>) {
        let path = self.paths[index];
        let (wheel_s, off_s) = self.place(halt + 1);
        let Some((span, since)) = self.drive(place, &path, wheel_s, off_s) else { return };
        let driven_min = path.cost_min + self.meetings(&span);
        for (leave_s, why) in self.stays(halt, span.to_s, since) {
            self.compared += 1;
            let stay = Stay { halt, arrive_s: span.to_s, leave_s, why };
            let cost_min = driven_min + self.cost_of(&stay);
            // What follows never costs less than nothing.
            if cost_min >= self.bound_min() {
                continue;
            }
            let since = self.after(&stay, since);
            let path = Leaving { leave_s, since, cost_min, stay: Some(stay), before: Some(index) };
            match open.entry((leave_s, since)) {
                std::collections::btree_map::Entry::Vacant(free) => {
                    free.insert(self.paths.len());
                    self.paths.push(path);
                }
                // Nothing continues from here yet: the place is expanded after all that lead to it.
                std::collections::btree_map::Entry::Occupied(taken) => {
                    let known = &mut self.paths[*taken.get()];
                    if cost_min < known.cost_min {
                        *known = path;
                    }
                }
            }
        }
    }

    /// Whether a break or a change may be made: nobody wants one after ten minutes, and a break is not a way round a meeting.
    fn due(&self, since_s: i64, allowed_h: f64) -> bool {
        self.freedom.early || since_s as f64 >= 0.5 * allowed_h * 3_600.0
    }

    /// When one may leave again, and why one stayed.
    fn stays(&self, halt: usize, arrive_s: i64, since: Since) -> Vec<(i64, Why)> {
        let (rules, place) = (self.day.rules, &self.day.halts[halt]);
        let after = |minutes: f64| full_minute(arrive_s + (minutes * 60.0).ceil() as i64);
        let mut out = Vec::new();
        // Under a roof nobody knows the clearance.
        let quiet = |leave_s: i64| !self.cuts_a_call(arrive_s, leave_s);
        let rest_s = after(rules.driving.break_min);
        if self.due(since.break_s, rules.driving.break_after_h) && !place.roofed && quiet(rest_s) {
            out.push((rest_s, Why::Break));
        }
        let two = rules.driving.drivers > 1 && rules.driving.change_min < rules.driving.break_min;
        let change_s = after(rules.driving.change_min);
        if two && !place.roofed && self.due(since.change_s, rules.driving.change_after_h) && quiet(change_s) {
            out.push((change_s, Why::Change));
        }
        let sky = place.meetings && place.best_open_share.max(place.open_share) >= rules.stopping.least_open;
        if self.freedom.stop && sky {
            out.extend(self.meeting_stays(arrive_s, after(rules.driving.change_min)));
        }
        if self.freedom.nights && place.overnight && !place.roofed && since.night_s > 0 {
            out.extend(self.day.next_morning_s(arrive_s).map(|morning| (full_minute(morning), Why::Night)));
        }
        out
    }

    /// Stays for meetings, `least_s` the earliest end of one. Of those that end in the same minute the first is enough:
    /// whoever stays that long holds the others too.
    fn meeting_stays(&self, arrive_s: i64, least_s: i64) -> impl Iterator<Item = (i64, Why)> + use<> {
        let stopping = &self.day.rules.stopping;
        let wait_s = (stopping.longest_wait_min * 60.0).floor() as i64;
        let pack_s = (stopping.pack_up_min * 60.0).ceil() as i64;
        let mut firsts: BTreeMap<i64, usize> = BTreeMap::new();
        for m in self.agenda.touching(arrive_s, arrive_s + wait_s + 1).iter().filter(|m| m.end_s > arrive_s) {
            let leave_s = full_minute(m.end_s + pack_s).max(least_s);
            let first = firsts.entry(leave_s).or_insert(m.first);
            *first = m.first.min(*first);
        }
        firsts.into_iter().map(|(leave_s, first)| (leave_s, Why::Meeting(first)))
    }

    fn after(&self, stay: &Stay, since: Since) -> Since {
        let d = &self.day.rules.driving;
        let long = |minutes: f64| (stay.leave_s - stay.arrive_s) as f64 >= minutes * 60.0;
        Since {
            break_s: if long(d.break_min) { 0 } else { since.break_s },
            change_s: if d.drivers > 1 && long(d.change_min) { 0 } else { since.change_s },
            night_s: if stay.why == Why::Night { 0 } else { since.night_s },
        }
    }

    fn cost_of(&self, stay: &Stay) -> f64 {
        let worth = &self.day.rules.worth;
        let minutes = (stay.leave_s - stay.arrive_s) as f64 / 60.0;
        worth.each_stop_min + minutes * worth.stop_min + self.meetings(&span_of(self.day, stay))
    }

    fn before_trip(&self, leave_s: i64) -> f64 {
        self.meetings(&Span { from_s: i64::MIN, to_s: leave_s, doing: Doing::BeforeTrip })
    }

    /// What a span costs by the meetings in it. Parts of one meeting are added up, which is never less than the whole.
    fn meetings(&self, span: &Span) -> f64 {
        let touched = self.agenda.touching(span.from_s, span.to_s);
        self.weighings.set(self.weighings.get() + touched.len());
        leg(self.day, span, touched).1
    }

    /// Whether a stay begins or ends inside a call that goes on in motion: then nobody changes drivers or takes a break.
    fn cuts_a_call(&self, from_s: i64, to_s: i64) -> bool {
        let cut = |m: &&Weighed| m.kind != Kind::Messages && m.start_s < to_s && m.end_s > from_s;
        let goes_on = |m: &Weighed| m.start_s < from_s || m.end_s > to_s;
        self.agenda.touching(from_s, to_s).iter().filter(cut).any(goes_on)
    }

    fn found(&self, (cost_min, arrive_s, index): (f64, i64, usize)) -> FoundDay {
        let (mut stays, mut at) = (Vec::new(), index);
        loop {
            let path = &self.paths[at];
            stays.extend(path.stay);
            match path.before {
                Some(before) => at = before,
                None => break,
            }
        }
        stays.reverse();
        FoundDay { depart_s: self.paths[at].leave_s, arrive_s, stays, cost_min, compared: self.compared }
    }
}

/// Who drives a span, where anybody is named, and what the meetings in it cost.
pub(crate) fn leg(day: &Day, span: &Span, meetings: &[Weighed]) -> (Option<usize>, f64) {
    let price = |m: &Weighed| {
        let toll = span.toll(day, m.kind, m.start_s, m.end_s);
        day.rules.worth.of(m.kind) * risk::probability(toll.long_outages) * m.count
    };
    if day.rules.crew.is_empty() || !matches!(span.doing, Doing::Driving { .. }) {
        return (None, meetings.iter().map(price).sum());
    }
    let touched = meetings.iter().filter(|m| span.overlap(m.start_s, m.end_s).is_some());
    let on_leg =
        |m: &Weighed| MeetingOnLeg { of: m.of, held_min: price(m), missed_min: day.rules.worth.of(m.kind) * m.count };
    crew::driver(&day.rules.crew, &touched.map(on_leg).collect::<Vec<_>>())
}

/// The span of a stay; the panel is put out where a meeting is held.
pub(crate) fn span_of(day: &Day, stay: &Stay) -> Span {
    let out_s = match stay.why {
        Why::Meeting(_) => stay.arrive_s + (day.rules.stopping.set_up_min * 60.0).ceil() as i64,
        _ => i64::MAX,
    };
    Span { from_s: stay.arrive_s, to_s: stay.leave_s, doing: Doing::Stopped { halt: stay.halt, out_s } }
}

/// Spans of a whole day, from before the trip to after it.
pub fn spans(day: &Day, found: &FoundDay) -> Vec<Span> {
    let mut out = vec![Span { from_s: i64::MIN, to_s: found.depart_s, doing: Doing::BeforeTrip }];
    let (mut from_s, mut wheel_s, mut off_s) = (found.depart_s, 0.0, 0.0);
    for stay in &found.stays {
        let halt = &day.halts[stay.halt];
        let to = day.drive.seconds_at(halt.at_km).max(wheel_s);
        let doing = Doing::Driving { wheel_from_s: wheel_s, wheel_to_s: to, off_road_s: off_s };
        out.push(Span { from_s, to_s: stay.arrive_s, doing });
        out.push(span_of(day, stay));
        (from_s, wheel_s, off_s) = (stay.leave_s, to, halt.off_road_s(&day.rules.stopping));
    }
    let end = day.drive.length_s();
    let doing = Doing::Driving { wheel_from_s: wheel_s, wheel_to_s: end, off_road_s: off_s };
    out.push(Span { from_s, to_s: found.arrive_s, doing });
    out.push(Span { from_s: found.arrive_s, to_s: i64::MAX, doing: Doing::AfterTrip });
    out
}

fn full_minute(at_s: i64) -> i64 {
    at_s + (60 - at_s.rem_euclid(60)) % 60
}
