//! Meetings beside the road, with their kind and risk.
use std::fmt::Write;

use super::axis::Axis;
use super::columns::MEETINGS;
use crate::ask::plan::{Held, Itinerary, Kind};
use crate::base::markup::escape;
use crate::report::brief::marks;
use crate::report::verdict::{risk, word};

/// Characters in a line beside the bar.
const LINE: usize = 14;
/// Most lines of a meeting's name.
const NAME_LINES: usize = 4;
/// Height of a line, user units.
const STEP: f64 = 12.0;

/// Pattern of a kind: the more it tolerates, the emptier.
fn fill(kind: Kind) -> &'static str {
    match kind {
        Kind::MustNotDrop => "ink",
        Kind::Casual => "half",
        Kind::Messages => "plate",
    }
}

/// The bars and their words; returns the lowest place used.
pub(super) fn write(out: &mut String, axis: &Axis, day: &Itinerary) -> f64 {
    let mut lowest = axis.bottom();
    let mut free_from = super::axis::TOP;
    let mut last_end = [f64::NEG_INFINITY; 2];
    for (n, m) in day.meetings.iter().enumerate() {
        let (from, to) =
            (axis.y(m.start.unix_s() as f64), axis.y(m.end.unix_s() as f64).max(axis.y(m.start.unix_s() as f64) + 2.0));
        // Two meetings at once stand side by side.
        let lane = usize::from(from < last_end[0] - 0.01);
        last_end[lane] = last_end[lane].max(to);
        let x = MEETINGS + 6.0 * lane as f64;
        let _ = writeln!(
            out,
            "<rect class=\"{}\" x=\"{x}\" y=\"{from:.1}\" width=\"6\" height=\"{:.1}\"><title>{}</title></rect>",
            fill(m.kind),
            to - from,
            escape(&m.name)
        );
        let top = from.max(free_from);
        let bottom = words(out, n, m, top, (x + 6.0, from));
        free_from = bottom + 5.0;
        lowest = lowest.max(bottom);
    }
    lowest
}

fn words(out: &mut String, n: usize, m: &Held, top: f64, (x, from): (f64, f64)) -> f64 {
    let left = MEETINGS + 16.0;
    let _ = writeln!(out, "<path class=\"lead\" d=\"M{x:.1} {:.1}L{:.1} {:.1}\"/>", from + 1.0, left - 1.0, top + 7.0);
    let mut lines = wrapped(&format!("{} {}", marks::meeting(n), m.name));
    let named = lines.len();
    let [start, end] = [&m.start, &m.end].map(|at| at.clock());
    match format!("{start}–{end}") {
        times if times.chars().count() <= LINE => lines.push(times),
        _ => lines.extend([format!("{start}–"), end]),
    }
    lines.extend(wrapped(&word(m.verdict)));
    lines.extend(wrapped(&format!("risk {}", risk(m))));
    let mut y = top;
    for (i, line) in lines.iter().enumerate() {
        y += STEP;
        let class = if i < named { " class=\"b\"" } else { "" };
        let _ = writeln!(out, "<text{class} x=\"{left}\" y=\"{:.1}\">{}</text>", y - 1.0, escape(line));
    }
    y + 2.0
}

/// Words in lines of at most [`LINE`] characters; what is left over ends in an ellipsis.
fn wrapped(text: &str) -> Vec<String> {
    let mut lines: Vec<String> = vec![String::new()];
    let count = |s: &str| s.chars().count();
    for word in text.split_whitespace() {
        let mut rest: String = word.to_owned();
        while let Some(line) = lines.last_mut() {
            let room = LINE.saturating_sub(count(line) + usize::from(!line.is_empty()));
            if count(&rest) <= room {
                if !line.is_empty() {
                    line.push(' ');
                }
                *line += &rest;
                break;
            }
            if line.is_empty() {
                // A word longer than a line is cut.
                *line = rest.chars().take(LINE).collect();
                rest = rest.chars().skip(LINE).collect();
            }
            lines.push(String::new());
        }
    }
    if lines.len() > NAME_LINES {
        lines.truncate(NAME_LINES);
        if let Some(last) = lines.last_mut() {
            let kept: String = last.chars().take(LINE - 1).collect();
            *last = kept + "…";
        }
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_wrapped_and_nothing_is_wider_than_its_column() {
        assert_eq!(wrapped("A Datum review with the port office"), ["A Datum review", "with the port", "office"]);
        for text in ["", "A", "B Donaudampfschifffahrtsgesellschaft is one word", &"word ".repeat(40)] {
            let lines = wrapped(text);
            assert!(lines.len() <= NAME_LINES && lines.iter().all(|l| l.chars().count() <= LINE), "{lines:?}");
        }
        assert!(wrapped(&"word ".repeat(40))[3].ends_with('…'));
    }
}
