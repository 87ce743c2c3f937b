//! What calendars hold and the meetings of a trip do not: listed next to them, so that nobody mistakes a day for a free one.
use std::collections::HashSet;

use jiff::civil::{Date, DateTime};

use super::question::{NamedCalendar, PlanQuestion};
use crate::ask::trip::{MeetingLeftOut, TripDay};
use crate::base::count::counted;
use crate::calendar::{Complaint, FirstStart};

/// Meetings of other days named one by one; the rest is counted.
const MOST_NAMED: usize = 5;

/// A meeting of the calendars that has no day of the trip.
struct Elsewhere<'a> {
    calendar: &'a str,
    first: FirstStart<'a>,
}

impl Elsewhere<'_> {
    fn at(&self) -> DateTime {
        self.first.start.datetime()
    }
    fn row(&self) -> MeetingLeftOut {
        let recurring = if self.first.recurs { "first " } else { "" };
        MeetingLeftOut {
            calendar: self.calendar.to_owned(),
            line: Some(self.first.line),
            name: title(&self.first.details.summary),
            when: Some(format!("{recurring}{}", self.at().strftime("%Y-%m-%d %H:%M"))),
            why: "not on any day of this trip".into(),
        }
    }
}

/// What a meeting is called.
pub(super) fn title(summary: &str) -> String {
    let title = summary.trim();
    if title.is_empty() { "untitled meeting".to_owned() } else { title.to_owned() }
}

/// The row of something that could not be read.
pub(super) fn unread(calendar: &NamedCalendar, complaint: &Complaint) -> MeetingLeftOut {
    let whose = if complaint.uid.is_none() && complaint.when.is_none() && complaint.summary.is_empty() {
        "part of the file".to_owned()
    } else {
        title(&complaint.summary)
    };
    MeetingLeftOut {
        calendar: calendar.name.clone(),
        line: Some(complaint.line),
        name: whose,
        when: complaint.when.as_ref().map(|w| w.text.clone()),
        why: complaint.fact.clone(),
    }
}

/// Whether what could not be read may be of one of the days from `first` to `last`: zones differ by a day at most.
pub(super) fn may_be_of(complaint: &Complaint, first: Date, last: Date) -> bool {
    let near = |day: Date| day >= first.yesterday().unwrap_or(first) && day <= last.tomorrow().unwrap_or(last);
    complaint.when.as_ref().is_none_or(|w| w.recurs || w.day.is_none_or(near))
}

/// What no day of the trip has reported: what could not be read, calendars without meetings, meetings of other days. Of the
/// last, those of the trip's dates in another year are named (a slip of the year looks so), or where the trip has no meeting
/// at all the nearest; the rest is counted.
pub(super) fn of_no_day(
    question: &PlanQuestion,
    taken: &HashSet<(String, i64)>,
    days: &[TripDay],
) -> Vec<MeetingLeftOut> {
    let mut out: Vec<MeetingLeftOut> = Vec::new();
    let told: HashSet<&MeetingLeftOut> = days.iter().flat_map(|d| &d.meetings_left_out).collect();
    let (mut elsewhere, mut known) = (Vec::new(), HashSet::new());
    let uids: HashSet<&str> = taken.iter().map(|(uid, _)| uid.as_str()).filter(|uid| !uid.is_empty()).collect();
    for calendar in &question.calendars {
        let lost = calendar.calendar.complaints().iter().filter(|c| c.lost);
        let rows: Vec<MeetingLeftOut> = lost.map(|c| unread(calendar, c)).collect();
        out.extend(empty(calendar, question, rows.len()));
        out.extend(rows.into_iter().filter(|row| !told.contains(row)));
        for first in calendar.calendar.starts(&question.zone) {
            let key = (first.details.uid.clone(), first.start.timestamp().as_second());
            let met = taken.contains(&key) || first.recurs && uids.contains(key.0.as_str());
            if !met && known.insert((key, first.line)) {
                let start = first.start.with_time_zone(question.zone.clone());
                elsewhere.push(Elsewhere { calendar: &calendar.name, first: FirstStart { start, ..first } });
            }
        }
    }
    // Given twice, a file says the same twice.
    let mut once = HashSet::new();
    out.retain(|row| once.insert(row.clone()));
    let dates: Vec<Date> = days.iter().map(|d| d.plan.chosen.depart.0.date()).collect();
    out.extend(on_other_days(elsewhere, &dates, taken.is_empty()));
    out
}

/// A calendar that holds nothing that could be a meeting.
fn empty(calendar: &NamedCalendar, question: &PlanQuestion, unread: usize) -> Option<MeetingLeftOut> {
    let why = match calendar.calendar.events() {
        _ if unread > 0 || calendar.calendar.starts(&question.zone).next().is_some() => return None,
        0 => "the calendar holds no events".to_owned(),
        n => format!("the calendar holds no meetings: {}, cancelled or all-day", counted(n, "event")),
    };
    Some(MeetingLeftOut {
        calendar: calendar.name.clone(),
        line: None,
        name: "nothing to read".into(),
        when: None,
        why,
    })
}

fn on_other_days(mut elsewhere: Vec<Elsewhere>, dates: &[Date], none_met: bool) -> Vec<MeetingLeftOut> {
    let Some(day) = dates.first() else { return Vec::new() };
    let away = |e: &Elsewhere| (e.at().date() - *day).get_days().unsigned_abs();
    elsewhere.sort_by_cached_key(|e| (away(e), e.at(), e.first.details.uid.clone()));
    let slip = |e: &Elsewhere| dates.iter().any(|d| (d.month(), d.day()) == (e.at().month(), e.at().day()));
    let (named, mut rest): (Vec<_>, Vec<_>) = elsewhere.into_iter().partition(|e| slip(e) || none_met);
    let (mut rows, mut n) = (Vec::new(), 0);
    for e in named {
        n += 1;
        if n <= MOST_NAMED { rows.push(e.row()) } else { rest.push(e) }
    }
    let (first, last) = (rest.iter().map(Elsewhere::at).min(), rest.iter().map(Elsewhere::at).max());
    if let (Some(first), Some(last), Some(one)) = (first, last, rest.first()) {
        let (first, last) = (first.date(), last.date());
        let same = rest.iter().all(|e| e.calendar == one.calendar);
        rows.push(MeetingLeftOut {
            calendar: if same { one.calendar.to_owned() } else { "all calendars".into() },
            line: None,
            name: format!("{}{}", if rows.is_empty() { "" } else { "another " }, counted(rest.len(), "meeting")),
            when: Some(if first == last { first.to_string() } else { format!("{first} to {last}") }),
            why: "not on any day of this trip; a recurring meeting is counted once, at its first time".into(),
        });
    }
    rows
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn titles_are_never_empty() {
        assert_eq!((title("  ").as_str(), title(" Datum\n").as_str()), ("untitled meeting", "Datum"));
    }
}
