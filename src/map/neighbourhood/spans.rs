//! Which blocks an area holds the middle of, row by row.
use super::squares::{line_of, middle_e7};
use crate::base::geodesy::Position;
use crate::map::extract::model::Area;

/// Half a turn, 1e-7 degrees.
const HALF_TURN_E7: i64 = 1_800_000_000;

/// Calls `visit` with the row and the first and last column of every span of blocks whose middles lie in an area. Columns are
/// not turned back into the globe: an area across 180 degrees goes on beyond it.
pub(super) fn spans(area: &Area, mut visit: impl FnMut(i32, i32, i32)) {
    let Some(first) = area.outer.first() else { return };
    let rings: Vec<Vec<(i64, i64)>> =
        std::iter::once(&area.outer).chain(&area.inners).map(|ring| unrolled(ring, *first)).collect();
    let latitudes = || rings[0].iter().map(|p| p.1);
    let (Some(south), Some(north)) = (latitudes().min(), latitudes().max()) else { return };
    let mut crossings: Vec<i64> = Vec::new();
    for row in line_of(south)..=line_of(north) {
        let middle = middle_e7(row);
        crossings.clear();
        for edge in rings.iter().flat_map(|ring| ring.windows(2)) {
            let (a, b) = (edge[0], edge[1]);
            if (a.1 > middle) != (b.1 > middle) {
                let along = i128::from(middle - a.1) * i128::from(b.0 - a.0) / i128::from(b.1 - a.1);
                crossings.push(a.0 + along as i64);
            }
        }
        crossings.sort_unstable();
        for pair in crossings.chunks_exact(2) {
            // The first column whose middle lies at or beyond the western crossing, and the last before the eastern one.
            let (from, to) = (first_from(pair[0]), first_from(pair[1]) - 1);
            if from <= to {
                visit(row, from, to);
            }
        }
    }
}

/// The first column whose middle lies at an angle or beyond it.
fn first_from(angle_e7: i64) -> i32 {
    let column = line_of(angle_e7);
    if middle_e7(column) >= angle_e7 { column } else { column + 1 }
}

/// A ring as it lies on the globe, without a jump at 180 degrees: longitude and latitude, 1e-7 degrees.
fn unrolled(ring: &[Position], start: Position) -> Vec<(i64, i64)> {
    let mut west = i64::from(start.lon_e7);
    let mut out = Vec::with_capacity(ring.len());
    for p in ring {
        let mut lon = i64::from(p.lon_e7);
        while lon - west > HALF_TURN_E7 {
            lon -= 2 * HALF_TURN_E7;
        }
        while west - lon > HALF_TURN_E7 {
            lon += 2 * HALF_TURN_E7;
        }
        west = lon;
        out.push((lon, i64::from(p.lat_e7)));
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ring(corners: &[(f64, f64)]) -> Vec<Position> {
        corners.iter().chain(corners.first()).map(|(lon, lat)| Position::from_deg(*lon, *lat)).collect()
    }
    fn blocks(area: &Area) -> usize {
        let mut count = 0;
        spans(area, |_, from, to| count += (to - from + 1) as usize);
        count
    }
    fn square(west: f64, south: f64, side: f64) -> Vec<Position> {
        ring(&[(west, south), (west + side, south), (west + side, south + side), (west, south + side)])
    }

    #[test]
    fn a_square_holds_as_many_middles_as_its_size_says() {
        let area = Area { outer: square(10.0, 46.0, 0.25), inners: vec![square(10.0625, 46.0625, 0.125)] };
        assert_eq!(blocks(&area), 128 * 128 - 64 * 64);
    }

    #[test]
    fn a_slanted_area_agrees_with_a_plain_test_of_every_middle() {
        let corners = [(10.0003, 46.0007), (10.3101, 46.0513), (10.2207, 46.2711), (10.1017, 46.1129)];
        let area = Area { outer: ring(&corners), inners: Vec::new() };
        let inside = |lon: f64, lat: f64| {
            let mut inside = false;
            for (a, b) in corners.iter().zip(corners.iter().cycle().skip(1)) {
                if (a.1 > lat) != (b.1 > lat) && lon < a.0 + (lat - a.1) / (b.1 - a.1) * (b.0 - a.0) {
                    inside = !inside;
                }
            }
            inside
        };
        let middle = |line: i32| (f64::from(line) + 0.5) / 512.0;
        let mut plain = 0;
        for row in 23_552..23_700 {
            plain += (5_120..5_300).filter(|column| inside(middle(*column), middle(row))).count();
        }
        assert_eq!(blocks(&area), plain);
        assert!(plain > 5_000, "{plain}");
    }

    #[test]
    fn an_area_across_the_line_of_dates_is_no_wider_than_it_is() {
        let outer = ring(&[(179.875, 10.0), (-179.875, 10.0), (-179.875, 10.25), (179.875, 10.25)]);
        assert_eq!(blocks(&Area { outer, inners: Vec::new() }), 128 * 128);
    }
}
