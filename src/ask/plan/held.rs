//! A day found, in words and figures: what one does when, and how each meeting is held.
use jiff::{Timestamp, Zoned};
use serde::{Serialize, Serializer};

use super::agenda::Agenda;
use super::crew::{Traveller, can_be_held};
use super::day::Day;
use super::halt::Halt;
use super::kind::{Kind, Meeting};
use super::risk;
use super::search::{FoundDay, Stay, Why, leg, spans};
use super::span::{Doing, Span};
use crate::base::count::time;
use crate::base::words::{DayWay, StopReason};

/// A moment in the traveller's zone; written as RFC 3339 with its offset.
#[derive(Debug, Clone, PartialEq)]
pub struct Stamp(pub Zoned);

impl Serialize for Stamp {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        to.collect_str(&self.0.timestamp().display_with_offset(self.0.offset()))
    }
}

impl Stamp {
    /// Hours and minutes, `08:05`.
    pub fn clock(&self) -> String {
        self.0.strftime("%H:%M").to_string()
    }
    /// Day of the month in front, `Mon 2026-06-15 08:05`.
    pub(crate) fn day_and_clock(&self) -> String {
        self.0.strftime("%a %Y-%m-%d %H:%M").to_string()
    }
    /// Seconds since 1970-01-01 UTC.
    pub(crate) fn unix_s(&self) -> i64 {
        self.0.timestamp().as_second()
    }
}

/// A part of the day.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "doing", rename_all = "snake_case")]
pub enum Part {
    /// Driving.
    Drive {
        /// Begin.
        from: Stamp,
        /// End.
        to: Stamp,
        /// Kilometres along the road at the begin.
        from_km: f64,
        /// Kilometres along the road at the end.
        to_km: f64,
        /// Expected seconds without a link.
        outage_s: f64,
    },
    /// A stop.
    Stop {
        /// Arrival.
        from: Stamp,
        /// Departure.
        to: Stamp,
        /// Where.
        place: Box<Halt>,
        /// Why.
        why: StopReason,
        /// Name of the meeting held there.
        meeting: Option<String>,
    },
}

/// How a meeting is held.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum How {
    /// Driving, all of it.
    InMotion,
    /// At a stop, all of it.
    AtStop,
    /// Before one leaves.
    BeforeTrip,
    /// After one has arrived.
    AfterTrip,
    /// Not at all: nobody is free to hold it while the others drive.
    NotHeld,
    /// Some of it here, some of it there.
    InParts,
}

/// A meeting, as held.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Held {
    /// Identity in its calendar; empty where that gives none.
    pub uid: String,
    /// What it is called.
    pub name: String,
    /// Kind.
    pub kind: Kind,
    /// Not yet confirmed.
    pub tentative: bool,
    /// Begin.
    pub start: Stamp,
    /// End.
    pub end: Stamp,
    /// How.
    pub how: How,
    /// All ways in which parts of it are held, in their order.
    pub parts: Vec<How>,
    /// Probability of an outage longer than its kind tolerates.
    pub risk: f64,
    /// The longest outage its kind tolerates, seconds.
    pub stands_s: f64,
    /// Expected seconds without a link.
    pub outage_s: f64,
    /// Road driven meanwhile, kilometres from the start.
    pub road_km: Option<(f64, f64)>,
    /// Place where it is held, or most of it.
    pub place: Option<String>,
    /// Whose it is, by the trip file; who holds it in motion where nothing says whose.
    pub by: Vec<String>,
    /// Who drives meanwhile, where the trip file names the travellers.
    pub drivers: Vec<String>,
}

/// A day.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Itinerary {
    /// What it is: see [`super::Plan::others`].
    pub name: DayWay,
    /// Departure.
    pub depart: Stamp,
    /// Arrival.
    pub arrive: Stamp,
    /// Minutes it leaves later than asked; negative for earlier.
    pub shift_min: f64,
    /// Hours at the wheel.
    pub driving_h: f64,
    /// Kilometres.
    pub length_km: f64,
    /// Expected seconds without a link while driving.
    pub outage_s: f64,
    /// Cost, minutes, see [`super::Worth`].
    pub cost_min: f64,
    /// What one does when.
    pub parts: Vec<Part>,
    /// Meetings, by begin.
    pub meetings: Vec<Held>,
}

/// A day found, in words and figures.
pub(super) fn itinerary(day: &Day, name: DayWay, found: &FoundDay) -> Itinerary {
    let spans = spans(day, found);
    let agenda = Agenda::of(day.meetings);
    let wheel = |s: &Span| leg(day, s, agenda.touching(s.from_s, s.to_s)).0;
    let driven: Vec<SpanDriven> = spans.iter().map(|s| (*s, wheel(s))).collect();
    let mut meetings: Vec<Held> = day.meetings.iter().map(|m| held(day, &driven, m)).collect();
    meetings.sort_by_key(|m| m.start.unix_s());
    Itinerary {
        name,
        depart: stamp(day, found.depart_s),
        arrive: stamp(day, found.arrive_s),
        shift_min: (found.depart_s - day.depart_s) as f64 / 60.0,
        driving_h: spans.iter().filter(|s| driving(s)).map(|s| (s.to_s - s.from_s) as f64 / 3_600.0).sum(),
        length_km: day.drive.length_km(),
        outage_s: day.drive.outage_s(0.0, day.drive.length_s()),
        cost_min: found.cost_min,
        parts: parts(day, found, &spans),
        meetings,
    }
}

fn stamp(day: &Day, at_s: i64) -> Stamp {
    Stamp(Timestamp::from_second(at_s).unwrap_or_default().to_zoned(day.zone.clone()))
}

fn driving(span: &Span) -> bool {
    matches!(span.doing, Doing::Driving { .. })
}

fn parts(day: &Day, found: &FoundDay, spans: &[Span]) -> Vec<Part> {
    let mut stays = found.stays.iter();
    let mut out = Vec::new();
    for span in spans {
        match span.doing {
            Doing::Driving { wheel_from_s, wheel_to_s, .. } => out.push(Part::Drive {
                from: stamp(day, span.from_s),
                to: stamp(day, span.to_s),
                from_km: day.drive.km_at(wheel_from_s),
                to_km: day.drive.km_at(wheel_to_s),
                outage_s: day.drive.outage_s(wheel_from_s, wheel_to_s),
            }),
            Doing::Stopped { .. } => out.extend(stays.next().map(|stay| stop(day, stay))),
            Doing::BeforeTrip | Doing::AfterTrip => {}
        }
    }
    out
}

fn stop(day: &Day, stay: &Stay) -> Part {
    let (why, meeting) = match stay.why {
        Why::Change => (StopReason::Change, None),
        Why::Break => (StopReason::Break, None),
        Why::Night => (StopReason::Night, None),
        Why::Meeting(m) => (StopReason::Meeting, Some(day.meetings[m].name.clone())),
    };
    Part::Stop {
        from: stamp(day, stay.arrive_s),
        to: stamp(day, stay.leave_s),
        place: Box::new(day.halts[stay.halt].clone()),
        why,
        meeting,
    }
}

/// A span and who drives it, where the travellers are named.
type SpanDriven = (Span, Option<usize>);

fn held(day: &Day, driven: &[SpanDriven], meeting: &Meeting) -> Held {
    let end_s = meeting.judged_end_s();
    let at_wheel: Vec<&SpanDriven> =
        driven.iter().filter(|(s, _)| s.overlap(meeting.start_s, end_s).is_some()).collect();
    let touched: Vec<&Span> = at_wheel.iter().map(|(s, _)| s).collect();
    let crew = &day.rules.crew;
    let missed = |driver: Option<usize>| driver.is_some_and(|d| !can_be_held(crew, d, meeting.of));
    let mut parts: Vec<How> = at_wheel.iter().map(|(s, d)| if missed(*d) { How::NotHeld } else { how_of(s) }).collect();
    parts.dedup();
    let mut drivers: Vec<usize> = at_wheel.iter().filter_map(|(_, d)| *d).collect();
    drivers.sort_unstable();
    drivers.dedup();
    let holds = |n: usize, t: &Traveller| meeting.of.has(n) || meeting.of.is_empty() && t.link && !drivers.contains(&n);
    let by = crew.iter().enumerate().filter(|(n, t)| holds(*n, t)).map(|(_, t)| t.name.clone()).collect();
    let tolls = touched.iter().map(|s| s.toll(day, meeting.kind, meeting.start_s, end_s));
    let (long_outages, outage_s) = tolls.fold((0.0, 0.0), |t, one| (t.0 + one.long_outages, t.1 + one.outage_s));
    let roads: Vec<(f64, f64)> =
        touched.iter().filter(|s| driving(s)).filter_map(|s| road_km(day, s, meeting.start_s, end_s)).collect();
    let parts_miss = parts.contains(&How::NotHeld);
    Held {
        uid: meeting.uid.clone(),
        name: meeting.name.clone(),
        kind: meeting.kind,
        tentative: meeting.tentative,
        start: stamp(day, meeting.start_s),
        end: stamp(day, meeting.end_s),
        how: how(&parts),
        parts,
        risk: if parts_miss { 1.0 } else { risk::probability(long_outages) },
        stands_s: meeting.kind.stands_s(day.edges),
        outage_s,
        road_km: roads.first().zip(roads.last()).map(|(a, b)| (a.0, b.1)),
        place: place(day, &touched, meeting.start_s, end_s),
        by,
        drivers: drivers.iter().filter_map(|n| crew.get(*n)).map(|t| t.name.clone()).collect(),
    }
}

fn how_of(span: &Span) -> How {
    match span.doing {
        Doing::BeforeTrip => How::BeforeTrip,
        Doing::Driving { .. } => How::InMotion,
        Doing::Stopped { .. } => How::AtStop,
        Doing::AfterTrip => How::AfterTrip,
    }
}

fn how(parts: &[How]) -> How {
    match parts {
        [one] => *one,
        _ => How::InParts,
    }
}

fn road_km(day: &Day, span: &Span, from_s: i64, to_s: i64) -> Option<(f64, f64)> {
    let (a, b) = span.overlap(from_s, to_s)?;
    Some((day.drive.km_at(span.wheel_at(a)), day.drive.km_at(span.wheel_at(b))))
}

fn place(day: &Day, touched: &[&Span], from_s: i64, to_s: i64) -> Option<String> {
    let stops = touched.iter().filter_map(|s| match s.doing {
        Doing::Stopped { halt, .. } => s.overlap(from_s, to_s).map(|(a, b)| (b - a, halt)),
        _ => None,
    });
    stops.max_by_key(|s| s.0).map(|(_, halt)| day.halts[halt].name.clone())
}

/// What the figures do not say by themselves.
pub(super) fn notes(day: &Day, chosen: &Itinerary) -> Vec<String> {
    let mut out = Vec::new();
    let unknown_s: f64 = day.drive.unknown_s.iter().map(|(a, b)| b - a).sum();
    if unknown_s >= 0.5 {
        out.push(format!(
            "for {} the drive is on no road of the layer: unknown is not clear, meetings there are assumed to be interrupted",
            time(unknown_s)
        ));
    }
    for (how, end, word) in
        [(How::BeforeTrip, day.ends[0], "before departure"), (How::AfterTrip, day.ends[1], "after arrival")]
    {
        if !chosen.meetings.iter().any(|m| m.parts.contains(&how)) {
            continue;
        }
        let open = 100.0 * end.open_share;
        out.push(match end.place {
            Some(place) => format!("{word} you are assumed to stand at {}, {open:.0} % of the sky open", place.name),
            None => format!(
                "{word} the sky is not known: {open:.0} % of it is assumed to be open; look at the place with `waymask sky`"
            ),
        });
    }
    out
}
