//! Scale bar and north.
use std::fmt::Write;

use super::frame::{Frame, WIDTH};
use crate::base::words::Units;

/// A round length that takes at most a quarter of the width: metres, and as people read it.
fn bar(frame: &Frame, units: Units) -> (f64, String) {
    let most_m = WIDTH / 4.0 / frame.scale;
    // Miles from a mile on, feet below; metres and kilometres are round together.
    let sign_m = if units.of_road(most_m) >= 1.0 { 1.0 / units.of_road(1.0) } else { units.short_m() };
    let most = most_m / sign_m;
    let ten = 10f64.powf(most.log10().floor());
    let round = [5.0, 2.0, 1.0].into_iter().map(|k| k * ten).find(|n| *n <= most).unwrap_or(ten);
    let m = round * sign_m;
    (m, if sign_m > 1.0 { units.road_about(m) } else { units.near(m) })
}

/// Scale bar and north arrow; both lie on a plate, so that roads below do not hide them.
pub(in crate::report) fn write(out: &mut String, frame: &Frame, units: Units) {
    let (m, text) = bar(frame, units);
    let long = m * frame.scale;
    let (x, y) = (12.0, frame.height - 14.0);
    let _ = writeln!(
        out,
        "<rect class=\"plate-thin\" x=\"4\" y=\"{:.1}\" width=\"{:.1}\" height=\"32\"/>\
         <path class=\"bar\" d=\"M{x} {:.1}v6h{long:.1}v-6\"/><text class=\"words size from\" x=\"{:.1}\" y=\"{:.1}\">{text}</text>",
        y - 22.0,
        long.max(52.0) + 18.0,
        y - 3.0,
        x,
        y - 7.0
    );
    let _ = writeln!(
        out,
        "<g transform=\"translate({:.1} 30)\"><circle class=\"plate-thin\" r=\"20\"/><path class=\"north\" d=\"M0-15L6 3L0 0L-6 3Z\"/>\
         <text class=\"words\" y=\"16\">N</text></g>",
        WIDTH - 28.0
    );
}

/// Boxes of scale bar and north.
pub(in crate::report) fn boxes(frame: &Frame, units: Units) -> [[f64; 4]; 2] {
    let long = (bar(frame, units).0 * frame.scale).max(52.0);
    [[0.0, frame.height - 42.0, long + 30.0, frame.height], [WIDTH - 52.0, 0.0, WIDTH, 54.0]]
}
