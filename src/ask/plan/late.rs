//! What becomes of a day that begins late: the same stops, as far as there is still a reason for them, and another day from
//! there where meetings fare better in it.
use serde::Serialize;

use super::agenda::Agenda;
use super::day::Day;
use super::held::{Itinerary, itinerary};
use super::rank::Teller;
use super::search::{FoundDay, Freedom, Stay, Why, leg, search, spans};
use super::span::Doing;
use super::told::Depth;
use crate::base::error::Result;
use crate::base::words::DayWay;

/// How late one leaves, minutes after the time of the plan.
pub(super) const LATE_MIN: [u32; 3] = [15, 30, 60];

/// A day is offered instead of the late one where it costs at least this much less, minutes: what is nearer is a matter of luck in
/// simulated drives.
const BETTER_MIN: f64 = 5.0;

/// A day that begins late.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LateDay {
    /// Minutes after the time of the plan.
    pub late_min: u32,
    /// What becomes of it with the stops of the plan.
    pub same_stops: Itinerary,
    /// Places of the plan at which one no longer stops: the meeting there is over when one arrives.
    pub passed: Vec<String>,
    /// The rules of driving are kept, and the latest arrival.
    pub rules_kept: bool,
    /// A day from there with other stops, where it costs less.
    pub instead: Option<Itinerary>,
}

/// The days that begin late.
///
/// # Errors
/// The layer cannot be read.
pub(super) fn late_days(teller: &Teller, found: &FoundDay, freedom: Freedom) -> Result<Vec<LateDay>> {
    LATE_MIN.iter().map(|late_min| late_day(teller, found, freedom, *late_min)).collect()
}

fn late_day(teller: &Teller, found: &FoundDay, freedom: Freedom, late_min: u32) -> Result<LateDay> {
    let day = teller.day;
    let (late, passed) = later(day, found, i64::from(late_min) * 60);
    let late = FoundDay { cost_min: teller.cost_min(&late)?, ..late };
    let rules_kept = keeps_rules(day, &late);
    let anew = Day { depart_s: late.depart_s, ..day.clone() };
    // With as many places as the day itself was searched with too many paths are rare; then the same stops are all that is said.
    let freedom = Freedom { shift: false, stop: true, ..freedom };
    let days = search(&anew, freedom, f64::INFINITY).unwrap_or_default();
    let best = teller.best(days)?;
    let better = |b: &FoundDay| b.stays != late.stays && (b.cost_min + BETTER_MIN <= late.cost_min || !rules_kept);
    let instead = best.filter(better).map(|best| itinerary(teller, DayWay::LateOtherStops, &best, Depth::Tell));
    let same_stops = itinerary(teller, DayWay::Late, &late, Depth::Tell)?;
    Ok(LateDay { late_min, same_stops, passed, rules_kept, instead: instead.transpose()? })
}

/// The day with the same stops, some seconds later, and the names of places one no longer stops at.
fn later(day: &Day, found: &FoundDay, late_s: i64) -> (FoundDay, Vec<String>) {
    let break_s = (day.rules.driving.break_min * 60.0).ceil() as i64;
    let (mut leave_s, mut wheel_s, mut off_s) = (found.depart_s + late_s, 0.0, 0.0);
    let (mut stays, mut passed) = (Vec::new(), Vec::new());
    let after = |leave_s: i64, drive_s: f64| leave_s + drive_s.ceil() as i64;
    for stay in &found.stays {
        let halt = &day.halts[stay.halt];
        let (to, own_off_s) = (day.drive.seconds_at(halt.at_km).max(wheel_s), halt.off_road_s(&day.rules.stopping));
        let arrive_s = after(leave_s, off_s + to - wheel_s + own_off_s);
        let planned_s = stay.leave_s - stay.arrive_s;
        let leaves_s = match stay.why {
            Why::Change | Why::Break => arrive_s + planned_s,
            // What the stop is for, and a break if it was one.
            Why::Meeting(m) if day.meetings[m].judged_end_s() > arrive_s => {
                stay.leave_s.max(arrive_s + planned_s.min(break_s))
            }
            Why::Meeting(_) => {
                passed.push(halt.name.clone());
                continue;
            }
            Why::Night => stay.leave_s.max(arrive_s),
        };
        stays.push(Stay { arrive_s, leave_s: leaves_s, ..*stay });
        (leave_s, wheel_s, off_s) = (leaves_s, to, own_off_s);
    }
    let arrive_s = after(leave_s, off_s + day.drive.length_s() - wheel_s);
    let late = FoundDay { depart_s: found.depart_s + late_s, arrive_s, stays, cost_min: 0.0, compared: 0 };
    let cost_min = by_figures(day, &late);
    (FoundDay { cost_min, ..late }, passed)
}

/// What a day costs by figures of the layer, minutes, as the search reckons it but for the shift of its departure.
fn by_figures(day: &Day, found: &FoundDay) -> f64 {
    let (agenda, worth) = (Agenda::of(day.meetings), &day.rules.worth);
    let stays =
        found.stays.iter().map(|s| worth.each_stop_min + (s.leave_s - s.arrive_s) as f64 / 60.0 * worth.stop_min);
    let meetings = spans(day, found).into_iter().map(|s| leg(day, &s, agenda.touching(s.from_s, s.to_s)).1);
    stays.sum::<f64>() + meetings.sum::<f64>()
}

/// Whether a day keeps the hours, the breaks and changes, and the latest arrival.
fn keeps_rules(day: &Day, found: &FoundDay) -> bool {
    let d = &day.rules.driving;
    let (mut break_s, mut change_s, mut night_s) = (0, 0, 0);
    let within = |seconds: i64, hours: f64| seconds as f64 <= hours * 3_600.0;
    let mut stays = found.stays.iter();
    for span in spans(day, found) {
        match span.doing {
            Doing::Driving { .. } => {
                let seconds = span.to_s - span.from_s;
                (break_s, change_s, night_s) = (break_s + seconds, change_s + seconds, night_s + seconds);
                let drivers = d.drivers < 2 || within(change_s, d.change_after_h);
                let keeps = within(break_s, d.break_after_h) && drivers && within(night_s, d.day_h);
                if !keeps || !day.in_driving_hours(span.from_s, span.to_s) {
                    return false;
                }
            }
            Doing::Stopped { .. } => {
                let Some(stay) = stays.next() else { continue };
                let long = |minutes: f64| (stay.leave_s - stay.arrive_s) as f64 >= minutes * 60.0;
                break_s = if long(d.break_min) { 0 } else { break_s };
                change_s = if d.drivers > 1 && long(d.change_min) { 0 } else { change_s };
                night_s = if stay.why == Why::Night { 0 } else { night_s };
            }
            Doing::BeforeTrip | Doing::AfterTrip => {}
        }
    }
    day.in_time(found.arrive_s)
}
