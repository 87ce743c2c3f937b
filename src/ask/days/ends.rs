//! Where a day ends that has no end of its own: the places for the night near the end of what its hours of driving allow.
use jiff::Zoned;
use jiff::civil::Time;

use crate::ask::place::expected_under_open_sky;
use crate::ask::plan::{
    Depth, Driving, Halt, Kind, Meeting, MeetingPart, Nights, Panel, Simulator, Stopping, Whereabout, Worth,
    probability, standing_per_s,
};
use crate::ask::settings::Settings;
use crate::base::error::Result;
use crate::base::words::{Case, Roofed, StopKind};
use crate::layer::Layer;
use crate::profile::RatingEdges;

/// Whether the night may be spent at a kind of place.
pub(super) fn is_for_the_night(kind: StopKind, nights: &Nights) -> bool {
    super::halts::OVERNIGHT.contains(&kind) || nights.parking && kind == StopKind::Parking
}

/// Seconds at the wheel that the hours of a day allow from a departure to the latest arrival, breaks taken.
pub(super) fn latest_s(driving: &Driving, arrive_by: Option<Time>, depart: &Zoned) -> f64 {
    let until = arrive_by.map_or(driving.to, |by| by.min(driving.to));
    let Ok(until) = depart.date().to_datetime(until).to_zoned(depart.time_zone().clone()) else { return 0.0 };
    let left_s = (until.timestamp().as_second() - depart.timestamp().as_second()).max(0) as f64;
    let (drive_s, break_s) = (driving.break_after_h * 3_600.0, driving.break_min * 60.0);
    let rounds = (left_s / (drive_s + break_s)).floor();
    let at_wheel_s = rounds * drive_s + (left_s - rounds * (drive_s + break_s)).min(drive_s);
    at_wheel_s.min(driving.day_h * 3_600.0)
}

/// Breaks due before a time at the wheel, seconds.
pub(super) fn breaks_s(driving: &Driving, wheel_s: f64) -> f64 {
    let due = (wheel_s / (driving.break_after_h * 3_600.0)).ceil() - 1.0;
    due.max(0.0) * driving.break_min * 60.0
}

/// A place where the day may end.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct DayEndPlace {
    /// The place.
    pub halt: Halt,
    /// What the night there costs, minutes.
    pub cost_min: f64,
    /// Of how many places it is the best.
    pub compared: usize,
    /// It lies in the last part of the day's hours; else that part has no place.
    pub is_near_end: bool,
}

/// What a night is judged by.
pub(super) struct NightJudge<'a> {
    simulator: &'a dyn Simulator,
    worth: &'a Worth,
    nights: &'a Nights,
    stopping: &'a Stopping,
    edges: &'a RatingEdges,
    /// Usable satellites expected where the whole usable sky is open.
    usable: f64,
}

impl<'a> NightJudge<'a> {
    /// By what the traveller says, for places near some latitude.
    pub fn of(layer: &'a Layer, settings: &'a Settings, simulator: &'a dyn Simulator, lat_deg: f64) -> Self {
        Self {
            simulator,
            worth: &settings.worth,
            nights: &settings.nights,
            stopping: &settings.stopping,
            edges: &layer.record().profile.rating,
            usable: expected_under_open_sky(layer, lat_deg),
        }
    }
    /// The risk of a part of a meeting at a place where one stands from one moment to another: the panel is on the vehicle until it is
    /// set up and from packing up on, and where it stands best between.
    pub fn risk(&self, halt: &Halt, kind: Kind, (a, b): (i64, i64), (from_s, to_s): (i64, i64)) -> Result<Option<f64>> {
        let stands_s = kind.stands_s(self.edges);
        if halt.roof == Roofed::Unknown {
            return Ok(None);
        }
        let whole = |minutes: f64| (minutes * 60.0).ceil() as i64;
        let out_s = from_s.saturating_add(whole(self.stopping.set_up_min)).clamp(a, b);
        let in_s = to_s.saturating_sub(whole(self.stopping.pack_up_min)).clamp(out_s, b);
        let spans = [(a, out_s, Panel::OnVehicle), (out_s, in_s, Panel::Best), (in_s, b, Panel::OnVehicle)];
        let spans = spans.into_iter().filter(|(from, to, _)| to > from);
        if !self.simulator.is_able() {
            let open =
                |panel| if panel == Panel::Best { halt.best_open_share.max(halt.open_share) } else { halt.open_share };
            let hazard = |(from, to, panel)| (to - from) as f64 * standing_per_s(stands_s, open(panel), self.usable);
            return Ok(Some(probability(spans.map(hazard).sum())));
        }
        let part = |(from, to, panel)| MeetingPart {
            seconds: (to - from) as f64,
            before_s: 0.0,
            whereabout: Whereabout::Place(halt, panel),
        };
        let parts: Vec<MeetingPart> = spans.map(part).collect();
        Ok(self.simulator.figures(stands_s, &parts, Case::Likely, Depth::Tell)?.map(|f| f.risk))
    }
    /// What a night costs by its sky alone, minutes.
    pub fn least_min(&self, halt: &Halt) -> f64 {
        self.nights.closed_sky_min * (1.0 - halt.best_open_share.max(halt.open_share))
    }
    /// What a night from one moment to another costs, minutes: its sky, and its meetings by what they are worth. What is not known
    /// counts as lost.
    pub fn cost_min(&self, halt: &Halt, meetings: &[Meeting], (from_s, to_s): (i64, i64)) -> Result<f64> {
        let mut cost_min = self.least_min(halt);
        for m in meetings {
            let (a, b) = (m.start_s.max(from_s), m.judged_end_s().min(to_s));
            if b > a {
                let risk = self.risk(halt, m.kind, (a, b), (from_s, to_s))?;
                cost_min += self.worth.of(m.kind) * risk.unwrap_or(1.0);
            }
        }
        Ok(cost_min)
    }
}

/// How places are compared.
pub(super) struct Compared<L, C> {
    /// What a place costs at least, minutes: cheap to tell.
    pub least: L,
    /// What it costs.
    pub cost: C,
}

/// The cheapest place of the last part of a day, of equals the farthest, and how many there are; where that part has none, of those
/// before it. Places come with their seconds at the wheel.
pub(super) fn cheapest<L: Fn(&Halt) -> f64, C: Fn(&Halt) -> Result<f64>>(
    places: Vec<(f64, Halt)>,
    (earliest_s, latest_s): (f64, f64),
    compared: &Compared<L, C>,
) -> Result<Option<DayEndPlace>> {
    let mut reached = places;
    reached.retain(|(at_s, _)| *at_s > 0.0 && *at_s <= latest_s);
    let is_near_end = reached.iter().any(|(at_s, _)| *at_s >= earliest_s);
    if is_near_end {
        reached.retain(|(at_s, _)| *at_s >= earliest_s);
    } else {
        // Nothing near the end: the farthest there is.
        let farthest_s = reached.iter().map(|r| r.0).fold(0.0, f64::max);
        reached.retain(|(at_s, _)| *at_s >= farthest_s - (latest_s - earliest_s));
    }
    let compared_places = reached.len();
    let mut by_least: Vec<(f64, f64, Halt)> =
        reached.into_iter().map(|(at_s, h)| ((compared.least)(&h), at_s, h)).collect();
    by_least.sort_by(|a, b| a.0.total_cmp(&b.0).then(b.1.total_cmp(&a.1)).then(a.2.stop_id.cmp(&b.2.stop_id)));
    let mut best: Option<(f64, DayEndPlace)> = None;
    for (least_min, at_s, halt) in by_least {
        // Simulating meetings takes time: what costs more by its sky alone is not looked at.
        if best.as_ref().is_some_and(|(_, b)| least_min > b.cost_min) {
            break;
        }
        let cost_min = (compared.cost)(&halt)?;
        let better = |(b_s, b): &(f64, DayEndPlace)| cost_min < b.cost_min || cost_min == b.cost_min && at_s > *b_s;
        if best.as_ref().is_none_or(better) {
            best = Some((at_s, DayEndPlace { halt, cost_min, compared: compared_places, is_near_end }));
        }
    }
    Ok(best.map(|(_, place)| place))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::layer::model::StopRow;
    use proptest::prelude::*;

    fn halt(stop_id: i64, at_km: f64, open: f64) -> Halt {
        let row = StopRow {
            stop_id,
            kind: StopKind::CampSite,
            open_share: open,
            best_open_share: open,
            ..StopRow::default()
        };
        Halt { at_km, ..super::super::halts::halt(&crate::ask::stops::StopNear::of(&row, 30.0)) }
    }

    #[test]
    fn the_hours_of_a_day_are_what_is_left_of_it_less_its_breaks() {
        let driving = Driving::default();
        let at = |h: i8| jiff::civil::date(2026, 6, 15).at(h, 0, 0, 0).in_tz("UTC").unwrap();
        // From eight to ten in the evening are 14 hours: six rounds of 2 h and 15 min are 13.5, half an hour is left; the day has nine.
        assert_eq!(latest_s(&driving, None, &at(8)), 9.0 * 3_600.0);
        // From five in the afternoon 5 hours: two rounds are 4.5.
        assert_eq!(latest_s(&driving, None, &at(17)), 4.5 * 3_600.0);
        assert_eq!(latest_s(&driving, None, &at(22)), 0.0);
        assert_eq!(latest_s(&driving, Some(jiff::civil::time(18, 0, 0, 0)), &at(17)), 3_600.0);
        assert_eq!([7_200.0, 7_201.0, 14_401.0].map(|s| breaks_s(&driving, s)), [0.0, 900.0, 1_800.0]);
    }

    proptest! {
        /// Against plain enumeration: no place that may be taken is cheaper, or as cheap and farther.
        #[test]
        fn the_first_place_is_the_cheapest_of_the_last_part(
            kms in prop::collection::vec((0.0..100.0_f64, 0..5_i32), 0..12), earliest in 0.0..60.0_f64, part in 1.0..40.0_f64,
        ) {
            let latest = earliest + part;
            let places: Vec<Halt> = kms.iter().enumerate().map(|(i, (km, open))| halt(i as i64, *km, f64::from(*open) / 5.0)).collect();
            // Meetings make some places dearer than their sky does.
            let cost = |h: &Halt| 60.0 * (1.0 - h.open_share) + if h.stop_id % 3 == 0 { 15.0 } else { 0.0 };
            let compared = Compared { least: |h: &Halt| 60.0 * (1.0 - h.open_share), cost: |h: &Halt| Ok(cost(h)) };
            let timed = places.iter().map(|h| (h.at_km, h.clone())).collect();
            let got = cheapest(timed, (earliest, latest), &compared).unwrap();
            let mut may: Vec<&Halt> = Vec::new();
            for h in &places {
                if h.at_km >= earliest && h.at_km <= latest && h.at_km > 0.0 {
                    may.push(h);
                }
            }
            if may.is_empty() {
                let mut far = 0.0;
                for h in &places {
                    if h.at_km <= latest && h.at_km > far {
                        far = h.at_km;
                    }
                }
                for h in &places {
                    if h.at_km > 0.0 && h.at_km <= latest && h.at_km >= far - part {
                        may.push(h);
                    }
                }
            }
            prop_assert_eq!(got.as_ref().map_or(0, |g| g.compared), may.len());
            if let Some(first) = got {
                for h in may {
                    let worse = cost(h) > first.cost_min || cost(h) == first.cost_min && h.at_km <= first.halt.at_km;
                    prop_assert!(worse, "{:?} {:?}", h, first);
                }
            }
        }
    }
}
