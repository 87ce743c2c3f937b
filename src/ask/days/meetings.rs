//! Meetings of a day, from calendars.
use std::collections::HashSet;

use jiff::{Timestamp, ToSpan};

use super::left_out::{may_be_of, of_no_day, title, unread};
use super::question::PlanQuestion;
use crate::ask::plan::Meeting;
use crate::ask::settings::ToldBy;
use crate::ask::trip::{MeetingLeftOut, TripDay};
use crate::base::count::counted;
use crate::calendar::Occurrence;

/// A meeting may begin this long after the drive is over and still matter, hours.
const AFTER_H: f64 = 6.0;
/// Meetings whose kind nothing says are named up to this many; more are counted.
const MOST_NAMED: usize = 20;

/// The meetings of a trip, handed out day by day.
#[derive(Clone)]
pub(super) struct MeetingsLeft<'a> {
    question: &'a PlanQuestion,
    /// Identity and begin of meetings that have their day.
    taken: HashSet<(String, i64)>,
}

/// What the calendars say of a day.
#[derive(Debug, Default)]
pub(super) struct DayMeetings {
    /// Its meetings.
    pub meetings: Vec<Meeting>,
    /// What may be one and could not be read.
    pub left_out: Vec<MeetingLeftOut>,
    /// What else they leave unclear.
    pub notes: Vec<String>,
}

impl<'a> MeetingsLeft<'a> {
    /// None is handed out yet.
    pub(super) fn of(question: &'a PlanQuestion) -> Self {
        Self { question, taken: HashSet::new() }
    }
    /// What no day has reported; to be asked after all days.
    pub(super) fn of_no_day(&self, days: &[TripDay]) -> Vec<MeetingLeftOut> {
        of_no_day(self.question, &self.taken, days)
    }
    /// Meetings between two moments, whether they have their day or not.
    pub(super) fn between(&self, from: Timestamp, to: Timestamp) -> Vec<Meeting> {
        let calendars = self.question.calendars.iter();
        let found = calendars.flat_map(|c| c.calendar.between(from, to, &self.question.zone).meetings);
        // A calendar given twice says everything twice.
        let mut once = HashSet::new();
        let found = found.filter(|m| once.insert((m.details.uid.clone(), m.start.timestamp().as_second())));
        found.map(|m| self.meeting(&m, &mut Vec::new())).collect()
    }
    /// Meetings of the time a drive may last that no earlier day has, and what the calendars leave unclear.
    pub(super) fn of_day(&mut self, depart: Timestamp, drive_s: f64) -> DayMeetings {
        let local = depart.to_zoned(self.question.zone.clone());
        let (rules, shifts) = (&self.question.settings.driving, &self.question.settings.departure);
        let hours = |h: f64| jiff::SignedDuration::from_secs((h * 3_600.0) as i64);
        let earliest = depart.saturating_sub(hours(f64::from(shifts.earlier_min) / 60.0)).unwrap_or(depart);
        let latest_h = f64::from(shifts.later_min) / 60.0 + drive_s / 3_600.0;
        // A drive longer than a day's hours spends nights on the way.
        let nights = (drive_s / 3_600.0 / rules.day_h) as i64;
        let midnight = |days: i64| local.start_of_day().and_then(|z| z.checked_add(days.days())).map(|z| z.timestamp());
        let from = midnight(0).map_or(earliest, |m| m.min(earliest));
        let end = depart.saturating_add(hours(latest_h)).unwrap_or(depart);
        let long =
            if end > midnight(1).unwrap_or(end) { end.saturating_add(hours(AFTER_H)).unwrap_or(end) } else { end };
        let to = midnight(1 + nights).map_or(long, |m| m.max(long));
        let mut out = DayMeetings::default();
        let (notes, mut untold, mut told) = (&mut out.notes, Vec::new(), HashSet::new());
        let date = |at: Timestamp| at.to_zoned(self.question.zone.clone()).date();
        let (first, last) = (date(from), date(to.saturating_sub(hours(1e-3)).unwrap_or(to)));
        for calendar in &self.question.calendars {
            let found = calendar.calendar.between(from, to, &self.question.zone);
            for complaint in &found.complaints {
                let row = unread(calendar, complaint);
                // A calendar given twice says everything twice.
                if !told.insert(row.clone()) {
                    continue;
                }
                match complaint.lost {
                    true if may_be_of(complaint, first, last) => out.left_out.push(row),
                    true => {}
                    false => notes.push(format!("calendar {}, {complaint}", calendar.name)),
                }
            }
            if found.cancelled > 0 {
                let why = format!("cancelled: {} on this day", counted(found.cancelled, "meeting"));
                notes.push(format!("calendar {}, {why}", calendar.name));
            }
            notes.extend(found.all_day.iter().map(|d| {
                format!("{} is an all-day event, so it is not planned as a meeting", title(&d.details.summary))
            }));
            for m in found.meetings {
                let start_s = m.start.timestamp().as_second();
                if self.taken.insert((m.details.uid.clone(), start_s)) {
                    out.meetings.push(self.meeting(&m, &mut untold));
                }
            }
        }
        let kind = self.question.settings.meetings.default.name();
        match untold.len() {
            0..=MOST_NAMED => {
                notes.extend(untold.iter().map(|name| format!("{name}: its kind is not given; {kind} is assumed")));
            }
            many => notes.push(format!("{many} meetings: their kind is not given; {kind} is assumed")),
        }
        out
    }

    /// A meeting; its name is added to those whose kind is not given.
    fn meeting(&self, m: &Occurrence, untold: &mut Vec<String>) -> Meeting {
        let name = title(&m.details.summary);
        let (kind, told) = self.question.settings.meetings.kind(&m.details.summary, &m.details.categories);
        if told == ToldBy::Default {
            untold.push(name.clone());
        }
        let (start_s, end_s) = (m.start.timestamp().as_second(), m.end.timestamp().as_second());
        let uid = m.details.uid.clone();
        let of = self.question.settings.people.whose(&m.details);
        Meeting { uid, name, kind, start_s, end_s: end_s.max(start_s), tentative: m.details.tentative, of }
    }
}
