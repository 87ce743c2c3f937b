//! From the plan of a trip with one layer to the figures of its mount.
use super::model::{MountDay, MountFigures, MountMeeting};
use crate::ask::corridor::Corridor;
use crate::ask::plan::{Held, Itinerary, Part, Plan};
use crate::ask::trip::TripDay;
use crate::base::words::{DayWay, PerRating};

/// A day as planned with a mount.
pub(super) fn day(planned: TripDay, on_stand: bool) -> MountDay {
    let TripDay { corridor, plan, meetings_left_out, .. } = planned;
    let figures = figures(&corridor, &plan.chosen, on_stand);
    let meetings = meetings(&plan, on_stand);
    let Plan { chosen, rules_kept, notes, .. } = plan;
    MountDay {
        stops: chosen.parts.iter().filter(|part| matches!(part, Part::Stop { .. })).count(),
        depart: chosen.depart,
        arrive: chosen.arrive,
        shift_min: chosen.shift_min,
        rules_kept,
        figures,
        meetings,
        meetings_left_out,
        notes,
    }
}

fn figures(corridor: &Corridor, chosen: &Itinerary, on_stand: bool) -> MountFigures {
    let risks = || chosen.meetings.iter().map(|m| m.risk);
    let figures = MountFigures {
        length_km: chosen.length_km,
        driving_s: 3_600.0 * chosen.driving_h,
        // No road joins its ends, so that no figure holds it.
        unmatched_m: corridor.unmatched.iter().filter(|gap| !gap.bridged).map(|gap| gap.length_m).sum::<f64>() + 0.0,
        unknown_m: corridor.unknown_m,
        meetings: chosen.meetings.len(),
        interrupted: risks().flatten().sum(),
        risks_not_known: risks().filter(Option::is_none).count(),
        ..MountFigures::default()
    };
    if on_stand {
        let all_s = figures.driving_s;
        return MountFigures { outage_s: all_s, outage_best_s: all_s, outage_worst_s: all_s, ..figures };
    }
    // Ground off the layer's roads counts as time without a link in the plan; the corridor leaves it out.
    let off_road_s = (chosen.outage_s - corridor.outage_s).max(0.0);
    MountFigures {
        outage_s: chosen.outage_s,
        outage_best_s: corridor.outage_best_s + off_road_s,
        outage_worst_s: corridor.outage_worst_s + off_road_s,
        outages: Some(corridor.outages.len()),
        longest_p95_s: Some(corridor.outages.iter().map(|o| o.outage_p95_s).fold(0.0, f64::max)),
        metres_by_rating: Some(corridor.metres_by_rating),
        ..figures
    }
}

/// The meetings of a day, each as held on the day chosen and on the day as asked for.
fn meetings(plan: &Plan, on_stand: bool) -> Vec<MountMeeting> {
    let asked = plan.others.iter().chain([&plan.chosen]).find(|way| way.name == DayWay::AsAsked);
    let told = |held: &Held| match on_stand {
        // The travellers of a stand are none of the trip's.
        true => Held { by: Vec::new(), drivers: Vec::new(), ..held.clone() },
        false => held.clone(),
    };
    let of = |best: &Held| {
        let as_asked = asked.and_then(|way| way.meetings.iter().find(|m| m.is_same(best)));
        MountMeeting { best: told(best), as_asked: as_asked.map(told) }
    };
    plan.chosen.meetings.iter().map(of).collect()
}

/// Figures of all days together.
pub(super) fn whole(days: &[MountDay]) -> MountFigures {
    let mut days = days.iter().map(|day| &day.figures);
    let Some(first) = days.next() else { return MountFigures::default() };
    days.fold(first.clone(), |sum, day| sum_of(&sum, day))
}

fn sum_of(a: &MountFigures, b: &MountFigures) -> MountFigures {
    MountFigures {
        length_km: a.length_km + b.length_km,
        driving_s: a.driving_s + b.driving_s,
        outage_s: a.outage_s + b.outage_s,
        outage_best_s: a.outage_best_s + b.outage_best_s,
        outage_worst_s: a.outage_worst_s + b.outage_worst_s,
        unmatched_m: a.unmatched_m + b.unmatched_m,
        unknown_m: a.unknown_m + b.unknown_m,
        outages: a.outages.zip(b.outages).map(|(a, b)| a + b),
        longest_p95_s: a.longest_p95_s.zip(b.longest_p95_s).map(|(a, b)| a.max(b)),
        metres_by_rating: a.metres_by_rating.zip(b.metres_by_rating).map(|(a, b)| {
            let mut sum = PerRating::default();
            b.iter().for_each(|(rating, metres)| sum[rating] = a[rating] + metres);
            sum
        }),
        meetings: a.meetings + b.meetings,
        interrupted: a.interrupted + b.interrupted,
        risks_not_known: a.risks_not_known + b.risks_not_known,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ask::corridor::DrivenOutage;
    use crate::base::words::{Dial, Rating};

    #[test]
    fn days_add_up_and_the_longest_outage_is_that_of_one_of_them() {
        let of = |steady_m: f64, longest_s: f64| {
            let mut metres = PerRating::default();
            metres[Rating::Steady] = steady_m;
            MountFigures {
                outages: Some(2),
                longest_p95_s: Some(longest_s),
                metres_by_rating: Some(metres),
                interrupted: 0.25,
                ..MountFigures::default()
            }
        };
        let sum = sum_of(&of(100.0, 7.0), &of(50.0, 3.0));
        assert_eq!((sum.outages, sum.longest_p95_s, sum.interrupted), (Some(4), Some(7.0), 0.5));
        assert_eq!(sum.metres_by_rating.map(|m| m[Rating::Steady]), Some(150.0));
    }

    #[test]
    fn a_panel_on_a_stand_has_no_link_in_motion_whatever_its_layer_says() {
        let at = crate::ask::plan::Stamp(jiff::Timestamp::UNIX_EPOCH.to_zoned(jiff::tz::TimeZone::UTC), Dial::Hours24);
        let chosen = Itinerary {
            name: DayWay::AsAsked,
            depart: at.clone(),
            arrive: at,
            shift_min: 0.0,
            driving_h: 0.5,
            length_km: 20.0,
            outage_s: 60.0,
            cost_min: 0.0,
            parts: Vec::new(),
            meetings: Vec::new(),
        };
        let outage = DrivenOutage { outage_p95_s: 9.0, ..DrivenOutage::default() };
        let corridor = Corridor { outage_s: 40.0, outage_best_s: 30.0, outages: vec![outage], ..Corridor::default() };
        let [stand, vehicle] = [true, false].map(|on_stand| figures(&corridor, &chosen, on_stand));
        assert_eq!((stand.outage_s, stand.outages, stand.metres_by_rating), (1_800.0, None, None));
        // Twenty seconds of it are off the layer's roads, at best too.
        assert_eq!((vehicle.outage_s, vehicle.outage_best_s, vehicle.longest_p95_s), (60.0, 50.0, Some(9.0)));
    }
}
