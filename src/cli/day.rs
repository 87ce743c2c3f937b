//! One day of a plan: its road, the places where one may stop beside it, its meetings.
use std::collections::HashSet;

use jiff::tz::TimeZone;
use jiff::{Timestamp, ToSpan};

use super::args::Plan;
use super::{corridor, route};
use crate::ask::corridor::Corridor;
use crate::ask::matching::Options;
use crate::ask::place::expected_under_open_sky;
use crate::ask::plan::{self, Halt, Meeting, Question};
use crate::ask::settings::{Settings, ToldBy};
use crate::ask::stops::{StopNear, near};
use crate::ask::track::Track;
use crate::ask::trip::TripDay;
use crate::base::error::{Error, Result};
use crate::base::words::{Direction, RoadClass, StandsOn, StopKind};
use crate::calendar::{Calendar, Occurrence};
use crate::layer::Layer;
use crate::layer::model::SegmentRow;

/// Worst pieces a day's answer keeps.
const WORST: usize = 10;
/// Places where the night may be spent.
const OVERNIGHT: [StopKind; 3] = [StopKind::CampSite, StopKind::CampPitch, StopKind::CaravanSite];
/// Places of a motorway, which its ramps lead to.
const OF_MOTORWAYS: [StopKind; 2] = [StopKind::Services, StopKind::RestArea];
/// Roads that may be divided, so that their other side is out of reach.
const DIVIDED: [RoadClass; 4] = [RoadClass::Motorway, RoadClass::Trunk, RoadClass::Primary, RoadClass::Secondary];
/// A meeting may begin so long after the drive is over and still matter, hours.
const AFTER_H: f64 = 6.0;

/// What is the same for all days, and which meetings earlier days have.
pub struct Asker<'a> {
    /// What was typed.
    pub args: &'a Plan,
    /// The layer.
    pub layer: &'a Layer,
    /// The trip file.
    pub settings: &'a Settings,
    /// Calendars.
    pub calendars: &'a [Calendar],
    /// Zone of the traveller.
    pub zone: &'a TimeZone,
    /// Identity and begin of meetings that have their day.
    pub taken: HashSet<(String, i64)>,
}

impl Asker<'_> {
    /// The road of a day: the track as driven, or the way through its points.
    pub fn road(&self, track: &Track) -> Result<Corridor> {
        if let Some(name) = &self.args.way {
            let places = track.pieces.iter().flatten().map(|p| p.at).collect();
            return route::one_way(self.layer, places, name, WORST);
        }
        let options = Options { sigma_m: self.args.noise, beta_m: self.args.noise, ..Options::default() };
        corridor::asked(self.layer, track, &options, WORST, 0.0)
    }

    /// Plans the day of a road.
    pub fn day(&mut self, depart: Timestamp, corridor: Corridor) -> Result<TripDay> {
        self.check_hours(depart)?;
        let stops = self.stops(&corridor)?;
        let (meetings, notes) = self.meetings(depart, corridor.time_s);
        let middle = corridor.pieces.get(corridor.pieces.len() / 2).map_or(0.0, |p| p.lat_deg);
        let question = Question {
            pieces: &corridor.pieces,
            halts: stops.iter().filter(|s| may_halt(s)).map(halt).collect(),
            meetings,
            rules: &self.settings.rules(),
            edges: &self.layer.record().profile.rating,
            usable: expected_under_open_sky(self.layer, middle),
            depart_s: depart.as_second(),
            zone: self.zone.clone(),
        };
        let mut plan = plan::plan(&question).map_err(|fact| {
            let next = "give a track on roads of the layer with points less than 1.5 km apart, or --way fastest to go \
                        through its points";
            Error::failed(format!("the day of {}", depart.to_zoned(self.zone.clone()).date()), fact, next)
        })?;
        let missed_m: f64 = corridor.unmatched.iter().map(|u| u.length_m).sum();
        if missed_m >= 1.0 {
            plan.notes.insert(0, format!("{:.1} km of the track are on no road of the layer", missed_m / 1e3));
        }
        plan.notes.extend(notes);
        Ok(TripDay { corridor, stops, plan })
    }

    /// Nobody can leave in hours in which nobody drives.
    fn check_hours(&self, depart: Timestamp) -> Result<()> {
        let (rules, asked) = (&self.settings.driving, depart.to_zoned(self.zone.clone()).time());
        if (rules.from..=rules.to).contains(&asked) {
            return Ok(());
        }
        let fact = format!("leaves outside the hours of driving, {} to {}", rules.from, rules.to);
        let next = "leave within them, or set [driving] from and to in a trip file (--trip)";
        Err(Error::usage(format!("--depart {}", depart.to_zoned(self.zone.clone()).datetime()), fact, next))
    }

    /// Places beside the road that can be reached from it, as passed.
    fn stops(&self, corridor: &Corridor) -> Result<Vec<StopNear>> {
        let stopping = &self.settings.stopping;
        let rows = corridor::stops_beside(self.layer, corridor, stopping.within_m)?;
        let segments: HashSet<i64> = corridor.pieces.iter().map(|p| p.segment_id).collect();
        let mut out = Vec::new();
        for stop in near(&corridor.pieces, &rows, stopping.within_m, stopping.reach_m) {
            let own = rows.binary_search_by_key(&stop.stop_id, |row| row.stop_id).map_or(0, |i| rows[i].segment_id);
            let at_km = stop.at_km.unwrap_or(0.0);
            let passed = corridor.pieces.partition_point(|p| p.at_km <= at_km).saturating_sub(1);
            let left = corridor.pieces.get(passed).map(|p| self.layer.segment(p.segment_id)).transpose()?.flatten();
            let beside = self.layer.segment(own)?;
            if segments.contains(&own) || reached(stop.kind, left.as_ref(), beside.as_ref()) {
                out.push(stop);
            }
        }
        Ok(out)
    }

    /// Meetings of the time a drive may last that no earlier day has, and what the calendars leave unclear.
    fn meetings(&mut self, depart: Timestamp, drive_s: f64) -> (Vec<Meeting>, Vec<String>) {
        let local = depart.to_zoned(self.zone.clone());
        let (rules, shifts) = (&self.settings.driving, &self.settings.departure);
        let hours = |h: f64| jiff::SignedDuration::from_secs((h * 3_600.0) as i64);
        let earliest = depart.saturating_sub(hours(f64::from(shifts.earlier_min) / 60.0)).unwrap_or(depart);
        let latest_h = f64::from(shifts.later_min) / 60.0 + drive_s / 3_600.0;
        // A drive longer than a day's hours spends nights on the way.
        let nights = (drive_s / 3_600.0 / rules.day_h) as i64;
        let midnight = |days: i64| local.start_of_day().and_then(|z| z.checked_add(days.days())).map(|z| z.timestamp());
        let from = midnight(0).map_or(earliest, |m| m.min(earliest));
        let end = depart.saturating_add(hours(latest_h)).unwrap_or(depart);
        let long =
            if end > midnight(1).unwrap_or(end) { end.saturating_add(hours(AFTER_H)).unwrap_or(end) } else { end };
        let to = midnight(1 + nights).map_or(long, |m| m.max(long));
        let (mut meetings, mut notes) = (Vec::new(), Vec::new());
        for calendar in self.calendars {
            let found = calendar.between(from, to, self.zone);
            notes.extend(found.complaints.iter().map(|c| format!("calendar, {}", plain(&c.to_string()))));
            notes.extend(
                found.all_day.iter().map(|d| format!("{} is marked for the whole day", title(&d.details.summary))),
            );
            for m in found.meetings {
                let start_s = m.start.timestamp().as_second();
                if self.taken.insert((m.details.uid.clone(), start_s)) {
                    meetings.push(self.meeting(&m, &mut notes));
                }
            }
        }
        (meetings, notes)
    }

    fn meeting(&self, m: &Occurrence, notes: &mut Vec<String>) -> Meeting {
        let name = title(&m.details.summary);
        let (kind, told) = self.settings.meetings.kind(&m.details.summary, &m.details.categories);
        if told == ToldBy::Default {
            notes.push(format!("{name}: nothing says its kind, taken as {}", kind.name()));
        }
        let (start_s, end_s) = (m.start.timestamp().as_second(), m.end.timestamp().as_second());
        Meeting { name, kind, start_s, end_s: end_s.max(start_s), tentative: m.details.tentative }
    }
}

/// A title that may be printed.
fn title(summary: &str) -> String {
    let plain = plain(summary);
    if plain.is_empty() { "untitled meeting".to_owned() } else { plain }
}

/// Text of a file without what a terminal would obey.
fn plain(text: &str) -> String {
    text.chars().map(|c| if c.is_control() { ' ' } else { c }).collect::<String>().trim().to_owned()
}

/// Whether a place that does not lie on the road driven can be reached from it: the other carriageway of a divided road
/// cannot, and from a motorway nothing but what its ramps lead to.
fn reached(kind: StopKind, left: Option<&SegmentRow>, beside: Option<&SegmentRow>) -> bool {
    let one_way = |s: &SegmentRow| Direction::BOTH.iter().any(|d| s.driven[*d].is_none());
    let class = |s: &SegmentRow| s.highway.class();
    let ramp = beside.is_some_and(|s| s.highway.is_link());
    if OF_MOTORWAYS.contains(&kind) && ramp {
        return true;
    }
    let motorway = left.is_some_and(|s| class(s) == RoadClass::Motorway || class(s) == RoadClass::Trunk && one_way(s));
    let other_side = beside.is_some_and(|s| one_way(s) && DIVIDED.contains(&class(s)));
    !motorway && !other_side
}

/// A plan halts at places where a vehicle may stand: a viewpoint only where the map has parking at it.
fn may_halt(stop: &StopNear) -> bool {
    stop.may_stop && (stop.kind != StopKind::Viewpoint || stop.stands_on == StandsOn::Aisle)
}

fn halt(stop: &StopNear) -> Halt {
    Halt {
        stop_id: stop.stop_id,
        name: stop.name.clone().unwrap_or_else(|| format!("{} near {}", stop.kind.spoken(), stop.road)),
        kind: stop.kind.name().to_owned(),
        lon_deg: stop.lon_deg,
        lat_deg: stop.lat_deg,
        at_km: stop.at_km.unwrap_or(0.0),
        off_road_m: stop.off_road_m,
        roofed: stop.roofed,
        overnight: OVERNIGHT.contains(&stop.kind),
        meetings: stop.kind != StopKind::Fuel,
        open_share: stop.open_share,
        best_m: stop.best_distance_m,
        best_bearing_deg: stop.best_bearing_deg,
        best_open_share: stop.best_open_share,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::words::{Highway, PerDirection};
    use crate::layer::model::Driven;

    fn road(highway: Highway, two_way: bool) -> SegmentRow {
        let backward = two_way.then(Driven::default);
        let driven = PerDirection { forward: Some(Driven::default()), backward };
        SegmentRow { highway, driven, ..SegmentRow::default() }
    }

    #[test]
    fn what_a_motorway_does_not_lead_to_is_out_of_reach() {
        let motorway = road(Highway::Motorway, false);
        let from_it = |kind, beside: SegmentRow| reached(kind, Some(&motorway), Some(&beside));
        assert!(from_it(StopKind::Services, road(Highway::MotorwayLink, false)));
        assert!(
            !from_it(StopKind::Parking, road(Highway::Residential, true))
                && !from_it(StopKind::Services, road(Highway::Residential, true))
        );
        assert!(!from_it(StopKind::RestArea, road(Highway::Motorway, false)), "the other carriageway");
        let street = road(Highway::Secondary, true);
        let from_street = |beside: SegmentRow| reached(StopKind::Parking, Some(&street), Some(&beside));
        assert!(from_street(road(Highway::Residential, true)) && from_street(road(Highway::Residential, false)));
        assert!(!from_street(road(Highway::Primary, false)) && from_street(road(Highway::Tertiary, true)));
    }

    #[test]
    fn titles_are_never_empty_and_never_obeyed_by_a_terminal() {
        assert_eq!(title("  "), "untitled meeting");
        assert_eq!(title("a\u{1b}[31mb\nc"), "a [31mb c");
    }
}
