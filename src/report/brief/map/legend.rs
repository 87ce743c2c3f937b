//! What the signs of the map mean.
use std::fmt::Write;

use super::trip::strokes;
use crate::base::words::{PerRating, Rating};

/// What the signs mean, as a list under the map.
pub(super) fn legend(out: &mut String, gaps: bool) {
    *out += "<ul class=\"legend\" aria-label=\"What the lines and signs mean\">\n";
    for &rating in Rating::ALL {
        let mut data: PerRating<String> = PerRating::default();
        data[rating] = "M40 70l360 0".into();
        let mut lines = String::new();
        strokes(&mut lines, &data);
        let _ = writeln!(
            out,
            "<li><svg viewBox=\"0 0 44 14\" class=\"swatch\" aria-hidden=\"true\"><g class=\"trip\" transform=\"scale(.1)\">{}</g></svg> \
             {} {rating}</li>",
            lines.replace('\n', ""),
            rating.code()
        );
    }
    if gaps {
        *out += "<li><svg viewBox=\"0 0 44 14\" class=\"swatch\" aria-hidden=\"true\"><path class=\"off\" d=\"M4 \
                 7h36\"/></svg> not known: off the layer's roads</li>\n";
    }
    *out += "<li><svg viewBox=\"0 0 20 14\" class=\"swatch s\" aria-hidden=\"true\"><circle class=\"plate\" cx=\"10\" cy=\"7\" r=\"6\"/></svg> longest \
             outages, as in the table</li>\n\
             <li><svg viewBox=\"0 0 20 14\" class=\"swatch s\" aria-hidden=\"true\"><rect class=\"ink\" x=\"3\" y=\"0\" width=\"14\" \
             height=\"14\"/></svg> meetings; pale band: held there in motion</li>\n\
             <li><svg viewBox=\"0 0 20 14\" class=\"swatch s\" aria-hidden=\"true\"><rect class=\"plate\" x=\"1\" y=\"1\" width=\"18\" height=\"12\" \
             rx=\"3\"/></svg> start, end, stops</li>\n<li>thin lines: other roads, by their worse direction</li>\n</ul>\n";
}
