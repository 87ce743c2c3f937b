//! A day found, in words and figures: what one does when, and how each meeting is held.
use jiff::{SignedDuration, Timestamp, Zoned};
use serde::{Serialize, Serializer};

use super::crew::Traveller;
use super::day::Day;
use super::halt::Halt;
use super::kind::{Kind, Meeting};
use super::rank::{DrivenDay, Teller, ToldRisk};
use super::search::{FoundDay, Stay, Why};
use super::span::{Doing, Span};
use super::told::{Asked, Depth, Figures};
use super::verdict::{FallsInto, How, RiskFrom, Verdict, verdict};
use crate::base::error::Result;
use crate::base::words::{DayWay, Dial, StopReason};

/// A moment in the traveller's zone, on the traveller's dial; for programs it is written as RFC 3339 with its offset.
#[derive(Debug, Clone, PartialEq)]
pub struct Stamp(pub Zoned, pub Dial);

impl Serialize for Stamp {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        to.collect_str(&self.0.timestamp().display_with_offset(self.0.offset()))
    }
}

impl Stamp {
    /// Hours and minutes, `08:05` or `8:05 am`.
    pub fn clock(&self) -> String {
        self.1.time(self.0.time())
    }
    /// With the date in front, `Mon 2026-06-15 08:05`.
    pub(crate) fn date_and_clock(&self) -> String {
        format!("{} {}", self.0.strftime("%a %Y-%m-%d"), self.clock())
    }
    /// With the day of the week in front, `Mon 08:05`.
    pub(crate) fn weekday_and_clock(&self) -> String {
        format!("{} {}", self.0.strftime("%a"), self.clock())
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
        /// Kilometres along the road at the start.
        from_km: f64,
        /// Kilometres along the road at the end.
        to_km: f64,
        /// Expected seconds without a link.
        outage_s: f64,
        /// Seconds at the wheel at the begin and at the end.
        #[serde(skip)]
        wheel_s: (f64, f64),
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
    /// What to do about it, in a word.
    pub verdict: Verdict,
    /// The same with what is assumed about the roadside at the unfavourable end of its range.
    pub verdict_worst: Verdict,
    /// How.
    pub how: How,
    /// Its parts, in their order.
    pub parts: Vec<HeldPart>,
    /// Probability that some outage takes more of it than its kind tolerates; nothing where that is not known.
    pub risk: Option<f64>,
    /// The same with what is assumed about the roadside at the favourable end of its range; nothing where that is not known, as at
    /// places to stop.
    pub risk_best: Option<f64>,
    /// At the unfavourable end.
    pub risk_worst: Option<f64>,
    /// What the risk is based on.
    pub risk_from: RiskFrom,
    /// The longest outage its kind tolerates, seconds.
    pub stands_s: f64,
    /// Expected seconds without a link; nothing where the risk is not known.
    pub outage_s: Option<f64>,
    /// Whose it is, by the trip file; who holds it in motion where nothing says whose.
    pub by: Vec<String>,
    /// Who drives meanwhile, where the trip file names the travellers.
    pub drivers: Vec<String>,
    /// What on the road decides it; only for the day chosen, and only where an outage is longer than its kind tolerates.
    pub falls_into: Option<FallsInto>,
}

/// A part of a meeting: how and where it is held.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct HeldPart {
    /// How.
    pub how: How,
    /// Begin.
    pub from: Stamp,
    /// End.
    pub to: Stamp,
    /// Road driven meanwhile, kilometres from the start.
    pub road_km: Option<(f64, f64)>,
    /// Name of the place, where the map has one.
    pub place: Option<String>,
    /// Where that is, degrees.
    pub lat_deg: Option<f64>,
    /// See `lat_deg`.
    pub lon_deg: Option<f64>,
}

impl Held {
    /// Road driven during it, kilometres from the start.
    pub fn road_km(&self) -> Option<(f64, f64)> {
        let roads = || self.parts.iter().filter_map(|p| p.road_km);
        Some((roads().next()?.0, roads().next_back()?.1))
    }
    /// Whether some of it is held in motion.
    pub fn is_in_motion(&self) -> bool {
        self.parts.iter().any(|part| matches!(part.how, How::InMotion | How::InParts))
    }
    /// The parts that are worth a clause: not those that last less than a minute, such as driving off the road to a stop, unless
    /// nobody holds them or nothing else is left.
    pub fn main_parts(&self) -> Vec<&HeldPart> {
        main_parts(&self.parts)
    }
    /// Whether both are one meeting, however it is held.
    pub(crate) fn is_same(&self, other: &Self) -> bool {
        (&self.uid, &self.name, &self.start, &self.end) == (&other.uid, &other.name, &other.start, &other.end)
    }
    /// Says that the panel is off during some of it.
    pub(crate) fn lose_power(&mut self) {
        (self.verdict, self.verdict_worst, self.risk_from) = (Verdict::NoPower, Verdict::NoPower, RiskFrom::NoPower);
        (self.risk, self.risk_best, self.risk_worst) = (Some(1.0), None, None);
    }
    /// Whether some of it is held at rest where the map shows no place to stand.
    pub(crate) fn stands_nowhere(&self) -> bool {
        stands_nowhere(&self.parts)
    }
    /// Names of the places where it is held, in order.
    pub fn places(&self) -> impl Iterator<Item = &str> {
        self.parts.iter().filter_map(|p| p.place.as_deref())
    }
}

fn main_parts(parts: &[HeldPart]) -> Vec<&HeldPart> {
    let lasts = |part: &&HeldPart| part.from.0.duration_until(&part.to.0) >= SignedDuration::from_mins(1);
    let main: Vec<&HeldPart> = parts.iter().filter(|part| part.how == How::NotHeld || lasts(part)).collect();
    if main.is_empty() { parts.iter().collect() } else { main }
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
    /// Meetings, in order of start.
    pub meetings: Vec<Held>,
}

/// A day found, in words and figures.
pub(super) fn itinerary(teller: &Teller, name: DayWay, found: &FoundDay, depth: Depth) -> Result<Itinerary> {
    let day = teller.day;
    let driven = DrivenDay::of(day, found);
    let spans = &driven.spans;
    let mut meetings: Vec<Held> =
        day.meetings.iter().map(|m| held(teller, &driven, m, depth)).collect::<Result<_>>()?;
    meetings.sort_by_key(|m| m.start.unix_s());
    Ok(Itinerary {
        name,
        depart: stamp(day, found.depart_s),
        arrive: stamp(day, found.arrive_s),
        shift_min: (found.depart_s - day.depart_s) as f64 / 60.0,
        driving_h: spans.iter().filter(|s| driving(s)).map(|s| (s.to_s - s.from_s) as f64 / 3_600.0).sum(),
        length_km: day.drive.length_km(),
        outage_s: day.drive.outage_s(0.0, day.drive.length_s()),
        cost_min: found.cost_min,
        parts: parts(day, found, spans),
        meetings,
    })
}

fn stamp(day: &Day, at_s: i64) -> Stamp {
    Stamp(Timestamp::from_second(at_s).unwrap_or_default().to_zoned(day.zone.clone()), day.shown.dial)
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
                wheel_s: (wheel_from_s, wheel_to_s),
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

fn held(teller: &Teller, driven: &DrivenDay, meeting: &Meeting, depth: Depth) -> Result<Held> {
    let (day, crew) = (teller.day, &teller.day.rules.crew);
    let asked = Asked::new(meeting.kind, meeting.start_s, meeting.judged_end_s());
    let touched = || driven.touching(&asked);
    let parts: Vec<HeldPart> = touched()
        .map(|(span, driver, times_s)| {
            let part = held_part(day, span, times_s);
            if driven.misses(day, driver, meeting.of) { HeldPart { how: How::NotHeld, ..part } } else { part }
        })
        .collect();
    let mut drivers: Vec<usize> = touched().filter_map(|(_, driver, _)| driver).collect();
    drivers.sort_unstable();
    drivers.dedup();
    let holds = |n: usize, t: &Traveller| meeting.of.has(n) || meeting.of.is_empty() && t.link && !drivers.contains(&n);
    let by = crew.iter().enumerate().filter(|(n, t)| holds(*n, t)).map(|(_, t)| t.name.clone()).collect();
    let told = teller.told(driven, &asked, meeting.of, depth)?;
    let (figures, risk_from) = match told {
        ToldRisk::Simulated(figures) => (Some(figures), RiskFrom::Simulated),
        ToldRisk::Layer(figures) => (Some(figures), RiskFrom::Layer),
        ToldRisk::Missed => (Some(Figures { risk: 1.0, outage_s: 0.0 }), RiskFrom::NotHeld),
        ToldRisk::NotKnown => (None, RiskFrom::NotKnown),
    };
    let [risk_best, risk_worst] = match told {
        ToldRisk::Simulated(figures) if depth == Depth::Tell => teller.range(&driven.spans, &asked, figures.risk)?,
        _ => [None; 2],
    };
    // Whether one can stand there nobody knows; and where nothing assumed has a range the worst is what is likely.
    let worst = match (stands_nowhere(&parts), risk_best) {
        (true, _) => None,
        (false, Some(_)) => risk_worst,
        (false, None) => figures.map(|f| f.risk),
    };
    let word = |risk| verdict(risk, risk_from, &hows(&parts), day.rules.safe_risk);
    Ok(Held {
        uid: meeting.uid.clone(),
        name: meeting.name.clone(),
        kind: meeting.kind,
        tentative: meeting.tentative,
        start: stamp(day, meeting.start_s),
        end: stamp(day, meeting.end_s),
        verdict: word(figures.map(|f| f.risk)),
        verdict_worst: word(worst),
        how: how(&parts),
        parts,
        risk: figures.map(|f| f.risk),
        risk_best,
        risk_worst,
        risk_from,
        stands_s: meeting.kind.stands_s(day.edges),
        outage_s: figures.map(|f| f.outage_s),
        by,
        drivers: drivers.iter().filter_map(|n| crew.get(*n)).map(|t| t.name.clone()).collect(),
        falls_into: None,
    })
}

fn held_part(day: &Day, span: &Span, (from_s, to_s): (i64, i64)) -> HeldPart {
    let place = match span.doing {
        Doing::Stopped { halt, .. } => Some(&day.halts[halt]),
        Doing::BeforeTrip => day.ends[0].place(),
        Doing::AfterTrip => day.ends[1].place(),
        Doing::Driving { .. } => None,
    };
    let km_at = |at_s: i64| day.drive.km_at(span.wheel_at(at_s));
    HeldPart {
        how: how_of(span),
        from: stamp(day, from_s),
        to: stamp(day, to_s),
        road_km: driving(span).then(|| (km_at(from_s), km_at(to_s))),
        place: place.map(|p| p.name.clone()),
        lat_deg: place.map(|p| p.lat_deg),
        lon_deg: place.map(|p| p.lon_deg),
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

/// Whether some of a meeting that is held at rest has no place of the map: its figures are those of the sky over the road.
fn stands_nowhere(parts: &[HeldPart]) -> bool {
    let at_rest = |part: &&HeldPart| matches!(part.how, How::BeforeTrip | How::AfterTrip | How::AtStop);
    main_parts(parts).into_iter().filter(at_rest).any(|part| part.place.is_none())
}

/// How the parts that are worth a clause are held.
fn hows(parts: &[HeldPart]) -> Vec<How> {
    main_parts(parts).iter().map(|part| part.how).collect()
}

fn how(parts: &[HeldPart]) -> How {
    match parts {
        [one] => one.how,
        _ => How::InParts,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_part_under_a_minute_is_left_out_unless_nobody_holds_it_or_nothing_else_is_left() {
        let parts = |of: &[(How, i64)]| -> Vec<HeldPart> {
            let mut at = jiff::Timestamp::UNIX_EPOCH.to_zoned(jiff::tz::TimeZone::UTC);
            let one = |(how, seconds): &(How, i64)| {
                let from = at.clone();
                at = from.saturating_add(SignedDuration::from_secs(*seconds));
                let (from, to) = (Stamp(from, Dial::Hours24), Stamp(at.clone(), Dial::Hours24));
                HeldPart { how: *how, from, to, road_km: None, place: None, lat_deg: None, lon_deg: None }
            };
            of.iter().map(one).collect()
        };
        let left = |of: &[(How, i64)]| main_parts(&parts(of)).iter().map(|part| part.how).collect::<Vec<_>>();
        assert_eq!(left(&[(How::InMotion, 20), (How::AtStop, 1_780)]), [How::AtStop]);
        assert_eq!(left(&[(How::InMotion, 60), (How::AtStop, 60)]), [How::InMotion, How::AtStop]);
        assert_eq!(left(&[(How::NotHeld, 20), (How::AtStop, 1_780)]), [How::NotHeld, How::AtStop]);
        // A meeting without a length is judged over one minute.
        assert_eq!(left(&[(How::InMotion, 30), (How::AtStop, 30)]), [How::InMotion, How::AtStop]);
    }
}
