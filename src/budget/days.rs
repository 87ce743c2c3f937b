//! The days of a trip as their energy is walked: assumed from the hours of the trip file, or those of a plan.
use super::energy::{EnergyDay, TripEnergy};
use super::hours::{CallTime, DayStretch, DayTimes, HourRules, StretchDoing};
use super::settings::BudgetSettings;
use super::sun::{DaySun, SunAmount, SunPlace};
use crate::base::measure::minutes;
use crate::base::words::Dial;

/// Seconds of an hour.
const HOUR_S: f64 = 3_600.0;
/// Hours of a plan this far from those of the trip file are told.
const TOLD_H: f64 = 0.1;

/// A day of a plan.
#[derive(Debug, Clone, PartialEq)]
pub struct PlannedDay {
    /// Its date.
    pub date: String,
    /// Its hours, seconds since 1970-01-01 UTC.
    pub times: DayTimes,
    /// Where its sun is looked for: the middle of its road.
    pub place: SunPlace,
}

/// Days to be walked, and what the traveller should know of how they came about.
pub(super) struct DaysToWalk {
    pub days: Vec<EnergyDay>,
    pub notes: Vec<String>,
}

/// What the trip file asks of every day; work of `called_h` hours is held, whatever devices are used for.
pub(super) fn rules(settings: &BudgetSettings, called_h: f64) -> HourRules {
    let used = settings.device.iter().filter(|d| d.count > 0).map(|d| d.hours);
    HourRules {
        stopped_h: settings.work.stopped_h,
        working_h: used.fold(called_h, f64::max),
        in_motion_first: settings.work.in_motion_first,
    }
}

/// Days of which no plan says the order; seconds from the first midnight. Without `sun_hours` there is no sun in them.
pub(super) fn assumed(settings: &BudgetSettings, rules: &HourRules, dial: Dial) -> DaysToWalk {
    let hour = |h: f64| dial.retold(&hour(h));
    let (work, solar) = (&settings.work, &settings.solar);
    let day = |n: u32| {
        let begin_s = f64::from(n) * 24.0 * HOUR_S;
        let at = |hour: f64| begin_s + hour * HOUR_S;
        let wheel_h = work.driving_from_h + work.driving_h;
        let driven = DayStretch { from_s: at(work.driving_from_h), to_s: at(wheel_h), doing: StretchDoing::Driving };
        let stood =
            DayStretch { from_s: at(wheel_h), to_s: at(wheel_h + work.stopped_h), doing: StretchDoing::Stopped };
        let stretches = vec![driven, stood];
        let sun = solar.sun_hours.filter(|_| solar.panel_w > 0.0);
        let sun = sun.map(|hours| DaySun::assumed(begin_s, hours, solar.sunrise_h, solar.sunset_h));
        EnergyDay {
            date: None,
            times: DayTimes { begin_s, end_s: at(24.0), stretches, calls: Vec::<CallTime>::new() },
            sun: sun.unwrap_or_default(),
        }
    };
    let wheel_h = work.driving_from_h + work.driving_h;
    let mut note = format!(
        "the order of a day is assumed: driving from {} to {}, then at stops with the panel on to {}; {} of work, {} first",
        hour(work.driving_from_h),
        hour(wheel_h),
        hour(wheel_h + work.stopped_h),
        minutes(60.0 * rules.working_h.min(work.on_h())),
        if rules.in_motion_first { "while driving" } else { "at stops" }
    );
    if let Some(hours) = solar.sun_hours.filter(|_| solar.panel_w > 0.0) {
        note += &format!(
            "; {hours} h of full sun, spread as half a wave from {} to {}",
            hour(solar.sunrise_h),
            hour(solar.sunset_h)
        );
    }
    DaysToWalk { days: (0..work.days).map(day).collect(), notes: vec![note] }
}

/// Days of a plan, with the sun of their places and dates.
pub(super) fn planned(settings: &BudgetSettings, plan: &[PlannedDay]) -> DaysToWalk {
    let solar = &settings.solar;
    let amount = solar.sun_hours.map_or(SunAmount::Share(solar.clear_share), SunAmount::Hours);
    let mut notes = Vec::new();
    let mut days = Vec::new();
    for day in plan {
        let (begin_s, end_s) = (day.times.begin_s, day.times.end_s);
        let sun =
            if solar.panel_w > 0.0 { DaySun::at(begin_s, end_s, day.place, amount) } else { Some(DaySun::none()) };
        match &sun {
            None => notes.push(format!("{}: where the sun stands is not known, and none is counted", day.date)),
            Some(sun) if solar.panel_w > 0.0 && sun.sun_hours(end_s) <= 0.0 && amount != SunAmount::Hours(0.0) => {
                notes.push(format!("{}: the sun does not rise there on this date, and none is counted", day.date));
            }
            Some(_) => {}
        }
        days.push(EnergyDay { date: Some(day.date.clone()), times: day.times.clone(), sun: sun.unwrap_or_default() });
    }
    if solar.panel_w > 0.0 {
        let told = match amount {
            SunAmount::Hours(hours) => {
                format!("{hours} h of full sun a day (solar.sun_hours), spread as a clear sky's")
            }
            SunAmount::Share(share) => format!("{share} of a clear sky's (solar.clear_share)"),
        };
        notes.push(format!(
            "sun by place and date: {told}; hills, trees, roofs and snow on the solar panel are not counted"
        ));
    }
    DaysToWalk { days, notes }
}

/// What the hours of a plan leave of those of the trip file.
pub(super) fn clashes(settings: &BudgetSettings, rules: &HourRules, energy: &TripEnergy) -> Vec<String> {
    let mut out = Vec::new();
    let driven: Vec<f64> = energy.days.iter().map(|d| d.sums.driving_h).collect();
    if driven.iter().any(|h| (h - settings.work.driving_h).abs() > TOLD_H) {
        let hours: Vec<String> = driven.iter().take(7).map(|h| minutes(60.0 * h)).collect();
        let more = if driven.len() > 7 { " ..." } else { "" };
        out.push(format!(
            "the engine runs while the plan drives ({}{more}), not for work.driving_h = {} h; after arrival the panel stays on \
             until it has been on at stops for work.stopped_h = {} h",
            hours.join(", "),
            settings.work.driving_h,
            settings.work.stopped_h
        ));
    }
    out.extend(short(rules, energy));
    out
}

/// Hours that did not fit into their days.
pub(super) fn short(rules: &HourRules, energy: &TripEnergy) -> Vec<String> {
    let mut out = Vec::new();
    let days = energy.days.iter().enumerate();
    for (n, day) in days.filter(|(_, d)| d.short.stopped_h > TOLD_H || d.short.working_h > TOLD_H) {
        let name = day.date.clone().unwrap_or_else(|| format!("day {}", n + 1));
        let mut parts = Vec::new();
        if day.short.stopped_h > TOLD_H {
            parts.push(format!(
                "{} of the {} at stops",
                minutes(60.0 * day.short.stopped_h),
                minutes(60.0 * rules.stopped_h)
            ));
        }
        if day.short.working_h > TOLD_H {
            parts.push(format!(
                "{} of the {} of work",
                minutes(60.0 * day.short.working_h),
                minutes(60.0 * rules.working_h)
            ));
        }
        out.push(format!("{name} has no room for {}: they are left out", parts.join(" and ")));
    }
    out
}

/// The clock at a second from a midnight, to the nearest minute: `09:05`.
pub(super) fn clock(second: f64) -> String {
    let minute = (second / 60.0).round().max(0.0) as u64 % 1_440;
    format!("{:02}:{:02}", minute / 60, minute % 60)
}

/// An hour of a day by the clock; its end is 24:00.
fn hour(h: f64) -> String {
    if h == 24.0 { "24:00".to_owned() } else { clock(h * HOUR_S) }
}
