//! The columns of the strip: clock, road, kilometres, open sky, outages, stops.
use std::fmt::Write;

use jiff::SignedDuration;
use jiff::civil::Time;

use super::axis::{Axis, Jump};
use crate::ask::corridor::DrivenOutage;
use crate::ask::plan::{Itinerary, Part};
use crate::base::markup::escape;
use crate::base::measure::{duration, minutes};
use crate::base::ramp::{hex, look};
use crate::base::words::Dial;
use crate::report::brief::answer;
use crate::report::brief::drive::DayDriven;
use crate::report::brief::marks;
use crate::report::words::roof_words;

/// Middle of the road's band.
pub(super) const ROAD: f64 = 57.0;
/// Left edge of the kilometres.
const KM: f64 = 72.0;
/// Left edge and width of the open sky.
pub(super) const SKY: (f64, f64) = (98.0, 46.0);
/// Left edge and width of the bars of outages.
pub(super) const OUTAGES: (f64, f64) = (150.0, 24.0);
/// Left edge of the meetings.
pub(super) const MEETINGS: f64 = 244.0;
/// Widths of the road's band over those of the map.
const WIDER: f64 = 1.7;

/// Lines of text that do not lie on each other.
#[derive(Default)]
pub(super) struct FreeRows(Vec<f64>);

impl FreeRows {
    /// Takes a line of text if there is room for it.
    pub fn take(&mut self, y: f64) -> bool {
        let free = self.0.iter().all(|t| (t - y).abs() >= 11.0);
        if free {
            self.0.push(y);
        }
        free
    }
    /// Takes the nearest place where there is room.
    pub fn near(&mut self, y: f64) -> f64 {
        let steps = (0..60).flat_map(|k| [f64::from(k) * 2.0, f64::from(k) * -2.0]);
        let found = steps.map(|by| y + by).find(|at| *at > super::axis::TOP && self.take(*at));
        found.unwrap_or(y)
    }
}

/// Clock times at round minutes, by the offset of the departure.
pub(super) fn clock(out: &mut String, axis: &Axis, day: &Itinerary, dial: Dial) {
    let (from, to) = axis.ends_s();
    let offset = f64::from(day.depart.0.offset().seconds());
    let bottom = axis.bottom();
    let steps = [300.0, 600.0, 900.0, 1_800.0, 3_600.0, 7_200.0, 14_400.0, 21_600.0];
    let step = steps.into_iter().find(|s| (to - from) / s * 30.0 <= bottom).unwrap_or(43_200.0);
    let mut lines = FreeRows::default();
    for (at, word) in [(day.depart.unix_s(), day.depart.clock()), (day.arrive.unix_s(), day.arrive.clock())] {
        let y = axis.y(at as f64);
        lines.take(y);
        let _ = writeln!(
            out,
            "<path class=\"line\" d=\"M40 {y:.1}H{}\"/><text class=\"r b\" x=\"38\" y=\"{:.1}\">{word}</text>",
            SKY.0 + SKY.1,
            y + 4.0
        );
    }
    let mut at = ((from + offset) / step).ceil() * step - offset;
    while at <= to {
        let y = axis.y(at);
        let inside = |j: &Jump| j.span_s.0 < at && at < j.span_s.1;
        if !axis.jumps().iter().any(inside) && lines.take(y) {
            let minute = ((at + offset).rem_euclid(86_400.0) / 60.0).floor() as i16;
            let time = Time::midnight() + SignedDuration::from_mins(minute.into());
            let _ = writeln!(
                out,
                "<path class=\"hair\" d=\"M40 {y:.1}H{}\"/><text class=\"r\" x=\"38\" y=\"{:.1}\">{}</text>",
                MEETINGS - 6.0,
                y + 4.0,
                dial.time(time)
            );
        }
        at += step;
    }
}

/// A zigzag across road and sky where the scale jumps, with the time that is drawn short.
pub(super) fn jumps(out: &mut String, axis: &Axis) {
    for jump in axis.jumps() {
        let y = (jump.y.0 + jump.y.1) / 2.0;
        let steps: String = (0..12).map(|i| if i % 2 == 0 { "l8 -4" } else { "l8 4" }).collect();
        let _ = writeln!(
            out,
            "<path class=\"line\" d=\"M48 {:.1}{steps}\"/><text class=\"s\" x=\"{OUT}\" y=\"{:.1}\">{}</text>\
             <text class=\"s\" x=\"{OUT}\" y=\"{:.1}\">drawn short</text>",
            y + 2.0,
            y - 1.0,
            duration(jump.span_s.1 - jump.span_s.0),
            y + 9.0,
            OUT = OUTAGES.0
        );
    }
}

/// The road, by colour and width of the rating, and kilometres beside it.
pub(super) fn road(out: &mut String, axis: &Axis, driven: &DayDriven) {
    let mut i = 0;
    for run in driven.pieces.chunk_by(|a, b| a.rating == b.rating && a.drive == b.drive) {
        let (from, _) = driven.moments(i);
        i += run.len();
        let (_, to) = driven.moments(i - 1);
        let (from, to, look) = (axis.y(from), axis.y(to), look(run[0].rating));
        let width = look.width_px * WIDER;
        let _ = writeln!(
            out,
            "<rect x=\"{:.1}\" y=\"{from:.1}\" width=\"{width:.1}\" height=\"{:.1}\" fill=\"{}\"/>",
            ROAD - width / 2.0,
            (to - from).max(0.2),
            hex(look.colour)
        );
    }
    for (from, to) in &driven.drive.unknown_s {
        let (from, to) = (axis.y(driven.moment(*from)), axis.y(driven.moment(*to)));
        let _ = writeln!(
            out,
            "<rect class=\"unknown\" x=\"{:.1}\" y=\"{from:.1}\" width=\"11\" height=\"{:.1}\"/><text class=\"m\" x=\"{ROAD}\" y=\"{:.1}\">?</text>",
            ROAD - 5.5,
            (to - from).max(1.0),
            (from + to) / 2.0 + 4.0
        );
    }
    let units = driven.shown.units;
    let long = units.of_road(driven.drive.length_km() * 1e3);
    let steps = [1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0];
    let step = steps.into_iter().find(|s| long / s * 26.0 <= axis.bottom()).unwrap_or(500.0);
    let mut lines = FreeRows::default();
    let mut at = 0.0;
    while at <= long {
        let y = axis.y(driven.moment(driven.drive.seconds_at(at / units.of_road(1e3))));
        if lines.take(y) {
            let _ = writeln!(out, "<text x=\"{:.1}\" y=\"{:.1}\">{at:.0}</text>", KM + 2.0, y + 4.0);
        }
        at += step;
    }
}

/// Share of open sky, as an area.
pub(super) fn sky(out: &mut String, axis: &Axis, driven: &DayDriven) {
    let (x, wide) = SKY;
    let mut i = 0;
    for run in driven.pieces.chunk_by(|a, b| a.drive == b.drive) {
        let mut data = String::new();
        let mut end = 0.0;
        let mut before: Option<(f64, f64)> = None;
        for (k, p) in run.iter().enumerate() {
            let (from, to) = driven.moments(i + k);
            let at = x + wide * p.open_share.clamp(0.0, 1.0);
            let (from, to) = (axis.y(from), axis.y(to));
            // A stop lies between: the area ends and begins anew.
            if before.is_some_and(|(y, _)| from - y > 0.6) {
                let _ = write!(data, "H{x}Z");
                before = None;
            }
            let _ = match before {
                None => write!(data, "M{x} {from:.1}H{at:.1}V{to:.1}"),
                Some((_, same)) if (same - at).abs() < 0.05 => write!(data, "V{to:.1}"),
                Some(_) => write!(data, "H{at:.1}V{to:.1}"),
            };
            before = Some((to, at));
            end = to;
        }
        i += run.len();
        if end > 0.0 {
            let _ = writeln!(out, "<path class=\"sky\" d=\"{data}H{x}Z\"/>");
        }
    }
    for share in [0.0, 0.5, 1.0] {
        let _ = writeln!(
            out,
            "<path class=\"hair\" d=\"M{:.1} {}V{:.1}\"/>",
            x + share * wide,
            super::axis::TOP,
            axis.bottom()
        );
    }
}

/// Length of a bar: equal steps for equal ratios, from 0.4 s to 100 s.
pub(super) fn bar(outage_s: f64) -> f64 {
    OUTAGES.1 * ((outage_s / 0.4).max(1.0).ln() / 250f64.ln()).clamp(0.04, 1.0)
}

/// Where a stretch begins and ends.
fn ends(axis: &Axis, driven: &DayDriven, s: &DrivenOutage) -> (f64, f64) {
    (axis.y(driven.moments(s.first).0), axis.y(driven.moments(s.end - 1).1))
}

/// Outages: a bar for each.
pub(super) fn outages(out: &mut String, axis: &Axis, driven: &DayDriven) {
    let x = OUTAGES.0;
    for (s, _) in &driven.outages {
        let (from, to) = ends(axis, driven, s);
        let (letters, name) = marks::cause(s.cause);
        let _ = writeln!(
            out,
            "<rect x=\"{x}\" y=\"{from:.1}\" width=\"{:.1}\" height=\"{:.1}\" fill=\"{}\"><title>{}: {letters}, {name}, 95 of 100 drives do not exceed {}</title></rect>",
            bar(s.outage_p95_s),
            (to - from).max(1.2),
            hex(look(s.rating).colour),
            driven.shown.units.at(s.at_km),
            duration(s.outage_p95_s)
        );
    }
}

/// The words beside the bars.
pub(super) fn outage_words(out: &mut String, axis: &Axis, driven: &DayDriven, taken: &mut FreeRows) {
    let x = OUTAGES.0;
    let mut order: Vec<_> = driven.outages.iter().collect();
    order.sort_by(|(a, a_number), (b, b_number)| {
        let by_outage = b.rating.cmp(&a.rating).then(b.outage_p95_s.total_cmp(&a.outage_p95_s));
        a_number.is_none().cmp(&b_number.is_none()).then(by_outage).then(a.first.cmp(&b.first))
    });
    for (s, number) in order {
        let (from, to) = ends(axis, driven, s);
        let middle = (from + to) / 2.0;
        // Only the worst always get words; blips are too many for them.
        let y = match number {
            Some(_) => taken.near(middle),
            None if taken.take(middle) => middle,
            None => continue,
        };
        let number = number.map_or(String::new(), |n| format!("<tspan class=\"b\">{n}</tspan> "));
        let end = x + bar(s.outage_p95_s);
        let lead = if (y - middle).abs() < 3.0 {
            String::new()
        } else {
            format!("<path class=\"lead\" d=\"M{end:.1} {middle:.1}L{:.1} {y:.1}\"/>", end + 5.0)
        };
        let _ = writeln!(
            out,
            "{lead}<text x=\"{:.1}\" y=\"{:.1}\">{number}{} {}</text>",
            end + if lead.is_empty() { 3.0 } else { 7.0 },
            y + 4.0,
            marks::cause(s.cause).0,
            duration(s.outage_p95_s)
        );
    }
}

/// Stops, as gaps across road, sky and outages.
pub(super) fn stops(out: &mut String, axis: &Axis, day: &Itinerary, taken: &mut FreeRows) {
    for (sign, part) in answer::stops(day) {
        let Part::Stop { from, to, place, why, .. } = part else { continue };
        let (top, bottom) = (axis.y(from.unix_s() as f64), axis.y(to.unix_s() as f64));
        let _ = writeln!(
            out,
            "<rect class=\"gap\" x=\"44\" y=\"{top:.1}\" width=\"{:.1}\" height=\"{:.1}\"><title>{}{} {}–{}</title></rect>",
            MEETINGS - 50.0,
            (bottom - top).max(2.0),
            escape(&place.name),
            roof_words(place.roof),
            crate::report::plan::clock_on(day, from),
            crate::report::plan::clock_on(day, to)
        );
        let y = (top + bottom) / 2.0;
        taken.take(y);
        let _ = writeln!(
            out,
            "<text class=\"m b\" x=\"{ROAD}\" y=\"{:.1}\">{sign}</text><text x=\"{}\" y=\"{:.1}\">{}, {why}</text>",
            y + 4.0,
            OUTAGES.0,
            y + 4.0,
            minutes(((to.unix_s() - from.unix_s()) / 60) as f64)
        );
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn longer_outages_have_longer_bars() {
        let bars: Vec<f64> = [0.1, 0.4, 1.0, 5.0, 30.0, 100.0, 900.0].map(bar).to_vec();
        assert!(bars.windows(2).all(|w| w[1] >= w[0]), "{bars:?}");
        assert!(bars[6] <= OUTAGES.1 && bars[3] > 1.5 * bars[2]);
    }

    #[test]
    fn lines_of_text_keep_apart() {
        let mut lines = FreeRows::default();
        assert!(lines.take(10.0) && !lines.take(20.0) && lines.take(21.0) && !lines.take(12.0));
        // Below the heads of the columns.
        assert_eq!(lines.near(12.0), 42.0);
    }
}
