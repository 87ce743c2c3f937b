//! Meetings of a day, from calendars.
use std::collections::{BTreeSet, HashSet};

use jiff::{Timestamp, ToSpan, Zoned};

use super::question::PlanQuestion;
use crate::ask::plan::Meeting;
use crate::ask::settings::ToldBy;
use crate::base::count::counted;
use crate::calendar::Occurrence;

/// A meeting may begin so long after the drive is over and still matter, hours.
const AFTER_H: f64 = 6.0;
/// Meetings whose kind nothing says are named up to this many; more are counted.
const MOST_NAMED: usize = 20;

/// The meetings of a trip, handed out day by day.
pub(super) struct MeetingsLeft<'a> {
    question: &'a PlanQuestion,
    /// Identity and begin of meetings that have their day.
    taken: HashSet<(String, i64)>,
}

impl<'a> MeetingsLeft<'a> {
    /// None is handed out yet.
    pub(super) fn of(question: &'a PlanQuestion) -> Self {
        Self { question, taken: HashSet::new() }
    }
    /// Meetings of the time a drive may last that no earlier day has, and what the calendars leave unclear.
    pub(super) fn of_day(&mut self, depart: Timestamp, drive_s: f64) -> (Vec<Meeting>, Vec<String>) {
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
        let (mut meetings, mut notes, mut untold) = (Vec::new(), Vec::new(), Vec::new());
        for calendar in &self.question.calendars {
            let found = calendar.between(from, to, &self.question.zone);
            notes.extend(found.complaints.iter().map(|c| format!("calendar, {c}")));
            notes.extend(
                found.all_day.iter().map(|d| format!("{} is marked for the whole day", title(&d.details.summary))),
            );
            for m in found.meetings {
                let start_s = m.start.timestamp().as_second();
                if self.taken.insert((m.details.uid.clone(), start_s)) {
                    meetings.push(self.meeting(&m, &mut untold));
                }
            }
        }
        let kind = self.question.settings.meetings.default.name();
        match untold.len() {
            0..=MOST_NAMED => {
                notes.extend(untold.iter().map(|name| format!("{name}: nothing says its kind, {kind} is assumed")));
            }
            many => notes.push(format!("{many} meetings: nothing says their kind, {kind} is assumed")),
        }
        (meetings, notes)
    }

    /// A meeting; its name is added to those that nothing tells the kind of.
    fn meeting(&self, m: &Occurrence, untold: &mut Vec<String>) -> Meeting {
        let name = title(&m.details.summary);
        let (kind, told) = self.question.settings.meetings.kind(&m.details.summary, &m.details.categories);
        if told == ToldBy::Default {
            untold.push(name.clone());
        }
        let (start_s, end_s) = (m.start.timestamp().as_second(), m.end.timestamp().as_second());
        Meeting { name, kind, start_s, end_s: end_s.max(start_s), tentative: m.details.tentative }
    }
}

/// What is said of a trip without a meeting: how many the calendars have on other days, and when the first begins. A
/// recurring one counts once, from its first time; nothing where they have none.
pub(super) fn none_met(question: &PlanQuestion) -> Option<String> {
    let all = question.calendars.iter().flat_map(|c| c.starts(&question.zone));
    let read: BTreeSet<(Zoned, &str)> = all.map(|(uid, start)| (start, uid)).collect();
    let (first, _) = read.first()?;
    let first = first.with_time_zone(question.zone.clone()).date();
    Some(format!("{} read, none on these days (first {first})", counted(read.len(), "meeting")))
}

/// What a meeting is called.
fn title(summary: &str) -> String {
    let title = summary.trim();
    if title.is_empty() { "untitled meeting".to_owned() } else { title.to_owned() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn titles_are_never_empty() {
        assert_eq!((title("  ").as_str(), title(" Datum\n").as_str()), ("untitled meeting", "Datum"));
    }
}
