//! Recurrence rules (RFC 5545 section 3.3.10), expanded on the wall clock by the `rrule` crate.
//!
//! The crate is given wall-clock times as if they were UTC, so that the zone of the event, which may
//! be one that only the file knows, stays out of it. `UNTIL` is an instant and is therefore looked at here.
use chrono::{Datelike, NaiveDate, Timelike};
use jiff::civil::{DateTime, date};
use jiff::{SignedDuration, Timestamp};
use rrule::{Frequency, RRule, RRuleSet, Tz, Unvalidated};

use super::lines::shown;
use super::steps::{self, Steps};
use super::value::{self, DateOrTime};
use crate::base::foreign::foreign;

/// Dates looked at before a rule is given up.
const MOST_LOOKED_AT: usize = 500_000;
/// Dates kept of one rule.
const MOST_KEPT: usize = 100_000;
/// Most times a day that a rule may name: one a minute. The crate lists all of a year before it gives the first.
const MOST_A_DAY: usize = 24 * 60;
/// Longest text of a rule, bytes: every day of a year by its number from either end has some 3000.
const LONGEST: usize = 10_000;

/// One recurrence rule.
#[derive(Debug, Clone)]
pub(crate) struct Rule {
    rule: RRule<Unvalidated>,
    until: Option<DateOrTime>,
    /// No `BY...` part: every step of the interval is one instance.
    plain: bool,
    /// Steps within the day, where the crate is asked for days only.
    steps: Option<Steps>,
}

/// Dates of a rule in a span.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Dates {
    /// Wall-clock times, rising.
    pub walls: Vec<DateTime>,
    /// Why dates may be missing.
    pub cut: Option<&'static str>,
}

/// What a rule is expanded for.
pub(crate) struct Expansion<'a> {
    /// Start of the event, wall clock.
    pub start: DateTime,
    /// First and last wall-clock time wanted.
    pub wanted: (DateTime, DateTime),
    /// The instant of a wall-clock time, for `UNTIL`; none where the event is of whole days.
    pub instant: Option<&'a dyn Fn(DateTime) -> Option<Timestamp>>,
}

impl Rule {
    /// Reads the value of `RRULE`. Two things the standard allows are refused, and so reported, because the
    /// crate cannot do them: `BYSETPOS` with an interval of hours or less, and the fifth from last of a
    /// weekday in a month (53rd in a year).
    ///
    /// # Errors
    /// A part is unknown or out of its range.
    pub fn parse(text: &str) -> Result<Self, String> {
        if let Some(strange) = text.chars().find(|c| !c.is_ascii()) {
            return Err(format!("recurrence rule `{}`: `{strange}` is not allowed in such rules", shown(text)));
        }
        if text.len() > LONGEST {
            return Err(format!("recurrence rule `{}...`: is longer than {LONGEST} characters", shown(text)));
        }
        let (mut kept, mut until) = (Vec::new(), None);
        for part in text.split(';').map(str::trim).filter(|p| !p.is_empty()) {
            let (key, value) = part.split_once('=').ok_or_else(|| format!("`{}` in a recurrence rule", shown(part)))?;
            let key = key.to_ascii_uppercase();
            match key.as_str() {
                "UNTIL" => {
                    until =
                        Some(value::moment(value).ok_or_else(|| format!("`{}` in a recurrence rule", shown(part)))?);
                }
                "COUNT" | "INTERVAL" if value.trim().bytes().all(|b| b == b'0') => {
                    return Err(format!("`{}` in a recurrence rule, where at least 1 is allowed", shown(part)));
                }
                _ => kept.push((key, value.to_ascii_uppercase())),
            }
        }
        let whole =
            |parts: &[(String, String)]| parts.iter().map(|(k, v)| format!("{k}={v}")).collect::<Vec<_>>().join(";");
        let parsed = |rule: String| -> Result<RRule<Unvalidated>, String> {
            let read = foreign("recurrence rules", || rule.parse());
            let read = read.map_err(|broken| format!("recurrence rule `{}` {broken}", shown(text)))?;
            read.map_err(|e: rrule::RRuleError| format!("recurrence rule `{}`: {e}", shown(text)))
        };
        let mut rule = parsed(whole(&kept))?;
        if steps::beyond_the_crate(&rule) {
            return Err(format!(
                "recurrence rule `{}`: BYSETPOS with an interval within the day is not understood",
                shown(text)
            ));
        }
        let named = [rule.get_by_hour(), rule.get_by_minute(), rule.get_by_second()];
        let a_day: usize = named.iter().map(|list| list.len().max(1)).product();
        if a_day > MOST_A_DAY {
            let fact = format!("names {a_day} times of the day, but at most {MOST_A_DAY} are allowed");
            return Err(format!("recurrence rule `{}`: {fact}", shown(text)));
        }
        let plain = !kept.iter().any(|(key, _)| key.starts_with("BY"));
        let steps = if plain { None } else { Steps::of(&rule) };
        if steps.is_some() {
            kept.retain(|(key, _)| !matches!(key.as_str(), "FREQ" | "INTERVAL" | "COUNT" | "BYYEARDAY"));
            kept.push(("FREQ".into(), "DAILY".into()));
            rule = steps::times(parsed(whole(&kept))?, &rule);
        }
        Ok(Self { rule, until, plain, steps })
    }

    /// Dates of the rule in a span. The start of the event is among them only where it fits the rule;
    /// what a start that does not fit means for `COUNT`, the standard leaves open.
    ///
    /// # Errors
    /// The rule forbids itself, such as `FREQ=WEEKLY;BYMONTHDAY=1`.
    pub fn dates(&self, span: &Expansion) -> Result<Dates, String> {
        foreign("recurrence rules", || self.expanded(span)).map_err(|broken| format!("recurrence rule {broken}"))?
    }

    fn expanded(&self, span: &Expansion) -> Result<Dates, String> {
        let (start, count) = self.moved(span);
        let mut rule = self.rule.clone();
        if let Some(count) = count {
            if count == 0 {
                return Ok(Dates::default());
            }
            if self.steps.is_none() {
                rule = rule.count(count);
            }
        }
        let start = stamp(start).ok_or("year out of range")?;
        let rule = if let Some(steps) = &self.steps { steps.filled(rule, span.start) } else { rule };
        let set: RRuleSet = rule.build(start).map_err(|e| e.to_string())?;
        let mut out = Dates::default();
        let (mut looked_at, mut given): (usize, usize) = (0, 0);
        for at in &set.limit() {
            looked_at += 1;
            let wall = wall(at).ok_or("year out of range")?;
            if self.steps.as_ref().is_some_and(|steps| wall < span.start || !steps.hold(wall, span.start))
                && looked_at <= MOST_LOOKED_AT
            {
                continue;
            }
            given += 1;
            if count.is_some_and(|count| given > count as usize) {
                return Ok(out);
            }
            if wall > span.wanted.1 || self.is_over(wall, span) {
                return Ok(out);
            }
            if looked_at > MOST_LOOKED_AT || out.walls.len() >= MOST_KEPT {
                out.cut = Some("recurs too often to be followed as far as this day");
                return Ok(out);
            }
            if wall >= span.wanted.0 {
                out.walls.push(wall);
            }
        }
        if count.is_none_or(|count| given < count as usize) {
            out.cut = Some("has a recurrence rule that gives no further date");
        }
        Ok(out)
    }

    /// The start moved near the span by whole steps, which changes no date, and the instances left then.
    fn moved(&self, span: &Expansion) -> (DateTime, Option<u32>) {
        let step_s = match self.rule.get_freq() {
            // At most one look per month since the start: no need.
            Frequency::Monthly | Frequency::Yearly => i64::MAX,
            other => i64::from(self.rule.get_interval()).saturating_mul(steps::unit_s(other)),
        };
        let count = self.steps.as_ref().map_or(self.rule.get_count(), |steps| steps.count);
        let ahead_s = span.wanted.0.duration_since(span.start).as_secs();
        let mut steps = if step_s > 0 { (ahead_s / step_s).max(0) } else { 0 };
        if let Some(count) = count {
            steps = if self.plain { steps.min(i64::from(count)) } else { 0 };
        }
        let moved = steps.checked_mul(step_s).and_then(|s| span.start.checked_add(SignedDuration::from_secs(s)).ok());
        match moved {
            Some(start) => (start, count.map(|c| c - u32::try_from(steps).unwrap_or(c))),
            None => (span.start, count),
        }
    }

    fn is_over(&self, wall: DateTime, span: &Expansion) -> bool {
        match (self.until, span.instant) {
            (None, _) => false,
            (Some(until), None) => wall.date() > until.wall().date(),
            (Some(DateOrTime::Day(last)), _) => wall.date() > last,
            (Some(DateOrTime::Wall(last)), _) => wall > last,
            (Some(DateOrTime::Utc(last)), Some(instant)) => {
                let last = last.to_zoned(jiff::tz::TimeZone::UTC).map(|z| z.timestamp()).ok();
                instant(wall).zip(last).is_none_or(|(at, last)| at > last)
            }
        }
    }
}

/// A wall-clock time as the crate takes it.
fn stamp(wall: DateTime) -> Option<chrono::DateTime<Tz>> {
    let day = NaiveDate::from_ymd_opt(
        wall.year().into(),
        wall.month().unsigned_abs().into(),
        wall.day().unsigned_abs().into(),
    )?;
    let part = |n: i8| u32::from(n.unsigned_abs());
    let naive = day.and_hms_opt(part(wall.hour()), part(wall.minute()), part(wall.second()))?;
    Some(naive.and_utc().with_timezone(&Tz::UTC))
}

/// The same back.
fn wall(at: chrono::DateTime<Tz>) -> Option<DateTime> {
    let part = |n: u32| i8::try_from(n).ok();
    let year = i16::try_from(at.year()).ok().filter(|y| (-9999..=9999).contains(y))?;
    let day = date(year, part(at.month())?, part(at.day())?);
    Some(day.at(part(at.hour())?, part(at.minute())?, part(at.second())?, 0))
}
