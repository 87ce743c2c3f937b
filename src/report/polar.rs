//! The sky over one place as a round picture (SVG 1.1): zenith in the middle, north up, east to the right as on a map.
//!
//! Causes differ by a mark in every cell as well as by colour, so that the picture reads in black and white too. Colours are
//! of the colour-blind-safe set of M. Okabe and K. Ito (Color Universal Design, 2008): its black, blue, vermilion, bluish
//! green and reddish purple. The grey of buildings is ours. Text from map data is escaped.
use std::fmt::Write;

use crate::ask::place::{Sighted, SkyAnswer, SkyCell, SkyPass};
use crate::base::markup::escape;
use crate::base::words::Cause;

/// Radius of the lowest elevation, and the middle of the picture, user units.
const RADIUS: f64 = 232.0;
/// Directions of the ring of expected satellites, where it begins, and how long its longest bar is, user units.
const SECTORS: usize = 24;
const RING: f64 = 238.0;
const BAR: f64 = 30.0;
/// The four letters, from the middle.
const LETTERS: f64 = 280.0;
const MIDDLE: (f64, f64) = (300.0, 342.0);
/// Radius of the circle around the number of a pass, user units, and the colour of passes.
const BADGE: f64 = 9.5;
const PASS: &str = "#CC79A7";
/// Half an azimuth bin, degrees.
const HALF_BIN_DEG: f64 = 2.5;
/// Passes beyond these are in the numbers, not in the picture.
const MOST_PASSES: usize = 12;

/// How a cause is drawn and called.
struct Sign {
    cause: Cause,
    colour: &'static str,
    /// Path of its mark, around the middle of a cell.
    mark: &'static str,
}

const SIGNS: [Sign; 5] = [
    Sign { cause: Cause::Cover, colour: "#000000", mark: "m-3-3l6 6m0-6l-6 6" },
    Sign { cause: Cause::Deck, colour: "#0072B2", mark: "m-3 0h6" },
    Sign { cause: Cause::Building, colour: "#999999", mark: "m0-3v6" },
    Sign { cause: Cause::Terrain, colour: "#D55E00", mark: "m-3 3l3-5l3 5" },
    Sign { cause: Cause::Canopy, colour: "#009E73", mark: "m-1.5 0a1.5 1.5 0 1 0 3 0a1.5 1.5 0 1 0-3 0" },
];

/// Blocked below this the mark would say more than the fill.
const MARKED_FROM: f64 = 0.3;

/// A mark in the middle of something.
fn mark(out: &mut String, cause: &Sign, (x, y): (f64, f64)) {
    let _ = writeln!(out, "<path d=\"M{x:.1} {y:.1}{}\" fill=\"none\" stroke=\"#fff\"/>", cause.mark);
}

/// The picture.
pub fn svg(answer: &SkyAnswer) -> String {
    let mut out = String::from(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 860 662\" font-family=\"sans-serif\" font-size=\"14\">\n",
    );
    let _ = writeln!(out, "<rect width=\"860\" height=\"662\" fill=\"#fff\"/>");
    heading(&mut out, answer);
    let lowest_deg = answer.cells.iter().map(|c| c.low_deg).fold(90.0, f64::min);
    let disc = Disc { lowest_deg };
    for cell in &answer.cells {
        disc.cell(&mut out, cell);
    }
    disc.rings(&mut out, answer.heading_deg);
    ring(&mut out, answer);
    disc.passes(&mut out, &answer.passes[..answer.passes.len().min(MOST_PASSES)]);
    legend(&mut out, answer);
    out + "</svg>\n"
}

/// The place asked about, and below it which road that is and how it is driven there.
fn heading(out: &mut String, answer: &SkyAnswer) {
    let place = format!("Sky over {} at {}", escape(&answer.road), coordinates(answer.lat_deg, answer.lon_deg));
    let _ = writeln!(out, "<title>{place}</title>\n<text x=\"20\" y=\"28\" font-size=\"18\">{place}</text>");
    let way = if answer.forward { "as the way is drawn" } else { "against the way as drawn" };
    let _ = writeln!(
        out,
        "<text x=\"20\" y=\"48\" font-size=\"12\">heading {:.0}\u{b0}, {way}; way {}, segment {} from {:.0} m on</text>",
        answer.heading_deg, answer.way_id, answer.segment_id, answer.along_m
    );
}

/// `46.97542° N, 28.03299° W`: to about a metre.
fn coordinates(lat_deg: f64, lon_deg: f64) -> String {
    let side = |deg: f64, sides: [char; 2]| format!("{:.5}\u{b0} {}", deg.abs(), sides[usize::from(deg < 0.0)]);
    format!("{}, {}", side(lat_deg, ['N', 'S']), side(lon_deg, ['E', 'W']))
}

/// The projection: distance from the middle grows evenly from the zenith to the lowest elevation.
struct Disc {
    lowest_deg: f64,
}

impl Disc {
    fn place(&self, azimuth_deg: f64, elevation_deg: f64) -> (f64, f64) {
        polar(azimuth_deg, RADIUS * (90.0 - elevation_deg) / (90.0 - self.lowest_deg).max(1.0))
    }
    fn cell(&self, out: &mut String, cell: &SkyCell) {
        let corner = |a: f64, e: f64| {
            let (x, y) = self.place(cell.azimuth_deg + a, e);
            format!("{x:.1} {y:.1}")
        };
        let [a, b, c, d] = [
            corner(-HALF_BIN_DEG, cell.low_deg),
            corner(HALF_BIN_DEG, cell.low_deg),
            corner(HALF_BIN_DEG, cell.high_deg),
            corner(-HALF_BIN_DEG, cell.high_deg),
        ];
        let cause = SIGNS.iter().find(|c| c.cause == cell.cause).filter(|_| cell.blocked > 0.0);
        let (fill, opacity) = match cause {
            Some(cause) => (cause.colour, cell.blocked),
            None if !cell.usable => ("#eee", 1.0),
            None => return,
        };
        let _ = writeln!(out, "<path d=\"M{a}L{b}L{c}L{d}Z\" fill=\"{fill}\" fill-opacity=\"{opacity:.2}\"/>");
        // Near the zenith cells are too narrow for a mark.
        let middle_deg = (cell.low_deg + cell.high_deg) / 2.0;
        if let Some(cause) = cause.filter(|_| cell.blocked >= MARKED_FROM && middle_deg < 65.0) {
            mark(out, cause, self.place(cell.azimuth_deg, middle_deg));
        }
    }
    fn rings(&self, out: &mut String, heading_deg: f64) {
        let (x, y) = MIDDLE;
        for elevation_deg in [self.lowest_deg, 45.0, 60.0, 75.0].into_iter().filter(|e| *e >= self.lowest_deg) {
            let r = self.place(90.0, elevation_deg).0 - x;
            let _ = writeln!(
                out,
                "<circle cx=\"{x}\" cy=\"{y}\" r=\"{r:.1}\" fill=\"none\" stroke=\"#444\" stroke-width=\"0.7\"/>"
            );
            let _ = writeln!(
                out,
                "<text x=\"{:.1}\" y=\"{:.1}\" font-size=\"11\" fill=\"#222\">{elevation_deg:.0}\u{b0}</text>",
                x + 3.0,
                y + r - 4.0
            );
        }
        for (name, azimuth_deg) in [("N", 0.0), ("E", 90.0), ("S", 180.0), ("W", 270.0)] {
            let (px, py) = polar(azimuth_deg, LETTERS);
            let _ = writeln!(out, "<text x=\"{px:.1}\" y=\"{:.1}\" text-anchor=\"middle\">{name}</text>", py + 5.0);
        }
        let (tip, left, right) = (
            self.place(heading_deg, self.lowest_deg - 1.0),
            self.place(heading_deg - 2.5, self.lowest_deg + 3.0),
            self.place(heading_deg + 2.5, self.lowest_deg + 3.0),
        );
        let _ = writeln!(
            out,
            "<path d=\"M{:.1} {:.1}L{:.1} {:.1}L{:.1} {:.1}Z\" fill=\"#000\"><title>heading</title></path>",
            tip.0, tip.1, left.0, left.1, right.0, right.1
        );
    }
    /// Passes with a dot where they set, then their numbers, so that no line covers a number.
    fn passes(&self, out: &mut String, passes: &[SkyPass]) {
        let paths: Vec<Vec<(f64, f64)>> =
            passes.iter().map(|p| p.path.iter().map(|(a, e)| self.place(*a, *e)).collect()).collect();
        paths.iter().for_each(|path| pass(out, path));
        for (k, (x, y)) in badges(&paths).into_iter().enumerate() {
            let number = k + 1;
            let _ = writeln!(
                out,
                "<circle cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"{BADGE:.1}\" fill=\"#fff\" stroke=\"{PASS}\" stroke-width=\"2\"/>\n\
                 <text x=\"{x:.1}\" y=\"{:.1}\" font-size=\"13\" font-weight=\"bold\" text-anchor=\"middle\">{number}</text>",
                y + 4.6
            );
        }
    }
}

/// The line of a pass.
fn pass(out: &mut String, path: &[(f64, f64)]) {
    let points: Vec<String> = path.iter().map(|(x, y)| format!("{x:.1},{y:.1}")).collect();
    let line = points.join(" ");
    let _ = writeln!(out, "<polyline points=\"{line}\" fill=\"none\" stroke=\"#fff\" stroke-width=\"4\"/>");
    let _ = writeln!(out, "<polyline points=\"{line}\" fill=\"none\" stroke=\"{PASS}\" stroke-width=\"2\"/>");
    if let Some((x, y)) = path.last() {
        let _ = writeln!(out, "<circle cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"4\" fill=\"{PASS}\"/>");
    }
}

/// Where the numbers of passes stand: on their paths, apart from those before them, then from the paths of others, then near
/// the middle of their own.
fn badges(paths: &[Vec<(f64, f64)>]) -> Vec<(f64, f64)> {
    let mut out: Vec<(f64, f64)> = Vec::new();
    for (nth, path) in paths.iter().enumerate() {
        let room = |k: usize| {
            let others = paths.iter().enumerate().filter(|(other, _)| *other != nth).flat_map(|(_, path)| path);
            let (apart, alone) = (nearest(path[k], out.iter(), 2.5 * BADGE), nearest(path[k], others, 1.5 * BADGE));
            (apart, alone, -(k.abs_diff(path.len() / 2) as f64))
        };
        let order = |a: (f64, f64, f64), b: (f64, f64, f64)| {
            a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)).then(a.2.total_cmp(&b.2))
        };
        let best = (0..path.len()).max_by(|a, b| order(room(*a), room(*b)));
        out.push(best.map_or(MIDDLE, |k| path[k]));
    }
    out
}

/// Distance to the nearest of some points, as far as it matters.
fn nearest<'p>(at: (f64, f64), points: impl Iterator<Item = &'p (f64, f64)>, enough: f64) -> f64 {
    points.map(|p| (p.0 - at.0).hypot(p.1 - at.1)).fold(enough, f64::min)
}

/// A place by direction and distance from the middle.
fn polar(azimuth_deg: f64, r: f64) -> (f64, f64) {
    let (sin, cos) = azimuth_deg.to_radians().sin_cos();
    (MIDDLE.0 + r * sin, MIDDLE.1 - r * cos)
}

/// Satellites expected by direction, and those of them in open sky.
fn sectors(answer: &SkyAnswer) -> Vec<(f64, f64)> {
    let width_deg = 360.0 / SECTORS as f64;
    let mut out = vec![(0.0, 0.0); SECTORS];
    for cell in &answer.cells {
        let sector = ((cell.azimuth_deg + 0.5 * width_deg).rem_euclid(360.0) / width_deg) as usize % SECTORS;
        let expected = cell.weight * answer.expected_satellites;
        out[sector].0 += expected;
        out[sector].1 += expected * (1.0 - cell.blocked);
    }
    out
}

/// Bars around the disc: as long as satellites are expected there, filled as far as they stand in open sky.
fn ring(out: &mut String, answer: &SkyAnswer) {
    let sectors = sectors(answer);
    let most = sectors.iter().map(|s| s.0).fold(0.0, f64::max);
    if most <= 0.0 {
        return;
    }
    for (k, (expected, open)) in sectors.into_iter().enumerate() {
        let azimuth_deg = k as f64 * 360.0 / SECTORS as f64;
        for (count, fill) in [(expected, "#fff"), (open, "#333")] {
            let corner = |a: f64, r: f64| {
                let (x, y) = polar(azimuth_deg + a, r);
                format!("{x:.1} {y:.1}")
            };
            let far = RING + BAR * count / most;
            let [a, b, c, d] = [corner(-5.0, RING), corner(5.0, RING), corner(5.0, far), corner(-5.0, far)];
            let _ = writeln!(
                out,
                "<path d=\"M{a}L{b}L{c}L{d}Z\" fill=\"{fill}\" stroke=\"#333\" stroke-width=\"0.7\"><title>{count:.2} \
                 satellites</title></path>"
            );
        }
    }
}

fn legend(out: &mut String, answer: &SkyAnswer) {
    let x = 600.0;
    let mut y = 80.0;
    let mut line = |text: String| {
        let _ = writeln!(out, "<text x=\"{x}\" y=\"{y}\">{}</text>", escape(&text));
        y += 20.0;
    };
    line(format!("open {:.0} % of the usable sky", 100.0 * answer.shares.open));
    line(format!("{:.1} satellites expected in it", answer.expected_satellites));
    let most = sectors(answer).iter().map(|s| s.0).fold(0.0, f64::max);
    line("bars: satellites by direction,".into());
    line(format!("longest {most:.2}; dark: in open sky"));
    line(format!("segment: {}, outage p95 {:.1} s", answer.rating_name, answer.outage_p95_s));
    y += 8.0;
    for cause in SIGNS.iter().filter(|c| answer.cells.iter().any(|cell| cell.cause == c.cause)) {
        let top = y - 13.0;
        let _ = writeln!(out, "<rect x=\"{x}\" y=\"{top:.0}\" width=\"16\" height=\"16\" fill=\"{}\"/>", cause.colour);
        mark(out, cause, (x + 8.0, top + 8.0));
        let (name, percent) = (cause.cause.phrase(), 100.0 * answer.shares.of(cause.cause));
        let _ = writeln!(out, "<text x=\"{}\" y=\"{y}\">{name}: {percent:.0} %</text>", x + 24.0);
        y += 20.0;
    }
    if answer.cells.iter().any(|c| !c.usable) {
        let _ = writeln!(
            out,
            "<rect x=\"{x}\" y=\"{:.0}\" width=\"16\" height=\"16\" fill=\"#eee\" stroke=\"#999\"/>",
            y - 13.0
        );
        let _ = writeln!(out, "<text x=\"{}\" y=\"{y}\">sky the panel cannot use</text>", x + 24.0);
        y += 20.0;
    }
    y += 8.0;
    for (k, pass) in answer.passes.iter().take(MOST_PASSES).enumerate() {
        let text = format!("{}  {} UTC  {:.0} of {:.0} s open", k + 1, clock(&pass.rise), pass.open_s, pass.seconds);
        let _ = writeln!(out, "<text x=\"{x}\" y=\"{y}\" font-size=\"12\">{}</text>", escape(&text));
        y += 16.0;
    }
    let _ = writeln!(
        out,
        "<text x=\"20\" y=\"646\" font-size=\"12\">The passenger reads this, never the driver. North is up, east to the right, \
         the zenith in the middle.</text>"
    );
}

/// Hours, minutes and seconds of a moment, UTC.
fn clock(moment: &Sighted) -> &str {
    moment.time.get(11..19).unwrap_or(&moment.time)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn north_is_up_and_east_is_right() {
        let disc = Disc { lowest_deg: 30.0 };
        let close = |p: (f64, f64), want: (f64, f64)| (p.0 - want.0).abs() < 1e-9 && (p.1 - want.1).abs() < 1e-9;
        assert!(close(disc.place(0.0, 30.0), (MIDDLE.0, MIDDLE.1 - RADIUS)));
        assert!(close(disc.place(90.0, 60.0), (MIDDLE.0 + RADIUS / 2.0, MIDDLE.1)));
        assert!(close(disc.place(123.0, 90.0), MIDDLE));
    }

    #[test]
    fn the_ring_shares_out_all_satellites_and_what_is_open_of_them() {
        let cell = |azimuth_deg, weight, blocked| SkyCell {
            azimuth_deg,
            low_deg: 40.0,
            high_deg: 42.5,
            usable: true,
            weight,
            blocked,
            cause: Cause::Canopy,
        };
        let cells = vec![cell(357.5, 0.25, 1.0), cell(2.5, 0.25, 0.0), cell(182.5, 0.5, 0.4)];
        let answer = SkyAnswer { cells, expected_satellites: 8.0, ..SkyAnswer::default() };
        let found = sectors(&answer);
        assert_eq!(found[0], (4.0, 2.0));
        assert!((found[12].0 - 4.0).abs() < 1e-12 && (found[12].1 - 2.4).abs() < 1e-12);
        assert_eq!(found.iter().filter(|s| s.0 > 0.0).count(), 2);
    }
}
