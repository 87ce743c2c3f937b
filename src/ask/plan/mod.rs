//! A day on the road: when to leave, where to stop, and how every meeting is held.
//!
//! In: a drive along pieces of the layer, places to stop, meetings, rules. Out: the day that costs least by the worth the
//! traveller gives to things, and for comparison the days without stops for meetings and without another departure, so that the
//! choice can be seen. Nothing here proposes a stop but at the places given.
mod agenda;
mod crew;
mod day;
mod halt;
mod held;
mod kind;
mod late;
mod notes;
mod rank;
mod risk;
mod rules;
mod search;
mod span;
#[cfg(test)]
mod tests_crew;
#[cfg(test)]
mod tests_ends;
#[cfg(test)]
mod tests_late;
#[cfg(test)]
mod tests_search;
mod told;
mod verdict;
mod why;

pub(super) use crew::MOST_TRAVELLERS;
pub use crew::{Traveller, Travellers};
pub use day::{Day, DayEnd, EndSky};
pub use halt::{Halt, kept};
pub use held::{Held, HeldPart, Itinerary, Part, Stamp};
pub use kind::{Kind, Meeting};
pub use late::LateDay;
pub use risk::{DriveRisk, probability, standing_per_s};
pub(super) use rules::SAFE_RISK;
pub use rules::{Departure, Driving, Nights, Rules, Stopping, Worth};
pub use search::Why;
pub use told::{Depth, Figures, MeetingPart, Panel, Simulator, Whereabout};
pub use verdict::{FallsInto, How, RiskFrom, Verdict};

use crate::ask::corridor::Corridor;
use crate::base::error::Error;
use crate::base::geodesy::{Position, distance_m};
use crate::base::progress::Progress;
use crate::base::words::{Cause, DayWay, HowTold, Roofed};
use jiff::tz::TimeZone;
use serde::Serialize;

use crate::profile::RatingEdges;
use agenda::Agenda;
use day::AT_END_M;
use rank::Teller;
use search::{FoundDay, Freedom, TooMany, search};

/// What a day is planned from.
pub struct DayQuestion<'a> {
    /// The road driven.
    pub corridor: &'a Corridor,
    /// Simulates what meetings live through; without it their risks come from figures of the layer.
    pub simulator: Option<&'a dyn Simulator>,
    /// Is notified of every search, [`SEARCHES`] in all.
    pub progress: &'a dyn Progress,
    /// Where the night before the day was spent, if that is where it begins.
    pub night: Option<Halt>,
    /// Where the night after it is spent, if that is known: the day ends there.
    pub ends_at: Option<Halt>,
    /// Places where one may stop.
    pub halts: Vec<Halt>,
    /// Meetings.
    pub meetings: Vec<Meeting>,
    /// Rules.
    pub rules: &'a Rules,
    /// Edges of ratings.
    pub edges: &'a RatingEdges,
    /// Usable satellites expected where the whole usable sky is open.
    pub usable: f64,
    /// Departure asked for, seconds since 1970-01-01 UTC.
    pub depart_s: i64,
    /// Zone of the traveller.
    pub zone: TimeZone,
    /// How the traveller is told figures.
    pub shown: HowTold,
}

/// How much was looked at.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Searched {
    /// Departures.
    pub departures: usize,
    /// Places along the road.
    pub places_found: usize,
    /// Places looked at.
    pub places_kept: usize,
    /// Partial days compared.
    pub compared: usize,
}

/// A day planned.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Plan {
    /// The day that costs least.
    pub chosen: Itinerary,
    /// Other ways to spend it, for comparison: as asked, with another departure only, with stops only.
    pub others: Vec<Itinerary>,
    /// What becomes of it if one leaves late.
    pub late: Vec<LateDay>,
    /// The rules of driving are kept; where no day keeps them this one breaks them, and must not be driven so.
    pub rules_kept: bool,
    /// What the traveller should know besides.
    pub notes: Vec<String>,
    /// How much was looked at.
    pub searched: Searched,
    /// The place of the map where one stands when the day is over, if any.
    #[serde(skip)]
    pub stands_at: Option<Halt>,
}

/// Why there is no plan.
#[derive(Debug)]
pub enum NoPlan {
    /// A sentence: there is nothing to drive, or no day within the limits reaches the end.
    NoDay(String),
    /// The layer cannot be read.
    Unread(Error),
}

impl From<Error> for NoPlan {
    fn from(error: Error) -> Self {
        Self::Unread(error)
    }
}

/// Fewest places a search is cut down to.
const FEWEST_PLACES: usize = 5;

/// Plans a day.
///
/// # Errors
/// There is nothing to drive, too much of the track is on no road, no day within the limits reaches the end, or the layer cannot be
/// read.
pub fn plan_day(question: &DayQuestion) -> Result<Plan, NoPlan> {
    let corridor = question.corridor;
    let drive = DriveRisk::of(corridor, &question.rules.driving);
    if corridor.pieces.is_empty() || drive.length_s() <= 0.0 {
        return Err(NoPlan::NoDay("its track has nothing to drive: it is not on any road in the layer".into()));
    }
    let (missed_m, most) = (drive.unknown_m(), question.rules.driving.most_unmatched);
    if missed_m > most * (missed_m + corridor.length_m) {
        return Err(NoPlan::NoDay(format!(
            "{} of its track is off the layer's roads, more than {:.0} %: the time of arrival and the risk of \
             meetings there are not known",
            question.shown.units.length(missed_m),
            100.0 * most
        )));
    }
    let road_open = [
        corridor.pieces.first().filter(|_| !drive.begins_unknown()),
        corridor.pieces.last().filter(|_| !drive.ends_unknown()),
    ]
    .map(|piece| piece.filter(|p| p.cause != Cause::Boarded).map(|p| p.open_share));
    let begin = question.night.as_ref().map_or(&question.halts[..], std::slice::from_ref);
    // A road that passes a place at its start and ends there again lists it once, at its start.
    let last = corridor.pieces.last().and_then(|piece| piece.line.last());
    let far_m = |h: &Halt| last.map_or(f64::INFINITY, |at| distance_m(*at, Position::from_deg(h.lon_deg, h.lat_deg)));
    let seen = question.halts.iter().filter(|h| h.roof != Roofed::Unknown && far_m(h) <= AT_END_M);
    let there = seen.min_by(|a, b| far_m(a).total_cmp(&far_m(b)));
    let end = question.ends_at.as_ref().or(there).map(EndSky::Place).filter(|_| road_open[1].is_some());
    let mut most = question.rules.stopping.most_places;
    loop {
        let halts = kept(question.halts.clone(), drive.length_km(), most);
        let day = Day {
            drive: &drive,
            halts: &halts,
            meetings: &question.meetings,
            rules: question.rules,
            edges: question.edges,
            usable: question.usable,
            depart_s: question.depart_s,
            zone: &question.zone,
            shown: question.shown,
            ends: [
                DayEnd::at(0.0, begin, road_open[0]),
                end.map_or_else(|| DayEnd::at(drive.length_km(), &question.halts, road_open[1]), |sky| DayEnd { sky }),
            ],
        };
        match days(&day, question.progress) {
            Ok(found) => return written(question, &day, found),
            Err(TooMany) if most > FEWEST_PLACES => most = (most / 2).max(FEWEST_PLACES),
            Err(TooMany) => {
                return Err(NoPlan::NoDay("too many departures and meetings to compare: ask for fewer".into()));
            }
        }
    }
}

/// What the searches found.
struct Days {
    named: Vec<(DayWay, Vec<FoundDay>)>,
    /// What the search that found them was free to do besides.
    freedom: Freedom,
    notes: Vec<String>,
}

/// Searches of a day.
pub const SEARCHES: u64 = WAYS.len() as u64;

/// Names of the ways to spend a day, the freest last.
const WAYS: [(DayWay, bool, bool); 4] = [
    (DayWay::AsAsked, false, false),
    (DayWay::AnotherDeparture, true, false),
    (DayWay::StopsForMeetings, false, true),
    (DayWay::DepartureAndStops, true, true),
];

fn days(day: &Day, progress: &dyn Progress) -> Result<Days, TooMany> {
    let mut notes = Vec::new();
    let mut told = 0;
    // Early breaks, nights on the way and broken rules only where nothing else reaches the end.
    let passes =
        [(false, true, false), (false, true, true), (true, true, false), (true, true, true), (false, false, true)];
    for (nights, rules, early) in passes {
        let mut named: Vec<(DayWay, Vec<FoundDay>)> = Vec::new();
        for (name, shift, stop) in WAYS {
            // Freer searches only matter where they find something cheaper than the others did.
            let known = named.iter().flat_map(|n| &n.1).map(|d| d.cost_min).fold(f64::INFINITY, f64::min);
            let freedom = Freedom { shift, stop, nights, rules, early };
            let found = search(day, freedom, known)?;
            // Few days need more than one round.
            progress.advance(u64::from(told < SEARCHES));
            told += 1;
            if !found.is_empty() {
                named.push((name, found));
            }
        }
        if !named.is_empty() {
            let freedom = Freedom { shift: false, stop: true, nights, rules, early };
            return Ok(Days { named, freedom, notes });
        }
        if early {
            notes.clear();
            notes.push(
                if nights {
                    "with the places to stop that the layer knows along this road, no day keeps the rules of \
                     driving, so this one breaks them; cut the track into days, or look for other places"
                } else {
                    "without a night on the way, no day keeps the hours and breaks with these places to stop: nights \
                     are allowed"
                }
                .to_owned(),
            );
        }
    }
    let freedom = Freedom { shift: false, stop: true, nights: true, rules: false, early: true };
    Ok(Days { named: Vec::new(), freedom, notes })
}

fn written(question: &DayQuestion, day: &Day, days: Days) -> Result<Plan, NoPlan> {
    let Days { named, freedom, mut notes } = days;
    let compared = named.iter().filter_map(|n| n.1.first()).map(|d| d.compared).sum();
    let teller = Teller { day, simulator: question.simulator };
    let mut best: Vec<(DayWay, FoundDay)> = Vec::new();
    for (name, found) in named {
        best.extend(teller.best(found)?.map(|found| (name, found)));
    }
    // The first of those that cost the same: it asks least of the traveller.
    let cheapest = (0..best.len()).min_by(|a, b| best[*a].1.cost_min.total_cmp(&best[*b].1.cost_min));
    let Some(cheapest) = cheapest else {
        return Err(NoPlan::NoDay("no day within the limits reaches the end of the track".into()));
    };
    let (name, found) = best.remove(cheapest);
    let mut chosen = held::itinerary(&teller, name, &found, Depth::Tell)?;
    let others = best.iter().map(|(name, found)| held::itinerary(&teller, *name, found, Depth::Rank));
    let mut others: Vec<Itinerary> = others.collect::<crate::base::error::Result<_>>()?;
    // What is held alike has one figure: that of more drives.
    for m in others.iter_mut().flat_map(|way| &mut way.meetings) {
        if let Some(own) = chosen.meetings.iter().find(|own| own.is_same(m) && own.parts == m.parts) {
            *m = own.clone();
        }
    }
    why::say_why(&mut chosen, &others, question.corridor);
    let d = &question.rules.departure;
    let departures = ((d.earlier_min + d.later_min) / d.step_min.max(1) + 1) as usize;
    notes.extend(notes::notes(day, &chosen));
    let left_aside = Agenda::of(day.meetings).left_aside;
    let late = if left_aside > 0 { Vec::new() } else { late::late_days(&teller, &found, freedom)? };
    if left_aside > 0 {
        notes
            .push("what becomes of a day that begins late is not told, because there are too many meetings".to_owned());
        notes.push(format!(
            "{left_aside} of {} meetings were not considered in the choice of departure and stops, because there are \
             too many: only the most demanding and the earliest were",
            day.meetings.len()
        ));
    }
    let wanted = question.rules.stopping.most_places.min(question.halts.len());
    if day.halts.len() < wanted {
        notes.push(format!(
            "only the best {} of {wanted} places to stop were compared; comparing more would take too long",
            day.halts.len()
        ));
    }
    let searched = Searched { departures, places_found: question.halts.len(), places_kept: day.halts.len(), compared };
    let stands_at = day.ends[1].place().cloned();
    let rules_kept = freedom.rules;
    Ok(Plan { chosen, others, late, rules_kept, notes, searched, stands_at })
}
