//! Signs and words on the map, put where they hide nothing written before.
use std::fmt::Write;

use super::frame::{Frame, WIDTH, Xy};
use crate::base::markup::escape;

/// How a sign looks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::report) enum Shape {
    /// Numbers of the worst stretches.
    Circle,
    /// Meetings.
    Square,
    /// Stops, start and end.
    Flag,
    /// Names of towns: words alone, upright.
    Town,
    /// Names of roads and kilometres: words alone.
    Words,
}

/// Half a line of text, user units, as large as it is on a telephone.
const HALF_LINE: f64 = 13.0;
/// Width of a character, user units.
const CHARACTER: f64 = 9.4;

/// How densely and how far to both sides a line is kept free, user units.
const LINE_STEP: f64 = 6.0;
const LINE_HALF: f64 = 4.0;
/// Farthest that words and signs lie from their place, user units.
const WORDS_AWAY: f64 = 34.0;

/// Places taken, as boxes: left, top, right, bottom.
pub(in crate::report) struct Labels {
    taken: Vec<[f64; 4]>,
    height: f64,
}

impl Labels {
    pub fn new(frame: &Frame) -> Self {
        Self { taken: Vec::new(), height: frame.height }
    }
    /// Keeps a box free.
    pub(in crate::report) fn keep_free(&mut self, taken: [f64; 4]) {
        self.taken.push(taken);
    }
    /// Keeps a line free.
    pub(in crate::report) fn keep_line_free(&mut self, line: &[Xy]) {
        for pair in line.windows(2) {
            let (dx, dy) = (pair[1].0 - pair[0].0, pair[1].1 - pair[0].1);
            let steps = (dx.hypot(dy) / LINE_STEP).ceil().max(1.0);
            for i in 0..steps as usize {
                let (x, y) = (pair[0].0 + dx * i as f64 / steps, pair[0].1 + dy * i as f64 / steps);
                self.keep_free([x - LINE_HALF, y - LINE_HALF, x + LINE_HALF, y + LINE_HALF]);
            }
        }
    }
    /// Puts a sign beside its place; words that fit nowhere are left out, other signs are put all the same.
    pub fn put(&mut self, out: &mut String, at: Xy, text: &str, shape: Shape, title: &str) {
        let half_width = match shape {
            Shape::Circle | Shape::Square if text.chars().count() < 3 => HALF_LINE,
            _ => CHARACTER * text.chars().count() as f64 / 2.0 + 5.0,
        };
        let words = matches!(shape, Shape::Words | Shape::Town);
        let most = if words { WORDS_AWAY } else { f64::INFINITY };
        let Some((x, y)) = self.spot(at, half_width, most).or((!words).then_some(at)) else { return };
        self.taken.push([x - half_width, y - HALF_LINE, x + half_width, y + HALF_LINE]);
        if !words {
            let _ = write!(out, "<path class=\"lead\" d=\"M{:.1} {:.1}L{x:.1} {y:.1}\"/>", at.0, at.1);
        }
        let _ = write!(out, "<g transform=\"translate({x:.1} {y:.1})\"><g class=\"mark\">");
        if !title.is_empty() {
            let _ = write!(out, "<title>{}</title>", escape(title));
        }
        let drawn = half_width / 1.4;
        let _ = match shape {
            Shape::Circle => write!(out, "<circle r=\"9\" class=\"plate\"/>"),
            Shape::Square => {
                write!(
                    out,
                    "<rect x=\"{:.1}\" y=\"-8.5\" width=\"{:.1}\" height=\"17\" class=\"ink\"/>",
                    -drawn,
                    2.0 * drawn
                )
            }
            Shape::Flag => write!(
                out,
                "<rect x=\"{:.1}\" y=\"-8.5\" width=\"{:.1}\" height=\"17\" rx=\"4\" class=\"plate\"/>",
                -drawn,
                2.0 * drawn
            ),
            Shape::Words | Shape::Town => Ok(()),
        };
        let class = match shape {
            Shape::Square => "on-ink",
            Shape::Words => "words",
            Shape::Town => "words town",
            Shape::Circle | Shape::Flag => "on-plate",
        };
        let _ = writeln!(out, "<text class=\"{class}\" y=\"4.3\">{}</text></g></g>", escape(text));
    }
    /// The nearest free spot around a place.
    fn spot(&self, at: Xy, half_width: f64, most: f64) -> Option<Xy> {
        for away in [20.0, 26.0, 33.0, 42.0, 58.0, 76.0, 96.0, 120.0].into_iter().filter(|a| *a <= most) {
            for turn in [1, 7, 3, 5, 0, 2, 6, 4] {
                let (sin, cos) = (f64::from(turn) * 45.0_f64).to_radians().sin_cos();
                let spot = (at.0 + sin * (away + half_width - HALF_LINE), at.1 - cos * away);
                if self.free(spot, half_width) {
                    return Some(spot);
                }
            }
        }
        None
    }
    fn free(&self, (x, y): Xy, half_width: f64) -> bool {
        let own = [x - half_width, y - HALF_LINE, x + half_width, y + HALF_LINE];
        let inside = own[0] >= 2.0 && own[1] >= 2.0 && own[2] <= WIDTH - 2.0 && own[3] <= self.height - 2.0;
        inside && self.taken.iter().all(|t| own[2] < t[0] || own[0] > t[2] || own[3] < t[1] || own[1] > t[3])
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::geodesy::Position;

    #[test]
    fn signs_do_not_hide_each_other() {
        let frame = Frame::around([Position::from_deg(1.5, 42.5), Position::from_deg(1.6, 42.6)].into_iter()).unwrap();
        let mut labels = Labels::new(&frame);
        let mut out = String::new();
        for n in 1..=10 {
            labels.put(&mut out, (200.0, 200.0), &n.to_string(), Shape::Circle, "");
        }
        assert_eq!(out.matches("<circle").count(), 10);
        for (i, a) in labels.taken.iter().enumerate() {
            for b in &labels.taken[..i] {
                assert!(a[2] < b[0] || a[0] > b[2] || a[3] < b[1] || a[1] > b[3], "{a:?} {b:?}");
            }
        }
    }
}
