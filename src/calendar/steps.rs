//! Rules of hours, minutes and seconds with `BY...` parts, which the `rrule` crate gets wrong where an
//! interval has to be counted over hours that are left out (0.14; found by the comparison in `tests/suite/calendar`).
//!
//! The crate is asked for days and their times of day; whether a time is a whole number of intervals from
//! the start is looked at here.
use jiff::civil::DateTime;
use rrule::{Frequency, RRule, Unvalidated};

/// What is left of such a rule beside the days.
#[derive(Debug, Clone)]
pub struct Steps {
    unit_s: i64,
    interval: i64,
    year_days: Vec<i16>,
    /// Instances, where the rule counts them.
    pub count: Option<u32>,
}

/// Length of a unit, seconds; months and years count as days.
pub(crate) fn unit_s(frequency: Frequency) -> i64 {
    match frequency {
        Frequency::Secondly => 1,
        Frequency::Minutely => 60,
        Frequency::Hourly => 3600,
        Frequency::Weekly => 604_800,
        Frequency::Daily | Frequency::Monthly | Frequency::Yearly => 86_400,
    }
}

impl Steps {
    /// The steps of a rule; none where the crate is right as it is.
    pub fn of(rule: &RRule<Unvalidated>) -> Option<Self> {
        let unit_s = unit_s(rule.get_freq());
        if unit_s >= 86_400 || !rule.get_by_set_pos().is_empty() {
            return None;
        }
        let year_days = rule.get_by_year_day().to_vec();
        Some(Self { unit_s, interval: rule.get_interval().into(), year_days, count: rule.get_count() })
    }

    /// The rule of days with the times that come from the start of the event, as the units below the step do.
    pub fn filled(&self, mut rule: RRule<Unvalidated>, start: DateTime) -> RRule<Unvalidated> {
        let own = |n: i8| vec![n.unsigned_abs()];
        if rule.get_by_minute().is_empty() {
            rule = rule.by_minute(own(start.minute()));
        }
        if rule.get_by_second().is_empty() {
            rule = rule.by_second(own(start.second()));
        }
        rule
    }

    /// Whether a time is a whole number of intervals from the start, on a day of the year asked for.
    pub fn hold(&self, wall: DateTime, start: DateTime) -> bool {
        let units = |t: DateTime| t.duration_since(DateTime::MIN).as_secs().div_euclid(self.unit_s);
        let (day, days) = (wall.date().day_of_year(), wall.date().days_in_year());
        let on_day = self.year_days.is_empty() || self.year_days.iter().any(|d| *d == day || *d + days + 1 == day);
        on_day && (units(wall) - units(start)) % self.interval == 0
    }
}

/// Positions in a set that the crate may place on the wrong steps.
pub(crate) fn beyond_the_crate(rule: &RRule<Unvalidated>) -> bool {
    unit_s(rule.get_freq()) < 86_400 && !rule.get_by_set_pos().is_empty() && rule.get_interval() > 1
}

/// The rule of days with every time of day that the rule of smaller units may have.
pub fn times(mut days: RRule<Unvalidated>, rule: &RRule<Unvalidated>) -> RRule<Unvalidated> {
    let unit_s = unit_s(rule.get_freq());
    if days.get_by_hour().is_empty() {
        days = days.by_hour((0..24).collect());
    }
    if unit_s < 3600 && days.get_by_minute().is_empty() {
        days = days.by_minute((0..60).collect());
    }
    if unit_s < 60 && days.get_by_second().is_empty() {
        days = days.by_second((0..60).collect());
    }
    days
}
