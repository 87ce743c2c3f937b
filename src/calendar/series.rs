//! The instances of one event, with exceptions and replaced instances, in a span of time.
use std::collections::BTreeSet;

use jiff::civil::{Date, DateTime};
use jiff::tz::TimeZone;
use jiff::{SignedDuration, Timestamp, Zoned};

use super::event::{Event, Length, ZonedTime, zoned};
use super::found::{AllDay, Complaint, EventsFound, Occurrence};
use super::rule::Expansion;
use super::value::DateOrTime;

/// Rules of a file that are followed without coming to their end; each may take a second.
const MOST_GIVEN_UP: usize = 20;
/// A gap in local time moves an instance by at most this: Samoa left out a whole day in 2011.
const WIDEST_GAP: SignedDuration = SignedDuration::from_hours(26);

/// An event and the instances of it that were changed.
#[derive(Debug, Clone, Default)]
pub(crate) struct Series {
    /// The event as first made; several where a file repeats a UID.
    pub masters: Vec<Event>,
    /// Changed instances.
    pub changed: Vec<Event>,
}

/// A span of time and where its asker is.
#[derive(Debug, Clone)]
pub(crate) struct AskedSpan {
    /// First moment.
    pub from: Timestamp,
    /// First moment after it.
    pub to: Timestamp,
    /// Zone of floating times.
    pub traveller: TimeZone,
}

impl AskedSpan {
    /// The same span for days, which are the traveller's: its wall clock, counted as UTC.
    fn in_days(&self) -> Self {
        let as_utc = |t: Timestamp| {
            let wall = t.to_zoned(self.traveller.clone()).datetime();
            wall.to_zoned(TimeZone::UTC).map_or(t, |z| z.timestamp())
        };
        Self { from: as_utc(self.from), to: as_utc(self.to), traveller: TimeZone::UTC }
    }
    fn touches(&self, start: &Zoned, end: &Zoned) -> bool {
        let (start, end) = (start.timestamp(), end.timestamp());
        start < self.to && (end > self.from || start >= self.from)
    }
}

/// One instance.
struct Instance {
    start: Zoned,
    /// The wall clock shows no such time then.
    in_gap: bool,
    length: Length,
}

impl Series {
    /// Adds what the span holds of it.
    pub fn find(&self, asked: &AskedSpan, found: &mut EventsFound) {
        // Of times, then of days.
        let asked = [asked.clone(), asked.in_days()];
        let changes = asked.each_ref().map(|asked| Changes::of(self, &asked.traveller));
        for master in &self.masters {
            let (asked, changes) = (&asked[usize::from(master.of_days())], &changes[usize::from(master.of_days())]);
            let except = Starts::of(master.except.iter(), &asked.traveller);
            for instance in instances(master, asked, changes.longest_move, found) {
                if !except.name(&instance.start) && !changes.replaced.name(&instance.start) {
                    tell(master, instance, &changes.later, asked, found);
                }
            }
        }
        for event in &self.changed {
            let asked = &asked[usize::from(event.of_days())];
            if let Some((start, in_gap)) = zoned(event.start.moment.wall(), &event.start.zone(&asked.traveller)) {
                add(event, Instance { start, in_gap, length: event.length }, asked, found, true);
            }
        }
    }
}

/// What the changed instances of an event do to the others.
struct Changes<'a> {
    /// Instances that are replaced.
    replaced: Starts,
    /// Changes with `RANGE=THISANDFUTURE` and from when on they hold, by that.
    later: Vec<(&'a Event, Zoned)>,
    /// How far those move an instance at most.
    longest_move: SignedDuration,
}

impl<'a> Changes<'a> {
    fn of(series: &'a Series, traveller: &TimeZone) -> Self {
        let changed = || series.changed.iter().filter_map(|e| Some((e, e.replaces.as_ref()?)));
        let mut later: Vec<(&Event, Zoned)> =
            changed().filter(|(_, r)| r.and_later).filter_map(|(e, r)| Some((e, r.at.zoned(traveller)?))).collect();
        later.sort_by_key(|(_, at)| at.timestamp());
        let moved = |(e, at): &(&Event, Zoned)| Some(at.duration_until(&e.start.zoned(traveller)?).abs());
        let longest_move = later.iter().filter_map(moved).max().unwrap_or_default();
        Self { replaced: Starts::of(changed().map(|(_, r)| &r.at), traveller), later, longest_move }
    }
}

/// Starts that exceptions and changed instances mean.
#[derive(Debug, Default)]
struct Starts {
    days: BTreeSet<Date>,
    moments: BTreeSet<Timestamp>,
}

impl Starts {
    fn of<'s>(stamps: impl Iterator<Item = &'s ZonedTime>, traveller: &TimeZone) -> Self {
        let mut starts = Self::default();
        for stamp in stamps {
            match stamp.moment {
                DateOrTime::Day(day) => drop(starts.days.insert(day)),
                _ => starts.moments.extend(stamp.zoned(traveller).map(|at| at.timestamp())),
            }
        }
        starts
    }
    /// Whether one of them is the instance that starts then.
    fn name(&self, start: &Zoned) -> bool {
        self.days.contains(&start.date()) || self.moments.contains(&start.timestamp())
    }
}

/// Adds an instance of the master, as it was changed with the instances before it.
fn tell(master: &Event, instance: Instance, later: &[(&Event, Zoned)], asked: &AskedSpan, found: &mut EventsFound) {
    let holding = later.partition_point(|(_, at)| at.timestamp() <= instance.start.timestamp());
    let Some((event, at)) = holding.checked_sub(1).and_then(|last| later.get(last)) else {
        return add(master, instance, asked, found, master.recurs());
    };
    let moved = event.start.zoned(&asked.traveller).map(|to| at.duration_until(&to)).unwrap_or_default();
    let wall = instance.start.datetime().checked_add(moved).ok();
    if let Some((start, in_gap)) = wall.and_then(|wall| zoned(wall, instance.start.time_zone())) {
        add(event, Instance { start, in_gap, length: event.length }, asked, found, true);
    }
}

/// Instances of an event near the span, by start.
fn instances(event: &Event, asked: &AskedSpan, moved: SignedDuration, found: &mut EventsFound) -> Vec<Instance> {
    let zone = event.start.zone(&asked.traveller);
    let start = event.start.moment.wall();
    let at = |wall: DateTime| Some(zoned(wall, &zone)?.0.timestamp());
    let wall_of = |t: Timestamp| t.to_zoned(zone.clone()).datetime();
    let length = longest(event, &zone);
    let margin = WIDEST_GAP + moved;
    let wanted = (
        wall_of(asked.from).checked_sub(margin + length).unwrap_or(DateTime::MIN),
        wall_of(asked.to).checked_add(margin).unwrap_or(DateTime::MAX),
    );
    let mut walls = vec![start];
    for rule in &event.rules {
        let instant: Option<&dyn Fn(DateTime) -> Option<Timestamp>> = if event.of_days() { None } else { Some(&at) };
        if found.given_up >= MOST_GIVEN_UP {
            let fact = "recurs by a rule that was not followed, because too many other rules in the file were given up";
            found.complaints.push(complaint(event, fact.to_owned(), true));
            continue;
        }
        match rule.dates(&Expansion { start, wanted, instant }) {
            Ok(dates) => {
                walls.extend(dates.walls);
                if let Some(why) = dates.cut {
                    found.given_up += 1;
                    found.complaints.push(complaint(event, why.to_owned(), true));
                }
            }
            Err(fact) => found.complaints.push(complaint(event, format!("{fact}; only the first date is kept"), true)),
        }
    }
    // Dates of RDATE come first: of two instances with one start, a period keeps its own length (section 5).
    let extra = event.extra.iter().map(|(stamp, length)| (stamp.moment.wall(), stamp.zone(&asked.traveller), *length));
    let ruled = walls.into_iter().map(|wall| (wall, zone.clone(), None));
    let mut out: Vec<Instance> = extra
        .chain(ruled)
        .filter_map(|(wall, zone, length)| Some((zoned(wall, &zone)?, length.unwrap_or(event.length))))
        .map(|((start, in_gap), length)| Instance { start, in_gap, length })
        .collect();
    out.sort_by_key(|i| i.start.timestamp());
    out.dedup_by_key(|i| i.start.timestamp());
    out
}

/// The longest an instance of the event may last.
fn longest(event: &Event, zone: &TimeZone) -> SignedDuration {
    let Some((start, _)) = zoned(event.start.moment.wall(), zone) else { return SignedDuration::ZERO };
    let own = event.extra.iter().filter_map(|(_, length)| *length).chain([event.length]);
    own.map(|length| start.duration_until(&length.end(&start))).max().unwrap_or_default()
}

fn complaint(event: &Event, fact: String, lost: bool) -> Complaint {
    let Event { line, details, .. } = event;
    Complaint {
        line: *line,
        uid: Some(details.uid.clone()),
        summary: details.summary.clone(),
        when: event.written.clone(),
        fact,
        lost,
    }
}

/// Adds an instance that touches the span.
fn add(event: &Event, instance: Instance, asked: &AskedSpan, found: &mut EventsFound, recurring: bool) {
    let Instance { start, in_gap, length } = instance;
    let end = length.end(&start);
    if !asked.touches(&start, &end) {
        return;
    }
    if event.of_days() {
        if !event.cancelled {
            let (first, after) = (start.date(), end.date());
            let last = if after > first { after.yesterday().unwrap_or(first) } else { first };
            found.all_day.push(AllDay { details: event.details.clone(), first, last });
        }
        return;
    }
    if event.cancelled {
        found.cancelled += 1;
        return;
    }
    if in_gap {
        let fact = format!(
            "no clock shows this time on {} (daylight saving begins); {} is assumed",
            start.date(),
            start.strftime("%H:%M")
        );
        found.complaints.push(complaint(event, fact, false));
    }
    let clock = event.start.clock();
    found.meetings.push(Occurrence { details: event.details.clone(), start, end, clock, recurring });
}
