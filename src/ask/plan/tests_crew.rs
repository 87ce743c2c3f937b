//! Who drives and who is in a meeting: days whose answer is known.
use super::crew::{Traveller, Travellers};
use super::halt::{Halt, halt};
use super::kind::{Kind, Meeting};
use super::rules::Rules;
use super::tests_search::{EIGHT, along, asked, meeting, piece};
use super::{How, Itinerary, Part, Plan, plan_day};
use crate::ask::corridor::Piece;
use crate::base::words::StopReason;
use crate::profile::RatingEdges;

fn steady(minutes: usize) -> Vec<Piece> {
    (0..minutes).map(|i| piece(i, 1.0, [0.0; 3])).collect()
}

fn crew(names: &[(&str, bool)]) -> Vec<Traveller> {
    names.iter().map(|(name, drives)| Traveller { name: (*name).into(), drives: *drives, link: true }).collect()
}

/// A day with the departure as asked.
fn planned(minutes: usize, halts: Vec<Halt>, rules: Rules, meetings: Vec<Meeting>) -> Plan {
    let (pieces, edges) = (along(&steady(minutes)), RatingEdges::default());
    let mut rules = rules;
    (rules.departure.earlier_min, rules.departure.later_min) = (0, 0);
    let mut question = asked(&pieces, &rules, &edges, meetings[0].clone(), 0.95);
    (question.halts, question.meetings) = (halts, meetings);
    plan_day(&question).unwrap()
}

fn rests(day: &Itinerary) -> Vec<(i64, i64)> {
    let rest = |p: &Part| match p {
        Part::Stop { from, to, why: StopReason::Break | StopReason::Change, .. } => {
            Some(((from.unix_s() - EIGHT) / 60, (to.unix_s() - EIGHT) / 60))
        }
        _ => None,
    };
    day.parts.iter().filter_map(rest).collect()
}

/// The place inside the call costs less, because it lies at the road: there the plan stopped.
#[test]
fn nobody_changes_drivers_or_rests_inside_a_call_held_in_motion() {
    let halts = || vec![Halt { off_road_m: 400.0, ..halt(1, 65.0, 0.95) }, halt(2, 110.0, 0.95)];
    for kind in [Kind::MustNotDrop, Kind::Casual] {
        let p = planned(150, halts(), Rules::default(), vec![meeting(kind, 90, 50)]);
        assert_eq!((p.chosen.meetings[0].how, p.rules_kept), (How::InMotion, true), "{p:?}");
        let found = rests(&p.chosen);
        assert!(found.len() == 1 && found[0].1 < 90, "{found:?}");
    }
    // Messages wait for the end of a rest.
    let p = planned(150, halts(), Rules::default(), vec![meeting(Kind::Messages, 90, 50)]);
    assert!(rests(&p.chosen)[0].0 >= 105, "{p:?}");
}

#[test]
fn one_alone_holds_meetings_at_stops_and_never_in_motion() {
    for drivers in [crew(&[("Ada", true)]), vec![Traveller { link: false, ..crew(&[("Ada", true)])[0].clone() }]] {
        let rules = || Rules { crew: drivers.clone(), ..Rules::default() };
        let call = || vec![meeting(Kind::Casual, 20, 20)];
        let p = planned(60, vec![halt(1, 15.0, 0.95)], rules(), call());
        let held = &p.chosen.meetings[0];
        assert_eq!((held.how, held.places().next()), (How::AtStop, Some("place 1")), "{p:?}");
        // As asked she would drive through it: then it is not held, for sure.
        let asked = &p.others[0].meetings[0];
        assert_eq!((asked.how, asked.risk, &asked.drivers[..]), (How::NotHeld, Some(1.0), &["Ada".to_owned()][..]));
        let nowhere = planned(60, Vec::new(), rules(), call());
        assert_eq!(nowhere.chosen.meetings[0].how, How::NotHeld, "{nowhere:?}");
        let before = planned(60, Vec::new(), rules(), vec![meeting(Kind::Casual, -30, 20)]);
        assert_eq!(before.chosen.meetings[0].how, How::BeforeTrip);
    }
}

#[test]
fn a_driver_takes_no_call() {
    let rules = |names: &[(&str, bool)]| Rules { crew: crew(names), ..Rules::default() };
    let of = |nth: usize, start_min| Meeting { of: Travellers::one(nth), ..meeting(Kind::Casual, start_min, 15) };
    let both = [("Ada", true), ("Ben", true)];
    for (whose, driver) in [(0, "Ben"), (1, "Ada")] {
        let p = planned(60, Vec::new(), rules(&both), vec![of(whose, 10)]);
        let held = &p.chosen.meetings[0];
        assert_eq!((held.how, &held.drivers[..]), (How::InMotion, &[driver.to_owned()][..]), "{p:?}");
        assert_eq!(held.by, [both[whose].0]);
    }
    // Only Ada drives: her own call waits for a stop, Ben's does not.
    let one = [("Ada", true), ("Ben", false)];
    let place = || vec![halt(1, 8.0, 0.95)];
    assert_eq!(planned(60, place(), rules(&one), vec![of(0, 10)]).chosen.meetings[0].how, How::AtStop);
    assert_eq!(planned(60, place(), rules(&one), vec![of(1, 10)]).chosen.meetings[0].how, How::InMotion);
    // One call of each with no stop between: nobody drives in both.
    let p = planned(60, Vec::new(), rules(&both), vec![of(0, 10), of(1, 30)]);
    let how: Vec<How> = p.chosen.meetings.iter().map(|m| m.how).collect();
    assert!(how.contains(&How::NotHeld) && how.contains(&How::InMotion), "{how:?}");
    // A stop between them lets the drivers change.
    let halts = vec![halt(1, 27.0, 0.1)];
    let mut rules = rules(&both);
    (rules.driving.change_after_h, rules.driving.change_min) = (0.75, 1.0);
    let p = planned(60, halts, rules, vec![of(0, 10), of(1, 40)]);
    assert!(p.chosen.meetings.iter().all(|m| m.how == How::InMotion), "{p:?}");
}
