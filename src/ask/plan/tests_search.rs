//! The search compared with plain enumeration of every path, and days whose answer is known.
use crate::base::words::{HowTold, Rating};
use jiff::tz::TimeZone;
use proptest::prelude::*;

use super::day::Day;
use super::halt::{Halt, halt};
use super::kind::{Kind, Meeting};
use super::risk::{DriveRisk, probability};
use super::rules::Rules;
use super::search::{FoundDay, Freedom, Stay, Why, search, spans};
use super::{DayQuestion, How, NoPlan, plan_day};
use crate::ask::corridor::{Corridor, Piece};
use crate::base::geodesy::Position;
use crate::profile::RatingEdges;

/// 2026-06-15T08:00:00Z.
pub(super) const EIGHT: i64 = 1_781_510_400;
const FREE: Freedom = Freedom { shift: true, stop: true, nights: false, rules: true, early: true };

/// A piece of `minutes` at 60 km/h with expected outages beyond the edges of blips, gaps and drops.
pub(super) fn piece(i: usize, minutes: f64, beyond: [f64; 3]) -> Piece {
    let at = |km: f64| Position::from_deg(km / 111.0, 0.0);
    Piece {
        segment_id: i as i64,
        forward: true,
        at_km: 0.0,
        lon_deg: 0.0,
        lat_deg: 0.0,
        road: "road".into(),
        length_m: minutes * 1_000.0,
        time_s: minutes * 60.0,
        outage_s: 10.0 * beyond[0],
        outage_p95_s: 0.0,
        beyond,
        rating: Rating::Steady,
        cause: crate::base::words::Cause::None,
        open_share: 0.8,
        drive: 0,
        line: vec![at(0.0), at(1.0)],
        ..Piece::default()
    }
}

pub(super) fn meeting(kind: Kind, start_min: i64, minutes: i64) -> Meeting {
    let start_s = EIGHT + start_min * 60;
    Meeting {
        uid: String::new(),
        name: format!("{kind:?} {start_min}"),
        kind,
        start_s,
        end_s: start_s + minutes * 60,
        tentative: false,
        of: Default::default(),
    }
}

struct Made {
    drive: DriveRisk,
    halts: Vec<Halt>,
    meetings: Vec<Meeting>,
    rules: Rules,
    edges: RatingEdges,
    zone: TimeZone,
}

impl Made {
    fn new(pieces: &[Piece], halts: Vec<Halt>, meetings: Vec<Meeting>) -> Self {
        let edges = RatingEdges::default();
        let mut rules = Rules::default();
        rules.departure.step_min = 20;
        let drive = DriveRisk::of(&along(pieces), &rules.driving);
        Self { drive, halts, meetings, rules, edges, zone: TimeZone::UTC }
    }
    fn day(&self) -> Day<'_> {
        Day {
            drive: &self.drive,
            halts: &self.halts,
            meetings: &self.meetings,
            rules: &self.rules,
            edges: &self.edges,
            usable: 8.0,
            depart_s: EIGHT,
            shown: HowTold::default(),
            zone: &self.zone,
            ends: [0.0, self.drive.length_km()].map(|km| super::DayEnd::at(km, &[], Some(0.8))),
        }
    }
}

/// The cheapest day by trying every subset of places with every stay, written without the search's keys and bounds.
fn brute(day: &Day) -> Option<f64> {
    let d = &day.rules.departure;
    let mut best: Option<f64> = None;
    let mut shift = -i64::from(d.earlier_min / d.step_min * d.step_min);
    while shift <= i64::from(d.later_min) {
        let depart_s = EIGHT + shift * 60;
        go(day, depart_s, depart_s, &mut Vec::new(), shift.abs() as f64 * day.rules.worth.shift_min, &mut best);
        shift += i64::from(d.step_min);
    }
    best
}

fn go(day: &Day, depart_s: i64, now_s: i64, stays: &mut Vec<Stay>, shift_cost: f64, best: &mut Option<f64>) {
    let wheel = |halt: usize| day.drive.seconds_at(day.halts[halt].at_km);
    let off = |halt: usize| day.halts[halt].off_road_s(&day.rules.stopping);
    let (here, own_off) = stays.last().map_or((0.0, 0.0), |s| (wheel(s.halt), off(s.halt)));
    let arrive_s = now_s + (own_off + day.drive.length_s() - here).ceil() as i64;
    let found = FoundDay { depart_s, arrive_s, stays: stays.clone(), cost_min: 0.0, compared: 0 };
    if lawful(day, &found) {
        let cost = shift_cost + cost(day, &found);
        if best.is_none_or(|b| cost < b) {
            *best = Some(cost);
        }
    }
    let first = stays.last().map_or(0, |s| s.halt + 1);
    for halt in first..day.halts.len() {
        let arrive_s = now_s + (own_off + wheel(halt) - here + off(halt)).ceil() as i64;
        let minute = |s: f64| ((arrive_s as f64 + s * 60.0) / 60.0).ceil() as i64 * 60;
        let mut leaves = vec![(minute(15.0), Why::Break), (minute(5.0), Why::Change)];
        for (m, meeting) in day.meetings.iter().enumerate() {
            let sky = day.halts[halt].best_open_share >= day.rules.stopping.least_open;
            if sky && meeting.end_s > arrive_s && meeting.start_s - arrive_s <= 3_600 {
                leaves.push(((meeting.end_s + 300).max(minute(5.0)), Why::Meeting(m)));
            }
        }
        // Nobody breaks off a call for a rest or a change.
        let calls = || day.meetings.iter().filter(|m| m.kind != Kind::Messages);
        let cuts = |leave_s: i64| {
            calls().any(|m| {
                let meets = m.start_s < leave_s && m.end_s > arrive_s;
                meets && !(m.start_s >= arrive_s && m.end_s <= leave_s)
            })
        };
        for (leave_s, why) in leaves {
            if matches!(why, Why::Break | Why::Change) && cuts(leave_s) {
                continue;
            }
            stays.push(Stay { halt, arrive_s, leave_s, why });
            go(day, depart_s, leave_s, stays, shift_cost, best);
            stays.pop();
        }
    }
}

/// Two hours at the wheel at most between stays of a quarter of an hour and between changes.
fn lawful(day: &Day, found: &FoundDay) -> bool {
    let (mut since_break, mut since_change, mut now) = (0, 0, found.depart_s);
    let ends = found.stays.iter().map(|s| (s.arrive_s, s.leave_s)).chain([(found.arrive_s, found.arrive_s)]);
    for (arrive_s, leave_s) in ends {
        since_break += arrive_s - now;
        since_change += arrive_s - now;
        if since_break > 7_200 || since_change > 7_200 || !day.in_driving_hours(now, arrive_s) {
            return false;
        }
        let stayed = leave_s - arrive_s;
        since_break = if stayed >= 900 { 0 } else { since_break };
        since_change = if stayed >= 300 { 0 } else { since_change };
        now = leave_s;
    }
    true
}

fn cost(day: &Day, found: &FoundDay) -> f64 {
    let stops: f64 = found.stays.iter().map(|s| 3.0 + (s.leave_s - s.arrive_s) as f64 / 60.0).sum();
    let mut meetings = 0.0;
    for span in spans(day, found) {
        for m in day.meetings {
            meetings +=
                day.rules.worth.of(m.kind) * probability(span.toll(day, m.kind, m.start_s, m.end_s).long_outages);
        }
    }
    stops + meetings
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(60))]
    #[test]
    fn no_path_within_the_limits_is_cheaper(
        outages in prop::collection::vec((0.0..2.0_f64, 0.0..1.0_f64, 5.0..50.0_f64), 3..8),
        places in prop::collection::vec((0.05..0.95_f64, 0.0..1.0_f64, 0.0..400.0_f64), 0..4),
        meetings in prop::collection::vec((0_usize..3, -30_i64..200, 5_i64..60), 0..3),
    ) {
        let pieces: Vec<Piece> =
            outages.iter().enumerate().map(|(i, (n, of, minutes))| piece(i, *minutes, [*n, n * of, n * of * of])).collect();
        let length_km: f64 = pieces.iter().map(|p| p.length_m / 1e3).sum();
        let mut halts: Vec<Halt> = places
            .iter()
            .enumerate()
            .map(|(i, (along, open, off))| Halt { off_road_m: *off, ..halt(i as i64, along * length_km, *open) })
            .collect();
        halts.sort_by(|a, b| a.at_km.total_cmp(&b.at_km));
        let meetings = meetings.iter().map(|(k, start, minutes)| meeting(Kind::ALL[*k], *start, *minutes)).collect();
        let made = Made::new(&pieces, halts, meetings);
        let day = made.day();
        let found = search(&day, FREE, f64::INFINITY).unwrap();
        prop_assert!(found.windows(2).all(|w| w[0].cost_min <= w[1].cost_min) && found.len() <= super::search::MOST_KEPT);
        for kept in &found {
            prop_assert!(lawful(&day, kept));
        }
        let found = found.into_iter().next();
        prop_assert_eq!(found.is_some(), brute(&day).is_some());
        if let (Some(found), Some(best)) = (found, brute(&day)) {
            prop_assert!((found.cost_min - best).abs() < 1e-6, "search {} brute {best} {found:?}", found.cost_min);
            let again = (found.depart_s - EIGHT).abs() as f64 / 60.0 * 0.5 + cost(&day, &found);
            prop_assert!((found.cost_min - again).abs() < 1e-6, "told {} is {again}", found.cost_min);
            prop_assert!(lawful(&day, &found));
        }
    }
}

/// Half an hour of steady road, half an hour of long outages, half an hour of steady road.
pub(super) fn forest_between() -> Vec<Piece> {
    let steady = (0..30).map(|i| piece(i, 1.0, [0.0; 3]));
    let dark = (30..60).map(|i| piece(i, 1.0, [1.0, 1.0, 0.5]));
    let after = (60..90).map(|i| piece(i, 1.0, [0.0; 3]));
    steady.chain(dark).chain(after).collect()
}

/// A corridor of pieces alone.
pub(super) fn along(pieces: &[Piece]) -> Corridor {
    let length_m = pieces.iter().map(|p| p.length_m).sum();
    Corridor { pieces: pieces.to_vec(), length_m, track_m: length_m, ..Corridor::default() }
}

pub(super) fn asked<'a>(
    corridor: &'a Corridor,
    rules: &'a Rules,
    edges: &'a RatingEdges,
    meeting: Meeting,
    open: f64,
) -> DayQuestion<'a> {
    DayQuestion {
        corridor,
        simulator: None,
        night: None,
        ends_at: None,
        progress: &crate::base::progress::Silent,
        halts: vec![halt(7, 28.0, open)],
        meetings: vec![meeting],
        rules,
        edges,
        usable: 8.5,
        depart_s: EIGHT,
        zone: TimeZone::UTC,
        shown: HowTold::default(),
    }
}

#[test]
fn a_meeting_on_steady_road_is_held_in_motion_and_nothing_moves() {
    let (pieces, rules, edges) = (along(&forest_between()), Rules::default(), RatingEdges::default());
    let p = plan_day(&asked(&pieces, &rules, &edges, meeting(Kind::MustNotDrop, 5, 20), 0.95)).unwrap();
    assert_eq!((p.chosen.meetings[0].how, p.chosen.shift_min), (How::InMotion, 0.0));
    assert!(
        p.chosen.meetings[0].risk.unwrap() < 1e-9
            && p.chosen.name == crate::base::words::DayWay::AsAsked
            && p.others.is_empty()
    );
}

#[test]
fn a_meeting_in_the_dark_part_is_held_at_a_stop_when_leaving_cannot_move() {
    let (pieces, mut rules, edges) = (along(&forest_between()), Rules::default(), RatingEdges::default());
    (rules.departure.earlier_min, rules.departure.later_min) = (0, 0);
    let p = plan_day(&asked(&pieces, &rules, &edges, meeting(Kind::MustNotDrop, 35, 20), 0.95)).unwrap();
    assert_eq!(p.chosen.meetings[0].how, How::AtStop);
    let part = &p.chosen.meetings[0].parts[0];
    assert_eq!((part.place.as_deref(), part.lat_deg), (Some("place 7"), Some(0.0)));
    // 28 minutes to the place, the meeting from 35 to 55, five to pack up, 62 minutes of road left.
    assert_eq!(p.chosen.arrive.unix_s(), EIGHT + (60 + 62) * 60);
    let risk = |day: &super::Itinerary| day.meetings[0].risk.unwrap();
    assert!(risk(&p.chosen) < 0.05 && risk(&p.others[0]) > 0.99, "{p:?}");
}

#[test]
fn without_a_place_another_departure_takes_the_meeting_out_of_the_dark_part() {
    let (pieces, mut rules, edges) = (along(&forest_between()), Rules::default(), RatingEdges::default());
    rules.departure.earlier_min = 0;
    let p = plan_day(&asked(&pieces, &rules, &edges, meeting(Kind::MustNotDrop, 35, 20), 0.1)).unwrap();
    // Leaving 25 minutes later puts minutes 35 to 55 on road minutes 10 to 30.
    assert_eq!((p.chosen.shift_min, p.chosen.meetings[0].how), (25.0, How::InMotion), "{p:?}");
}

#[test]
fn messages_stand_what_ends_a_call() {
    let pieces = along(&(0..60).map(|i| piece(i, 1.0, [0.5, 0.1, 0.001])).collect::<Vec<_>>());
    let (rules, edges) = (Rules::default(), RatingEdges::default());
    let risk = |kind| {
        plan_day(&asked(&pieces, &rules, &edges, meeting(kind, 5, 20), 0.1)).unwrap().others.first().map_or(
            plan_day(&asked(&pieces, &rules, &edges, meeting(kind, 5, 20), 0.1)).unwrap().chosen.meetings[0]
                .risk
                .unwrap(),
            |o| o.meetings[0].risk.unwrap(),
        )
    };
    // What is told without drives is a bound.
    assert!(risk(Kind::MustNotDrop) >= risk(Kind::Casual) && risk(Kind::Casual) > 0.8);
    assert!(risk(Kind::Messages) < 0.03, "{}", risk(Kind::Messages));
}

#[test]
fn long_drives_get_their_breaks_and_a_night_where_the_day_is_too_short() {
    let pieces = along(&(0..600).map(|i| piece(i, 1.0, [0.0; 3])).collect::<Vec<_>>());
    let (rules, edges) = (Rules::default(), RatingEdges::default());
    let mut q = asked(&pieces, &rules, &edges, meeting(Kind::Casual, -500, 5), 0.9);
    q.halts = (1..12).map(|i| Halt { overnight: i == 8, ..halt(i, 50.0 * i as f64, 0.9) }).collect();
    let p = plan_day(&q).unwrap();
    // Ten hours at the wheel are more than nine: the night is spent where one can.
    let nights: Vec<_> = p
        .chosen
        .parts
        .iter()
        .filter(|p| matches!(p, super::Part::Stop { why: crate::base::words::StopReason::Night, .. }))
        .collect();
    assert_eq!(nights.len(), 1, "{p:?}");
    assert!(p.notes.iter().any(|n| n.contains("night")));
    let mut stint = 0.0;
    for part in &p.chosen.parts {
        match part {
            super::Part::Drive { from, to, .. } => stint += (to.unix_s() - from.unix_s()) as f64,
            super::Part::Stop { .. } => stint = 0.0,
        }
        assert!(stint <= 7_200.0);
    }
}

#[test]
fn rules_that_no_place_lets_one_keep_are_left_aside_aloud() {
    let pieces = along(&(0..300).map(|i| piece(i, 1.0, [0.0; 3])).collect::<Vec<_>>());
    let (rules, edges) = (Rules::default(), RatingEdges::default());
    let mut q = asked(&pieces, &rules, &edges, meeting(Kind::Casual, -500, 5), 0.9);
    q.halts.clear();
    let p = plan_day(&q).unwrap();
    assert!(p.chosen.parts.len() == 1 && p.notes.iter().any(|n| n.contains("so this one breaks them")), "{p:?}");
    let nothing = Corridor::default();
    q.corridor = &nothing;
    assert!(matches!(plan_day(&q).unwrap_err(), NoPlan::NoDay(fact) if fact.contains("not on any road")));
}

#[test]
fn arrival_limits_and_hours_of_driving_hold() {
    let pieces = along(&(0..60).map(|i| piece(i, 1.0, [0.0; 3])).collect::<Vec<_>>());
    let (mut rules, edges) = (Rules::default(), RatingEdges::default());
    rules.departure.arrive_by = Some(jiff::civil::time(8, 50, 0, 0));
    let p = plan_day(&asked(&pieces, &rules, &edges, meeting(Kind::Casual, -500, 5), 0.9)).unwrap();
    assert_eq!((p.chosen.shift_min, p.chosen.arrive.clock()), (-10.0, "08:50".to_owned()));
    rules.departure.arrive_by = None;
    rules.driving.from = jiff::civil::time(8, 30, 0, 0);
    let p = plan_day(&asked(&pieces, &rules, &edges, meeting(Kind::Casual, -500, 5), 0.9)).unwrap();
    assert_eq!(p.chosen.depart.clock(), "08:30");
}
