//! Time zones: those the file defines (`VTIMEZONE`, section 3.6.5), then those of the IANA database, then Windows names.
use std::collections::BTreeMap;

use jiff::civil::{DateTime, date};
use jiff::tz::{TimeZone, TimeZoneDatabase};
use jiff::{SignedDuration, Timestamp};

use super::component::Component;
use super::lines::shown;
use super::rule::{Expansion, Rule};
use super::tzif::{self, LocalTimeKind, OffsetChange};
use super::value;
use super::windows;
use crate::base::foreign::foreign;

/// Longest name of a zone, bytes; those in use have some 60.
const LONGEST_NAME: usize = 255;
/// Zones of the file are followed to the end of this year.
const LAST_YEAR: i16 = 2100;

/// Zones by name.
#[derive(Debug, Clone, Default)]
pub(crate) struct Zones {
    own: BTreeMap<String, TimeZone>,
}

impl Zones {
    /// Adds a `VTIMEZONE`.
    ///
    /// # Errors
    /// It has no name, or no usable rule.
    pub fn add(&mut self, part: &Component) -> Result<(), String> {
        let id = part.get("TZID").map(|l| l.value.trim().to_owned()).ok_or("time zone without TZID; left out")?;
        let zone = defined(&id, part).map_err(|fact| format!("time zone `{}` {fact}; left out", shown(&id)))?;
        self.own.insert(id, zone);
        Ok(())
    }

    /// Takes the zones of another calendar too; the first of one name stays.
    pub(crate) fn merge(&mut self, other: Self) {
        for (id, zone) in other.own {
            self.own.entry(id).or_insert(zone);
        }
    }

    /// The zone of a name.
    ///
    /// # Errors
    /// Neither the file nor the database has it.
    pub fn find(&self, id: &str) -> Result<TimeZone, String> {
        let id = id.trim();
        if let Some(own) = self.own.get(id) {
            return Ok(own.clone());
        }
        if id.len() > LONGEST_NAME {
            return Err(format!("time zone `{}...` has a name longer than {LONGEST_NAME} bytes", shown(id)));
        }
        // A name that begins with a slash is unique over all files (section 3.8.3.1): those in use end in a database name.
        let known = TimeZoneDatabase::bundled();
        let tails = id.match_indices('/').filter(|_| id.starts_with('/')).map(|(i, _)| &id[i + 1..]);
        if let Some(zone) = std::iter::once(id).chain(tails).find_map(|name| known.get(name).ok()) {
            return Ok(zone);
        }
        if let Some(zone) = windows::iana(id).and_then(|name| known.get(name).ok()) {
            return Ok(zone);
        }
        let like_windows = id.ends_with("Standard Time") || id.ends_with("Daylight Time");
        let why = if like_windows {
            ", nor in the table of Windows names; the file must define it with a VTIMEZONE"
        } else {
            ""
        };
        Err(format!("time zone `{id}` is neither defined in the file nor in the IANA database{why}"))
    }
}

/// A zone from its `STANDARD` and `DAYLIGHT` parts.
fn defined(id: &str, part: &Component) -> Result<TimeZone, String> {
    let mut changes = Vec::new();
    let mut before: Option<(i64, i32)> = None;
    for observance in part.inside.iter().filter(|c| matches!(c.name.as_str(), "STANDARD" | "DAYLIGHT")) {
        let (from_s, found) = onsets(observance)?;
        for change in found {
            if before.is_none_or(|(at_s, _)| change.at_s < at_s) {
                before = Some((change.at_s, from_s));
            }
            changes.push(change);
        }
    }
    let (_, offset_s) = before.ok_or("has no STANDARD or DAYLIGHT part")?;
    changes.sort_by_key(|c| c.at_s);
    changes.dedup_by_key(|c| c.at_s);
    let before = LocalTimeKind { offset_s, daylight: false, name: "LMT".into() };
    let bytes = tzif::bytes(&before, &changes)?;
    let read = foreign("time zones", || TimeZone::tzif(id, &bytes)).map_err(|broken| broken.to_string())?;
    read.map_err(|e| format!("cannot be used: {e}"))
}

/// Offset before, seconds, and every change that one part makes.
fn onsets(part: &Component) -> Result<(i32, Vec<OffsetChange>), String> {
    let line = |name: &str| part.get(name).ok_or_else(|| format!("has a part without {name}"));
    let wrong = |what: &str| format!("has a part with an unusable {what}");
    let offset = |name: &str| value::offset(&line(name)?.value).ok_or_else(|| wrong(name));
    let (from, to) = (offset("TZOFFSETFROM")?, offset("TZOFFSETTO")?);
    let start = value::moment(&line("DTSTART")?.value).ok_or_else(|| wrong("DTSTART"))?.wall();
    let mut walls = vec![start];
    for dates in part.all("RDATE") {
        for text in dates.value.split(',') {
            walls.push(value::moment(text).ok_or_else(|| wrong("RDATE"))?.wall());
        }
    }
    let at = |wall: DateTime| instant(wall, from);
    for rule in part.all("RRULE") {
        let rule = Rule::parse(&rule.value).map_err(|e| format!("has a part with {e}"))?;
        let wanted = (start, date(LAST_YEAR, 12, 31).at(23, 59, 59, 0));
        walls.extend(rule.dates(&Expansion { start, wanted, instant: Some(&at) })?.walls);
    }
    let seconds = |d: SignedDuration| i32::try_from(d.as_secs()).unwrap_or_default();
    let daylight = part.name == "DAYLIGHT";
    let to = LocalTimeKind { offset_s: seconds(to), daylight, name: short_name(part, daylight) };
    let changes =
        walls.into_iter().filter_map(at).map(|t| OffsetChange { at_s: t.as_second(), to: to.clone() }).collect();
    Ok((seconds(from), changes))
}

/// The instant of a wall-clock time at a fixed offset.
fn instant(wall: DateTime, offset: SignedDuration) -> Option<Timestamp> {
    wall.to_zoned(TimeZone::UTC).ok()?.timestamp().checked_sub(offset).ok()
}

/// `TZNAME` where the database form can hold it.
fn short_name(part: &Component, daylight: bool) -> String {
    let name = part.get("TZNAME").map(|l| l.value.trim()).unwrap_or_default();
    let fits =
        (3..=6).contains(&name.len()) && name.bytes().all(|b| b.is_ascii_alphanumeric() || b == b'+' || b == b'-');
    if fits { name.to_owned() } else { String::from(if daylight { "DST" } else { "STD" }) }
}
