//! One `VEVENT` (section 3.6.1).
use jiff::civil::DateTime;
use jiff::tz::{AmbiguousOffset, TimeZone};
use jiff::{SignedDuration, Zoned};

use super::component::Component;
use super::found::{Clock, Details};
use super::lines::{Line, shown};
use super::rule::Rule;
use super::value::{self, DateOrTime};
use super::written::AsWritten;
use super::zone::Zones;

/// A moment with its zone.
#[derive(Debug, Clone)]
pub(crate) struct ZonedTime {
    /// Day or wall clock.
    pub moment: DateOrTime,
    /// Zone of the file; none for days, UTC and floating times.
    pub zone: Option<TimeZone>,
}

impl ZonedTime {
    /// How the file gives it.
    pub fn clock(&self) -> Clock {
        match (&self.zone, self.moment) {
            (_, DateOrTime::Utc(_)) => Clock::Utc,
            (Some(_), _) => Clock::Zone,
            _ => Clock::Floating,
        }
    }
    /// Zone of its wall clock; days are counted in UTC, floating times are the traveller's.
    pub fn zone(&self, traveller: &TimeZone) -> TimeZone {
        match (self.moment, &self.zone) {
            (DateOrTime::Wall(_), Some(zone)) => zone.clone(),
            (DateOrTime::Wall(_), None) => traveller.clone(),
            (DateOrTime::Day(_) | DateOrTime::Utc(_), _) => TimeZone::UTC,
        }
    }
    /// The moment on the time line.
    pub(crate) fn zoned(&self, traveller: &TimeZone) -> Option<Zoned> {
        Some(zoned(self.moment.wall(), &self.zone(traveller))?.0)
    }
}

/// A wall-clock time in a zone as section 3.3.5 reads it (twice: the first; never: by the offset before
/// the gap), and whether it does not exist there.
pub(crate) fn zoned(wall: DateTime, zone: &TimeZone) -> Option<(Zoned, bool)> {
    let ambiguous = zone.to_ambiguous_zoned(wall);
    let in_gap = matches!(ambiguous.offset(), AmbiguousOffset::Gap { .. });
    Some((ambiguous.compatible().ok()?, in_gap))
}

/// How long an event lasts.
#[derive(Debug, Clone, Copy)]
pub enum Length {
    /// From `DTEND`: the same number of seconds every time (section 3.8.5.3).
    Exact(SignedDuration),
    /// From `DURATION`: days are days on the calendar.
    Nominal(jiff::Span),
}

impl Length {
    /// The end of what begins then; never before it.
    pub fn end(self, start: &Zoned) -> Zoned {
        let end = match self {
            Self::Exact(exact) => start.checked_add(exact),
            Self::Nominal(span) => start.checked_add(span),
        };
        end.ok().filter(|end| end >= start).unwrap_or_else(|| start.clone())
    }
}

/// Which instance of a recurring event this one replaces.
#[derive(Debug, Clone)]
pub(crate) struct Replaced {
    /// The start the instance would have.
    pub at: ZonedTime,
    /// `RANGE=THISANDFUTURE`: all later ones too.
    pub and_later: bool,
}

/// One event of the file.
#[derive(Debug, Clone)]
pub(crate) struct Event {
    /// Line where it begins.
    pub line: usize,
    /// When, as written.
    pub written: Option<AsWritten>,
    /// What it is.
    pub details: Details,
    /// `STATUS:CANCELLED`, or a calendar sent to cancel.
    pub cancelled: bool,
    /// Revision: the highest of one UID counts.
    pub sequence: i64,
    /// Start.
    pub start: ZonedTime,
    /// Length.
    pub length: Length,
    /// Recurrence rules.
    pub rules: Vec<Rule>,
    /// Further starts (`RDATE`), some with a length of their own.
    pub extra: Vec<(ZonedTime, Option<Length>)>,
    /// Starts that are left out (`EXDATE`).
    pub except: Vec<ZonedTime>,
    /// The instance it replaces.
    pub replaces: Option<Replaced>,
}

impl Event {
    /// Whether it is of whole days.
    pub(crate) fn of_days(&self) -> bool {
        matches!(self.start.moment, DateOrTime::Day(_))
    }
    /// Whether it has several instances.
    pub fn recurs(&self) -> bool {
        !self.rules.is_empty() || !self.extra.is_empty()
    }
}

/// Reads events: a component in, an event and what was wrong with parts of it out.
pub(crate) struct EventReader<'a> {
    /// Zones of the file.
    pub zones: &'a Zones,
    /// The whole calendar is sent to cancel its events.
    pub cancel: bool,
}

/// Trouble of one event: its line, what was found, and whether instances may be missing for it.
pub(crate) type EventTrouble = (usize, String, bool);

impl EventReader<'_> {
    /// One event; none where its start cannot be understood.
    pub fn event(&self, part: &Component, trouble: &mut Vec<EventTrouble>) -> Option<Event> {
        let start_line = match part.get("DTSTART") {
            Some(line) => line,
            None => {
                trouble.push((part.at, "event without DTSTART; left out".into(), true));
                return None;
            }
        };
        let lost = |(at, fact): (usize, String)| (at, format!("{fact}; event left out"), true);
        let start = self.stamp(start_line, None).map_err(|e| trouble.push(lost(e))).ok()?;
        let replaces = match part.get("RECURRENCE-ID").map(|line| (line, self.stamp(line, start.zone.as_ref()))) {
            Some((line, Ok(at))) => {
                let and_later = line.param("RANGE").is_some_and(|r| r.eq_ignore_ascii_case("THISANDFUTURE"));
                Some(Replaced { at, and_later })
            }
            Some((_, Err(e))) => {
                trouble.push(lost(e));
                return None;
            }
            None => None,
        };
        let word = |name: &str| part.get(name).map(|l| l.value.trim().to_ascii_uppercase()).unwrap_or_default();
        Some(Event {
            line: part.at,
            written: AsWritten::of(part),
            details: details(part),
            cancelled: self.cancel || word("STATUS") == "CANCELLED",
            sequence: word("SEQUENCE").parse().unwrap_or(0),
            length: self.length(part, &start, trouble),
            rules: rules(part, trouble),
            extra: self.extra(part, &start, trouble),
            except: self.except(part, &start, trouble),
            start,
            replaces,
        })
    }

    /// The moment of a property; `usual` is the zone of wall-clock times without one.
    fn stamp(&self, line: &Line, usual: Option<&TimeZone>) -> Result<ZonedTime, (usize, String)> {
        self.moment(line, &line.value, usual)
    }

    fn moment(&self, line: &Line, text: &str, usual: Option<&TimeZone>) -> Result<ZonedTime, (usize, String)> {
        let wrong = |fact| (line.at, fact);
        let moment = value::moment(text)
            .ok_or_else(|| wrong(format!("`{}` is not a date or time of {}", shown(text.trim()), line.name)))?;
        let zone = match (moment, line.param("TZID")) {
            (DateOrTime::Wall(_), Some(id)) => Some(self.zones.find(id).map_err(wrong)?),
            (DateOrTime::Wall(_), None) => usual.cloned(),
            _ => None,
        };
        Ok(ZonedTime { moment, zone })
    }

    fn length(&self, part: &Component, start: &ZonedTime, trouble: &mut Vec<EventTrouble>) -> Length {
        let day = matches!(start.moment, DateOrTime::Day(_));
        let usual = Length::Nominal(jiff::Span::new().days(i64::from(day)));
        let mut wrong = |at: usize, fact: String| {
            trouble.push((at, format!("{fact}; assumed to have no length"), false));
            usual
        };
        if let Some(line) = part.get("DTEND") {
            return match self.stamp(line, start.zone.as_ref()) {
                // A floating end has the zone of the start: only the difference counts.
                Ok(end) => match end.zoned(&TimeZone::UTC).zip(start.zoned(&TimeZone::UTC)) {
                    Some((end, start)) if end >= start => Length::Exact(start.duration_until(&end)),
                    _ => wrong(line.at, "DTEND before DTSTART".into()),
                },
                Err((at, fact)) => wrong(at, fact),
            };
        }
        match part.get("DURATION").map(|line| (line, value::duration(&line.value))) {
            Some((_, Some(span))) if !span.is_negative() => Length::Nominal(span),
            Some((line, _)) => {
                wrong(line.at, format!("`{}` is not a valid length for an event", shown(line.value.trim())))
            }
            None => usual,
        }
    }

    fn extra(
        &self,
        part: &Component,
        start: &ZonedTime,
        trouble: &mut Vec<EventTrouble>,
    ) -> Vec<(ZonedTime, Option<Length>)> {
        let mut out = Vec::new();
        for line in part.all("RDATE") {
            for text in line.value.split(',').filter(|t| !t.trim().is_empty()) {
                match self.date_or_period(line, text, start.zone.as_ref()) {
                    Ok(one) => out.push(one),
                    Err((at, fact)) => trouble.push((at, format!("{fact}; this date is left out"), true)),
                }
            }
        }
        out
    }

    fn date_or_period(
        &self,
        line: &Line,
        text: &str,
        usual: Option<&TimeZone>,
    ) -> Result<(ZonedTime, Option<Length>), (usize, String)> {
        let Some((first, last)) = text.split_once('/') else {
            return Ok((self.moment(line, text, usual)?, None));
        };
        let start = self.moment(line, first, usual)?;
        if let Some(span) = value::duration(last) {
            return Ok((start, Some(Length::Nominal(span))));
        }
        let end = self.moment(line, last, usual)?;
        let pair = end.zoned(&TimeZone::UTC).zip(start.zoned(&TimeZone::UTC));
        let length = pair.map(|(end, start)| Length::Exact(start.duration_until(&end)));
        Ok((start, length))
    }

    fn except(&self, part: &Component, start: &ZonedTime, trouble: &mut Vec<EventTrouble>) -> Vec<ZonedTime> {
        let mut out = Vec::new();
        for line in part.all("EXDATE") {
            for text in line.value.split(',').filter(|t| !t.trim().is_empty()) {
                match self.moment(line, text, start.zone.as_ref()) {
                    Ok(stamp) => out.push(stamp),
                    Err((at, fact)) => trouble.push((at, format!("{fact}; this exception is ignored"), false)),
                }
            }
        }
        out
    }
}

fn rules(part: &Component, trouble: &mut Vec<EventTrouble>) -> Vec<Rule> {
    for line in part.all("EXRULE") {
        trouble.push((line.at, "EXRULE is no longer part of the standard; its exceptions are ignored".into(), false));
    }
    let mut out = Vec::new();
    for line in part.all("RRULE") {
        match Rule::parse(&line.value) {
            Ok(rule) => out.push(rule),
            Err(fact) => trouble.push((line.at, format!("{fact}; only the first date is kept"), true)),
        }
    }
    out
}

fn details(part: &Component) -> Details {
    let text = |name: &str| part.get(name).map(|l| value::text(&l.value)).filter(|t| !t.trim().is_empty());
    let is = |name: &str, word: &str| part.get(name).is_some_and(|l| l.value.trim().eq_ignore_ascii_case(word));
    Details {
        uid: text("UID").unwrap_or_default(),
        summary: text("SUMMARY").unwrap_or_default(),
        location: text("LOCATION"),
        categories: part.all("CATEGORIES").flat_map(|l| value::texts(&l.value)).collect(),
        people: ["ATTENDEE", "ORGANIZER"].into_iter().flat_map(|name| part.all(name)).flat_map(person).collect(),
        tentative: is("STATUS", "TENTATIVE"),
        transparent: is("TRANSP", "TRANSPARENT"),
    }
}

/// Address and name of a person (section 3.3.3).
fn person(line: &Line) -> impl Iterator<Item = String> + use<> {
    let address = line.value.trim();
    let mail = address.get(..7).filter(|scheme| scheme.eq_ignore_ascii_case("mailto:"));
    let address = address[mail.map_or(0, str::len)..].to_owned();
    [Some(address), line.param("CN").map(str::to_owned)].into_iter().flatten().filter(|told| !told.trim().is_empty())
}
