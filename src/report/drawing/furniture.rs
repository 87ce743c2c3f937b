//! Scale bar and north.
use std::fmt::Write;

use super::frame::{Frame, WIDTH};

/// A round length that takes at most a quarter of the width, metres.
fn bar_m(frame: &Frame) -> f64 {
    let most_m = WIDTH / 4.0 / frame.scale;
    let ten = 10f64.powf(most_m.log10().floor());
    [5.0, 2.0, 1.0].into_iter().map(|k| k * ten).find(|m| *m <= most_m).unwrap_or(ten)
}

/// Scale bar and north arrow; both lie on a plate, so that roads below do not hide them.
pub(in crate::report) fn write(out: &mut String, frame: &Frame) {
    let m = bar_m(frame);
    let long = m * frame.scale;
    let text = if m < 1_000.0 { format!("{m:.0} m") } else { format!("{:.0} km", m / 1e3) };
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
pub(in crate::report) fn boxes(frame: &Frame) -> [[f64; 4]; 2] {
    let long = (bar_m(frame) * frame.scale).max(52.0);
    [[0.0, frame.height - 42.0, long + 30.0, frame.height], [WIDTH - 52.0, 0.0, WIDTH, 54.0]]
}
