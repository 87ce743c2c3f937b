//! The night after each day: where one stands, whether its sky is poor, and what is better near it.
use super::ends::{NightJudge, is_for_the_night};
use super::halts::halt;
use crate::ask::elsewhere::not_covered;
use crate::ask::plan::{DriveRisk, Halt, Held, How};
use crate::ask::route::{Limits, RouteQuestion, RouteRules, route};
use crate::ask::settings::Settings;
use crate::ask::simulate::MeetingSimulator;
use crate::ask::stops::{StopNear, StopsIn, StopsQuestion, stops};
use crate::ask::trip::{Night, NightDrive, NightMeeting, NightPlace, TripDay};
use crate::base::error::Result;
use crate::base::geodesy::{Position, distance_m};
use crate::base::words::{Roofed, StopKind, Units};
use crate::layer::{Bounds, Layer};

/// Most better places named.
const MOST_BETTER: usize = 4;
/// A place is clearer than another from this much more of open sky on.
const CLEARER: f64 = 0.02;
/// Roads are looked for this far from a place, metres.
const ROAD_WITHIN_M: f64 = 500.0;

/// Adds to every day its night; `chosen_of` says of how many places the end of each was chosen.
pub(super) fn add_nights(
    layer: &Layer,
    settings: &Settings,
    days: &mut [TripDay],
    chosen_of: &[Option<usize>],
) -> Result<()> {
    for nth in 0..days.len() {
        let Some(end) = end_of(&days[nth], settings) else { continue };
        let times = night_times(&days[nth], days.get(nth + 1));
        let chosen_of = chosen_of.get(nth).copied().flatten();
        let night = night(layer, settings, (end, days[nth].plan.stands_at.clone()), &times, chosen_of)?;
        days[nth].night = Some(night);
    }
    Ok(())
}

/// Where a day ends: on its road, or off the layer's roads where its track ends there.
fn end_of(day: &TripDay, settings: &Settings) -> Option<Position> {
    let road = day.corridor.pieces.last()?.line.last().copied()?;
    let off = DriveRisk::of(&day.corridor, &settings.driving).ends_unknown();
    let gap = day.corridor.unmatched.last().filter(|_| off);
    Some(gap.map_or(road, |g| Position::from_deg(g.to_lon_deg, g.to_lat_deg)))
}

/// A meeting that lies in the night as a whole: in the evening or the next morning.
struct NightHeld<'a> {
    held: &'a Held,
    morning: bool,
}

/// The meetings of a night, and from when to when one stands there.
struct NightTimes<'a> {
    meetings: Vec<NightHeld<'a>>,
    stands_s: (i64, i64),
}

/// Those that are driven in part are none of the night's: another place for it would not change that part.
fn night_times<'a>(day: &'a TripDay, next: Option<&'a TripDay>) -> NightTimes<'a> {
    let of = |held: &'a Held, how: How, morning| {
        let whole = !held.parts.is_empty() && held.parts.iter().all(|p| p.how == how);
        whole.then_some(NightHeld { held, morning })
    };
    let evening = day.plan.chosen.meetings.iter().filter_map(|m| of(m, How::AfterTrip, false));
    let morning = next.into_iter().flat_map(|d| &d.plan.chosen.meetings).filter_map(|m| of(m, How::BeforeTrip, true));
    let until_s = next.map_or(i64::MAX, |d| d.plan.chosen.depart.unix_s());
    NightTimes { meetings: evening.chain(morning).collect(), stands_s: (day.plan.chosen.arrive.unix_s(), until_s) }
}

fn night(
    layer: &Layer,
    settings: &Settings,
    (end, stands_at): (Position, Option<Halt>),
    times: &NightTimes,
    chosen_of: Option<usize>,
) -> Result<Night> {
    let place = stands_at.map(|halt| night_place(&halt, end));
    let planned = |m: &NightHeld| NightMeeting { name: m.held.name.clone(), morning: m.morning, risk: m.held.risk };
    let open = place.as_ref().filter(|p| p.roof == Roofed::No).map(|p| p.best_open_share.max(p.open_share));
    let poor = open.is_none_or(|open| open < settings.nights.least_open);
    let better = if poor { better(layer, settings, (end, open), times)? } else { Vec::new() };
    Ok(Night {
        lat_deg: end.lat_deg(),
        lon_deg: end.lon_deg(),
        place,
        poor,
        meetings: times.meetings.iter().map(planned).collect(),
        chosen_of,
        better,
    })
}

/// A place without its meetings and the way to it.
fn night_place(halt: &Halt, end: Position) -> NightPlace {
    NightPlace {
        stop_id: halt.stop_id,
        name: halt.name.clone(),
        kind: halt.kind,
        town: halt.town.clone(),
        lat_deg: halt.lat_deg,
        lon_deg: halt.lon_deg,
        roof: halt.roof,
        open_share: halt.open_share,
        best_m: halt.best_m,
        best_bearing_deg: halt.best_bearing_deg,
        best_open_share: halt.best_open_share,
        straight_m: distance_m(end, Position::from_deg(halt.lon_deg, halt.lat_deg)),
        drive: None,
        meetings: Vec::new(),
    }
}

/// Clearer places around the end of a day: nearest first, each clearer than all before it.
fn better(
    layer: &Layer,
    settings: &Settings,
    (end, open): (Position, Option<f64>),
    times: &NightTimes,
) -> Result<Vec<NightPlace>> {
    let kinds = StopKind::ALL.iter().copied().filter(|kind| is_for_the_night(*kind, &settings.nights)).collect();
    let question = StopsQuestion {
        place: StopsIn::Around(end),
        within_m: Some(settings.nights.look_km * 1e3),
        reach_m: Some(settings.stopping.reach_m),
        kinds,
        no_roof: true,
        ..StopsQuestion::default()
    };
    // A layer that does not cover the end of the road knows of no place there.
    if not_covered(layer, "the night", Bounds { min: end, max: end })?.is_some() {
        return Ok(Vec::new());
    }
    let found = stops(layer, &question)?;
    let simulator = MeetingSimulator::new(layer, &[], &[])?;
    let judge = NightJudge::of(layer, settings, &simulator, end.lat_deg());
    let mut out = Vec::new();
    for stop in clearer(&found.stops, open.unwrap_or(0.0), settings.nights.least_open) {
        let halt = halt(stop);
        let mut place = night_place(&halt, end);
        place.drive = drive_to(layer, end, Position::from_deg(stop.lon_deg, stop.lat_deg));
        place.meetings = held_there(&judge, &halt, times, place.drive)?;
        out.push(place);
    }
    Ok(out)
}

/// The meetings of a night at another place: one is there later and leaves it earlier, by the way to it. What falls into that way, or
/// where none is known, is not known.
fn held_there(
    judge: &NightJudge,
    halt: &Halt,
    times: &NightTimes,
    drive: Option<NightDrive>,
) -> Result<Vec<NightMeeting>> {
    let told = |m: &NightHeld| {
        let drive_s = drive.map(|d| (d.time_min * 60.0).ceil() as i64);
        let stands_s = drive_s.map(|s| (times.stands_s.0.saturating_add(s), times.stands_s.1.saturating_sub(s)));
        let (start_s, end_s) = (m.held.start.unix_s(), m.held.end.unix_s().max(m.held.start.unix_s() + 60));
        let risk = match stands_s {
            Some((from_s, to_s)) if start_s >= from_s && end_s <= to_s => {
                judge.risk(halt, m.held.kind, (start_s, end_s), (from_s, to_s))?
            }
            _ => None,
        };
        Ok(NightMeeting { name: m.held.name.clone(), morning: m.morning, risk })
    };
    times.meetings.iter().map(told).collect()
}

/// Of places, nearest first, those clearer than all before them, up to the first that is clear enough and a few beyond.
fn clearer(places: &[StopNear], open: f64, enough: f64) -> Vec<&StopNear> {
    let mut clearest = open;
    let mut out: Vec<&StopNear> = Vec::new();
    for place in places {
        if place.best_open_share >= clearest + CLEARER {
            clearest = place.best_open_share;
            out.push(place);
        }
    }
    // The nearest that is clear enough is among those kept.
    let first = out.iter().position(|p| p.best_open_share >= enough).unwrap_or(0);
    let from = (first + 1).saturating_sub(MOST_BETTER);
    out.into_iter().skip(from).take(MOST_BETTER).collect()
}

/// The fastest way by road; nothing where none is known.
fn drive_to(layer: &Layer, from: Position, to: Position) -> Option<NightDrive> {
    let limits = Limits { ways: 1, longer_ms: None };
    let rules = RouteRules::all(layer);
    let question = RouteQuestion {
        places: vec![from, to],
        within_m: ROAD_WITHIN_M,
        rules,
        limits,
        worst: 0,
        units: Units::Metric,
    };
    let way = route(layer, &question).ok()?.ways.into_iter().next()?.corridor;
    Some(NightDrive { length_km: way.length_m / 1e3, time_min: way.time_s / 60.0 })
}
