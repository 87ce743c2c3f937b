//! Lines made small: simplified, cut at the frame, written with few characters.
use std::fmt::Write;

use geo::{LineString, Simplify};

use super::frame::Xy;

/// Fewer points, none of those left out farther than `tolerance` from the new line (Ramer, Douglas and Peucker).
pub(in crate::report) fn simplified(line: &[Xy], tolerance: f64) -> Vec<Xy> {
    if line.len() < 3 {
        return line.to_vec();
    }
    let simple = LineString::from(line.to_vec()).simplify(tolerance);
    simple.into_points().into_iter().map(|p| (p.x(), p.y())).collect()
}

/// The parts of a line inside a box that begins at the origin.
pub(in crate::report) fn clipped(line: &[Xy], width: f64, height: f64) -> Vec<Vec<Xy>> {
    let mut out: Vec<Vec<Xy>> = Vec::new();
    let mut going = false;
    for pair in line.windows(2) {
        let Some((a, b)) = inside(pair[0], pair[1], width, height) else {
            going = false;
            continue;
        };
        match out.last_mut() {
            Some(last) if going && last.last() == Some(&a) => last.push(b),
            _ => out.push(vec![a, b]),
        }
        going = b == pair[1];
    }
    out
}

/// The part of a straight piece inside the box (Liang and Barsky, 1984).
fn inside(a: Xy, b: Xy, width: f64, height: f64) -> Option<(Xy, Xy)> {
    let (dx, dy) = (b.0 - a.0, b.1 - a.1);
    let (mut from, mut to) = (0.0_f64, 1.0_f64);
    for (p, q) in [(-dx, a.0), (dx, width - a.0), (-dy, a.1), (dy, height - a.1)] {
        if p == 0.0 {
            if q < 0.0 {
                return None;
            }
        } else if p < 0.0 {
            from = from.max(q / p);
        } else {
            to = to.min(q / p);
        }
    }
    let at = |t: f64| (a.0 + t * dx, a.1 + t * dy);
    let ends = (if from > 0.0 { at(from) } else { a }, if to < 1.0 { at(to) } else { b });
    (from <= to).then_some(ends)
}

/// Steps of a path per user unit: whole numbers need fewer characters.
pub(in crate::report) const STEPS: f64 = 10.0;

/// A line as the data of a path, in tenths of a user unit, relative after its first point.
pub(in crate::report) fn path(out: &mut String, line: &[Xy]) {
    let whole = |(x, y): Xy| ((x * STEPS).round() as i64, (y * STEPS).round() as i64);
    let mut before: Option<(i64, i64)> = None;
    let mut drawn = false;
    for (x, y) in line.iter().copied().map(whole) {
        let _ = match before {
            None => write!(out, "M{x} {y}l"),
            Some((bx, by)) if (bx, by) == (x, y) => continue,
            Some((bx, by)) => {
                let (dx, dy) = (x - bx, y - by);
                let gap = if drawn && dx >= 0 { " " } else { "" };
                let middle = if dy >= 0 { " " } else { "" };
                drawn = true;
                write!(out, "{gap}{dx}{middle}{dy}")
            }
        };
        before = Some((x, y));
    }
    if !drawn {
        *out += "0 0";
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_leaves_the_box_and_comes_back_is_two_lines() {
        let line = [(1.0, 1.0), (5.0, 1.0), (15.0, 1.0), (15.0, 4.0), (5.0, 4.0), (5.0, 6.0)];
        let got = clipped(&line, 10.0, 10.0);
        assert_eq!(got, [vec![(1.0, 1.0), (5.0, 1.0), (10.0, 1.0)], vec![(10.0, 4.0), (5.0, 4.0), (5.0, 6.0)]]);
        assert_eq!(clipped(&[(-5.0, 5.0), (15.0, 5.0)], 10.0, 10.0), [vec![(0.0, 5.0), (10.0, 5.0)]]);
        assert!(clipped(&[(-5.0, -5.0), (15.0, -5.0)], 10.0, 10.0).is_empty());
    }

    #[test]
    fn a_path_is_short_and_exact_to_a_tenth() {
        let mut out = String::new();
        path(&mut out, &[(1.0, 2.0), (1.5, 1.9), (1.5, 1.9), (1.46, 3.0)]);
        assert_eq!(out, "M10 20l5-1 0 11");
        let mut dot = String::new();
        path(&mut dot, &[(1.0, 2.0), (1.0, 2.0)]);
        assert_eq!(dot, "M10 20l0 0");
    }

    /// Distance of a point to a straight piece.
    fn off(p: Xy, a: Xy, b: Xy) -> f64 {
        let (dx, dy) = (b.0 - a.0, b.1 - a.1);
        let along = ((p.0 - a.0) * dx + (p.1 - a.1) * dy) / (dx * dx + dy * dy);
        let along = along.clamp(0.0, 1.0);
        (p.0 - a.0 - along * dx).hypot(p.1 - a.1 - along * dy)
    }

    #[test]
    fn a_simpler_line_keeps_its_ends_and_corners() {
        let line: Vec<Xy> = (0..100).map(|i| (f64::from(i), if i == 50 { 10.0 } else { 0.0 })).collect();
        // By hand: the spike is farthest from the chord, then the points at its feet from the two new chords.
        assert_eq!(simplified(&line, 0.5), [(0.0, 0.0), (49.0, 0.0), (50.0, 10.0), (51.0, 0.0), (99.0, 0.0)]);
        assert_eq!(simplified(&line, 10.5), [(0.0, 0.0), (99.0, 0.0)]);
        assert_eq!(simplified(&line[..2], 10.5), line[..2]);
    }

    #[test]
    fn what_a_simpler_line_leaves_out_lies_within_the_tolerance_of_what_replaces_it() {
        let wave = |i: u32| (f64::from(i), 8.0 * (f64::from(i) * 0.11).sin() + 0.4 * (f64::from(i) * 2.3).cos());
        let line: Vec<Xy> = (0..400).map(wave).collect();
        let mut counts = Vec::new();
        for tolerance in [0.05, 0.5, 1.0, 4.0] {
            let got = simplified(&line, tolerance);
            let at: Vec<usize> = got.iter().map(|p| line.iter().position(|q| q == p).unwrap()).collect();
            assert_eq!((at[0], at[at.len() - 1]), (0, 399));
            for pair in at.windows(2) {
                let (a, b) = (line[pair[0]], line[pair[1]]);
                assert!(pair[0] < pair[1], "in the order of the line");
                assert!(
                    line[pair[0]..=pair[1]].iter().all(|p| off(*p, a, b) <= tolerance),
                    "{tolerance}: {a:?} to {b:?}"
                );
            }
            counts.push(got.len());
        }
        // Fourteen half waves need a point each; the ripples of 0.4 are gone from a tolerance of 1 on.
        assert!(counts.is_sorted_by(|a, b| a > b) && counts[2] < 100 && counts[3] >= 14, "{counts:?}");
    }
}
