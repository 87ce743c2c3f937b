//! Recurrence rules (RFC 5545 section 3.3.10), expanded on the wall clock by the `rrule` crate.
//!
//! The crate is given wall-clock times as if they were UTC, so that the zone of the event, which may
//! be one that only the file knows, stays out of it. `UNTIL` is an instant and is therefore looked at here.
use chrono::{Datelike, NaiveDate, Timelike};
use jiff::civil::{DateTime, date};
use jiff::{SignedDuration, Timestamp};
use rrule::{Frequency, RRule, RRuleSet, Tz, Unvalidated};

use super::value::{self, Moment};

/// Dates looked at before a rule is given up: a meeting every minute for two months.
const MOST_LOOKED_AT: usize = 100_000;
/// Dates kept of one rule.
const MOST_KEPT: usize = 10_000;

/// One recurrence rule.
#[derive(Debug, Clone)]
pub struct Rule {
    rule: RRule<Unvalidated>,
    until: Option<Moment>,
    /// No `BY...` part: every step of the interval is one instance.
    plain: bool,
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
pub struct Span<'a> {
    /// Start of the event, wall clock.
    pub start: DateTime,
    /// First and last wall-clock time wanted.
    pub wanted: (DateTime, DateTime),
    /// The instant of a wall-clock time, for `UNTIL`; none where the event is of whole days.
    pub instant: Option<&'a dyn Fn(DateTime) -> Option<Timestamp>>,
}

impl Rule {
    /// Reads the value of `RRULE`.
    ///
    /// # Errors
    /// A part is unknown or out of its range.
    pub fn parse(text: &str) -> Result<Self, String> {
        let (mut kept, mut until, mut plain) = (Vec::new(), None, true);
        for part in text.split(';').map(str::trim).filter(|p| !p.is_empty()) {
            let (key, value) = part.split_once('=').ok_or_else(|| format!("`{part}` in a recurrence rule"))?;
            let key = key.to_ascii_uppercase();
            plain &= !key.starts_with("BY");
            match key.as_str() {
                "UNTIL" => {
                    until = Some(value::moment(value).ok_or_else(|| format!("`{part}` in a recurrence rule"))?);
                }
                "COUNT" | "INTERVAL" if value.trim().bytes().all(|b| b == b'0') => {
                    return Err(format!("`{part}` in a recurrence rule, where at least 1 is allowed"));
                }
                _ => kept.push(format!("{key}={}", value.to_ascii_uppercase())),
            }
        }
        let rule = kept.join(";").parse().map_err(|e| format!("recurrence rule `{text}`: {e}"))?;
        Ok(Self { rule, until, plain })
    }

    /// Dates of the rule in a span. The start of the event is among them only where it fits the rule;
    /// what a start that does not fit means for `COUNT`, the standard leaves open.
    ///
    /// # Errors
    /// The rule forbids itself, such as `FREQ=WEEKLY;BYMONTHDAY=1`.
    pub fn dates(&self, span: &Span) -> Result<Dates, String> {
        let (start, count) = self.moved(span);
        let mut rule = self.rule.clone();
        if let Some(count) = count {
            if count == 0 {
                return Ok(Dates::default());
            }
            rule = rule.count(count);
        }
        let start = stamp(start).ok_or("year out of range")?;
        let set: RRuleSet = rule.build(start).map_err(|e| e.to_string())?;
        let mut out = Dates::default();
        let mut looked_at: usize = 0;
        for at in &set.limit() {
            looked_at += 1;
            let wall = wall(at).ok_or("year out of range")?;
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
        if count.is_none_or(|count| looked_at < count as usize) {
            out.cut = Some("has a recurrence rule that gives no further date");
        }
        Ok(out)
    }

    /// The start moved near the span by whole steps, which changes no date, and the instances left then.
    fn moved(&self, span: &Span) -> (DateTime, Option<u32>) {
        let unit_s = match self.rule.get_freq() {
            Frequency::Secondly => 1,
            Frequency::Minutely => 60,
            Frequency::Hourly => 3600,
            Frequency::Daily => 86_400,
            Frequency::Weekly => 604_800,
            // At most one look per month since the start: no need.
            Frequency::Monthly | Frequency::Yearly => i64::MAX,
        };
        let (count, step_s) = (self.rule.get_count(), i64::from(self.rule.get_interval()).saturating_mul(unit_s));
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

    fn is_over(&self, wall: DateTime, span: &Span) -> bool {
        match (self.until, span.instant) {
            (None, _) => false,
            (Some(until), None) => wall.date() > until.wall().date(),
            (Some(Moment::Day(last)), _) => wall.date() > last,
            (Some(Moment::Wall(last)), _) => wall > last,
            (Some(Moment::Utc(last)), Some(instant)) => {
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
