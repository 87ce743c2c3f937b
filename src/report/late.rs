//! What becomes of the meetings of a day that begins late, and of its night.
use super::verdict::{percent, risk};
use super::words::roof_words;
use crate::ask::plan::{Held, Itinerary, LateDay, Plan, Verdict};
use crate::ask::trip::{Night, NightMeeting, NightPlace};
use crate::base::measure::minutes;
use crate::base::words::{Roofed, Units, Words};

/// A change of a risk that is worth a word.
const WORTH_SAYING: f64 = 0.05;

/// What is said of a day that begins late.
pub(super) struct LateWords {
    /// `30 min`.
    pub late: String,
    /// When one leaves and arrives then.
    pub leave_arrive: [String; 2],
    /// What changes, a sentence each.
    pub changes: Vec<String>,
}

/// Each of the late days of a plan in words.
pub(super) fn late_words(plan: &Plan) -> Vec<LateWords> {
    plan.late.iter().map(|late| of_day(&plan.chosen, late)).collect()
}

fn of_day(chosen: &Itinerary, late: &LateDay) -> LateWords {
    let same = &late.same_stops;
    let mut changes = Vec::new();
    if !late.rules_kept {
        changes.push("with the same stops it breaks the rules of driving or arrives too late".to_owned());
    }
    changes
        .extend(late.passed.iter().map(|place| format!("the stop at {place} falls away: its meeting is over by then")));
    let changed = |(a, b): &(&Held, &Held)| {
        let far = a.risk.zip(b.risk).map(|(a, b)| (a - b).abs() >= WORTH_SAYING);
        a.verdict != b.verdict || far.unwrap_or(a.risk.is_some() != b.risk.is_some())
    };
    for (was, is) in chosen.meetings.iter().zip(&same.meetings).filter(changed) {
        let (now, before) = (is.verdict.name(), was.verdict.name());
        let verdict = if now == before { now.to_owned() } else { format!("{now} instead of {before}") };
        let (now, before) = (risk(is), risk(was));
        let risk = if now == before { String::new() } else { format!(", risk {now} instead of {before}") };
        changes.push(format!("{}: {verdict}{risk}", is.name));
    }
    if chosen.meetings.iter().any(|m| m.verdict == Verdict::NoPower) {
        changes.push("the battery is not reckoned for late days: meetings without power stay without it".to_owned());
    }
    if let Some(instead) = &late.instead {
        changes.extend(saved(chosen, same, instead));
    }
    if changes.is_empty() {
        let nothing =
            if chosen.meetings.is_empty() { "the rules are kept" } else { "nothing changes for the meetings" };
        changes.push(nothing.to_owned());
    }
    LateWords {
        late: minutes(late.late_min as f64),
        leave_arrive: [&same.depart, &same.arrive].map(|at| at.clock()),
        changes,
    }
}

/// Meetings that fare better with other stops than with those of the plan, and what that costs others.
fn saved(chosen: &Itinerary, same: &Itinerary, instead: &Itinerary) -> Vec<String> {
    let pairs: Vec<(&Held, &Held)> = same.meetings.iter().zip(&instead.meetings).collect();
    let kept = pairs.iter().filter(|(a, b)| a.verdict.is_lost() && !b.verdict.is_lost());
    let told = |(_, m): &(&Held, &Held)| {
        let places: Vec<&str> = m.places().collect();
        let at = if places.is_empty() { String::new() } else { format!(" at {}", places.join(", then ")) };
        let (word, risk, arrive) = (m.verdict.name(), risk(m), instead.arrive.clock());
        format!("with other stops: {} then: {word}{at}, risk {risk}, arrive {arrive}", m.name)
    };
    let mut out: Vec<String> = kept.map(told).collect();
    if !out.is_empty() {
        let lost = pairs.iter().filter(|(a, b)| !a.verdict.is_lost() && b.verdict.is_lost());
        out.extend(lost.map(|(_, m)| format!("but {} would then be: {}, risk {}", m.name, m.verdict.name(), risk(m))));
        // What the plan has lost already is told with the plan.
        let planned = chosen.meetings.iter().map(|m| m.verdict.is_lost());
        let stays =
            pairs.iter().zip(planned).filter(|((a, b), lost)| !lost && a.verdict.is_lost() && b.verdict.is_lost());
        out.extend(stays.map(|((_, m), _)| format!("{} stays: {}, risk {}", m.name, m.verdict.name(), risk(m))));
    }
    out
}

/// What a stay after a day is called: the night, or what follows the last day.
pub(super) fn stay_name(last: bool) -> &'static str {
    if last { "After arrival" } else { "The night" }
}

/// Where one stays after the day, a sentence each: the place with its sky, then what is better near it.
pub(super) fn night_words(night: &Night, units: Units) -> Vec<String> {
    let mut out = Vec::new();
    match &night.place {
        Some(place) => {
            out.push(format!("{}{}", place_words(place, units), if night.poor { "; a poor sky" } else { "" }))
        }
        None => {
            out.push("the map shows no place to stay where the day ends".to_owned());
        }
    }
    out.extend(night.better.iter().map(|better| better_words(&night.meetings, better, units)));
    if night.poor && night.better.is_empty() {
        out.push("no clearer place is known near it".to_owned());
    }
    out
}

/// A clearer place, the price of moving there, and the meetings that fare otherwise there.
fn better_words(planned: &[NightMeeting], better: &NightPlace, units: Units) -> String {
    let drive = match better.drive {
        Some(d) => {
            format!("{} and {} from there by road", units.road(d.length_km * 1e3), minutes(d.time_min.ceil()))
        }
        None => format!("{} from there, no way by road is known", units.road(better.straight_m)),
    };
    let told = |risk: Option<f64>| risk.map_or("not known".to_owned(), percent);
    let mut words = format!("better, {drive}: {}", place_words(better, units));
    for (nth, m) in better.meetings.iter().enumerate() {
        let was = planned.get(nth).and_then(|m| m.risk);
        let far = m.risk.zip(was).is_none_or(|(a, b)| (a - b).abs() >= WORTH_SAYING);
        if far {
            words += &format!("; {}: risk {} instead of {}", m.name, told(m.risk), told(was));
        }
    }
    words
}

/// `Clearing Camp (camp site), 46.98035,-28.02898: 100 % of the sky open`.
fn place_words(place: &NightPlace, units: Units) -> String {
    let best = place.best_open_share.max(place.open_share);
    let sky = match place.roof {
        Roofed::Unknown => "its sky is not known".to_owned(),
        _ if place.best_m >= 0.5 => {
            format!("{:.0} % of the sky open, {} from the vehicle", 100.0 * best, units.near(place.best_m))
        }
        _ => format!("{:.0} % of the sky open", 100.0 * best),
    };
    let (name, kind, roof) = (&place.name, place.kind.spoken(), roof_words(place.roof));
    let town = place.town.as_ref().map_or(String::new(), |town| format!(", {}", town.words(units)));
    format!("{name} ({kind}{roof}){town}, {:.5},{:.5}: {sky}", place.lat_deg, place.lon_deg)
}
