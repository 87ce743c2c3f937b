//! Days that begin late, on a road whose answers are known.
use super::halt::halt;
use super::kind::Kind;
use super::late::LATE_MIN;
use super::rules::Rules;
use super::tests_search::{EIGHT, along, asked, meeting, piece};
use super::verdict::Verdict;
use super::{LateDay, plan_day};
use crate::profile::RatingEdges;

/// An hour at 60 km/h, its minutes 20 to 40 dark; a place at minute 15; a meeting at the place from minute 25 to 45.
fn late_days(rules: &Rules) -> Vec<LateDay> {
    let pieces: Vec<_> =
        (0..60).map(|i| piece(i, 1.0, if (20..40).contains(&i) { [1.0; 3] } else { [0.0; 3] })).collect();
    let (corridor, edges) = (along(&pieces), RatingEdges::default());
    let mut question = asked(&corridor, rules, &edges, meeting(Kind::MustNotDrop, 25, 20), 1.0);
    question.halts = vec![halt(7, 15.0, 1.0)];
    let plan = plan_day(&question).unwrap();
    assert_eq!(plan.chosen.meetings[0].verdict, Verdict::Stop, "{:?}", plan.chosen);
    plan.late
}

fn rules() -> Rules {
    let mut rules = Rules::default();
    (rules.departure.earlier_min, rules.departure.later_min) = (0, 0);
    rules
}

#[test]
fn late_days_drive_the_same_minutes_and_stop_as_long_as_the_meeting_lasts() {
    let late = late_days(&rules());
    assert_eq!(late.iter().map(|l| l.late_min).collect::<Vec<_>>(), LATE_MIN);
    let minutes = |l: &LateDay| {
        let at = |s: i64| (s - EIGHT) as f64 / 60.0;
        (at(l.same_stops.depart.unix_s()), at(l.same_stops.arrive.unix_s()))
    };
    // 15 late: at the place at minute 30, away at 45 and 5 for packing up, then 45 of road.
    // 30 late: at the place when the meeting ends, so one drives on. 60 late: not left before it is over.
    assert_eq!(late.iter().map(minutes).collect::<Vec<_>>(), [(15.0, 95.0), (30.0, 90.0), (60.0, 120.0)]);
    assert_eq!(late.iter().map(|l| l.passed.len()).collect::<Vec<_>>(), [0, 1, 1]);
    let words: Vec<Verdict> = late.iter().map(|l| l.same_stops.meetings[0].verdict).collect();
    // Minutes 30 to 45 are those 0 to 15 of the road, which are steady.
    assert_eq!(words, [Verdict::Stop, Verdict::Drive, Verdict::BeforeYouLeave]);
    assert!(late.iter().all(|l| l.rules_kept && l.instead.is_none()), "{late:?}");
}

#[test]
fn a_late_day_that_ends_after_the_hours_of_driving_says_so() {
    let mut rules = rules();
    // The planned day ends at minute 95, and the one that leaves an hour late at minute 120.
    rules.driving.to = jiff::civil::time(9, 45, 0, 0);
    let late = late_days(&rules);
    assert_eq!(late.iter().map(|l| l.rules_kept).collect::<Vec<_>>(), [true, true, false]);
}

/// The road is dark from minute 10 to 40, with places at minutes 5 and 15.
#[test]
fn a_late_day_that_fares_better_at_another_stop_is_told_with_it() {
    let dark = |i: usize| if (10..40).contains(&i) { [1.0; 3] } else { [0.0; 3] };
    let pieces: Vec<_> = (0..60).map(|i| piece(i, 1.0, dark(i))).collect();
    let (corridor, edges, rules) = (along(&pieces), RatingEdges::default(), rules());
    let mut question = asked(&corridor, &rules, &edges, meeting(Kind::MustNotDrop, 25, 20), 1.0);
    question.halts = vec![halt(7, 5.0, 1.0), halt(8, 15.0, 1.0)];
    let plan = plan_day(&question).unwrap();
    // In time one drives on to the second place, which costs fewer minutes of waiting.
    let places = |day: &super::Itinerary| day.meetings[0].places().map(str::to_owned).collect::<Vec<_>>();
    assert_eq!((plan.chosen.meetings[0].verdict, places(&plan.chosen)), (Verdict::Stop, vec!["place 8".to_owned()]));
    let late = &plan.late[0];
    assert_eq!(late.same_stops.meetings[0].verdict, Verdict::NotSafe, "the dark road lies in the meeting");
    let instead = late.instead.as_ref().unwrap();
    assert_eq!((instead.meetings[0].verdict, places(instead)), (Verdict::Stop, vec!["place 7".to_owned()]));
}
