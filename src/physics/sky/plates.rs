//! What plates above a place hide, cell by cell.
//!
//! In: level plates and a panel. Out: the share of every cell hidden by roofs and, where no roof does, by decks. A ray is
//! hidden where it passes the footprint at the underside, the middle or the top; cells are looked at in nine directions of
//! equal solid angle.
use super::mask::{AZIMUTH_BINS, AZIMUTH_STEP_DEG, SkyGrid, azimuth_deg};
use crate::base::geodesy::Point;
use crate::physics::scene::rings::contains;
use crate::physics::scene::stops::plates::Plate;

/// Directions looked at per cell, along either axis.
const PER_AXIS: usize = 3;

/// Hidden shares, 0..=1 per cell; empty where nothing is above.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct Plated {
    /// By roofs.
    pub cover: Vec<f32>,
    /// By decks, outside of what roofs hide.
    pub deck: Vec<f32>,
}

impl Plated {
    /// Shuts the cells of a mask that are hidden by half or more, as crowns do that nothing passes: a mask has no other
    /// place for what hides the middle of the sky and not the horizon.
    pub(crate) fn shut(&self, canopy: &mut [u8]) {
        for (nth, level) in canopy.iter_mut().enumerate() {
            let hidden = |by: &[f32]| by.get(nth).copied().unwrap_or(0.0);
            if hidden(&self.cover) + hidden(&self.deck) >= 0.5 {
                *level = u8::MAX;
            }
        }
    }
}

/// What plates hide from a panel `panel_m` above the ground at a place.
pub(crate) fn plated(grid: SkyGrid, plates: &[Plate], at: Point, panel_m: f64) -> Plated {
    let floor_tan = grid.floor_deg.max(1.0).to_radians().tan();
    let near: Vec<&Plate> = plates.iter().filter(|p| p.top_m > panel_m && p.reaches(at, panel_m, floor_tan)).collect();
    if near.is_empty() {
        return Plated::default();
    }
    let mut out = Plated { cover: vec![0.0; grid.cells()], deck: vec![0.0; grid.cells()] };
    let part = 1.0 / (PER_AXIS * PER_AXIS) as f32;
    for bin in 0..AZIMUTH_BINS {
        for row in 0..grid.rows() {
            let cell = grid.cell(bin, row);
            for direction in directions(grid, bin, row) {
                let hit = |p: &&&Plate| hides(p, at, panel_m, direction);
                if near.iter().filter(|p| p.roof).any(|p| hit(&p)) {
                    out.cover[cell] += part;
                } else if near.iter().filter(|p| !p.roof).any(|p| hit(&p)) {
                    out.deck[cell] += part;
                }
            }
        }
    }
    out
}

/// East, north and tangent of the elevation of the directions of a cell.
fn directions(grid: SkyGrid, bin: usize, row: usize) -> impl Iterator<Item = (f64, f64, f64)> {
    let (low, high) = grid.row_edges_deg(row);
    let (low, high) = (low.to_radians().sin(), high.to_radians().sin());
    let middle = |i: usize| (i as f64 + 0.5) / PER_AXIS as f64;
    (0..PER_AXIS * PER_AXIS).map(move |i| {
        let azimuth = azimuth_deg(bin) + AZIMUTH_STEP_DEG * (middle(i % PER_AXIS) - 0.5);
        let (east, north) = azimuth.to_radians().sin_cos();
        (east, north, (low + (high - low) * middle(i / PER_AXIS)).asin().tan())
    })
}

fn hides(plate: &Plate, at: Point, panel_m: f64, (east, north, tangent): (f64, f64, f64)) -> bool {
    let heights_m = [plate.underside_m, (plate.underside_m + plate.top_m) / 2.0, plate.top_m];
    heights_m.iter().any(|h| {
        // What hangs lower than the panel is beside it, not above.
        let out_m = (h - panel_m).max(0.0) / tangent;
        contains(&plate.rings, Point::new(at.x_m + east * out_m, at.y_m + north * out_m))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn square(x: f64, y: f64, half: f64, roof: bool) -> Plate {
        let corner = |i: f64, j: f64| Point::new(x + i * half, y + j * half);
        let ring = vec![corner(-1.0, -1.0), corner(1.0, -1.0), corner(1.0, 1.0), corner(-1.0, 1.0), corner(-1.0, -1.0)];
        Plate { rings: vec![ring], underside_m: 5.0, top_m: 6.0, roof }
    }
    const GRID: SkyGrid = SkyGrid { floor_deg: 35.0 };

    fn share(hidden: &[f32]) -> f64 {
        let sum = |row: usize| (0..AZIMUTH_BINS).map(|b| f64::from(hidden[GRID.cell(b, row)])).sum::<f64>() / 72.0;
        let solid = |row: usize| {
            let (low, high) = GRID.row_edges_deg(row);
            high.to_radians().sin() - low.to_radians().sin()
        };
        (0..GRID.rows()).map(|r| sum(r) * solid(r)).sum::<f64>() / (1.0 - 35_f64.to_radians().sin())
    }

    #[test]
    fn a_wide_roof_hides_everything_and_a_small_one_its_solid_angle() {
        let wide = plated(GRID, &[square(0.0, 0.0, 30.0, true)], Point::default(), 2.0);
        assert!((share(&wide.cover) - 1.0).abs() < 1e-6 && share(&wide.deck) == 0.0);
        // A square of half side a at height h fills 4 asin(a^2 / (a^2 + h^2)) of the sphere, the integral of h / r^3 over its
        // area in closed form (a = h: 4 asin(1/2), a sixth of the sphere, as one side of a cube must). Underside at 3 m above
        // the panel; its rim adds nothing from below.
        let (a, h) = (2.0_f64, 3.0_f64);
        let expected =
            4.0 * (a * a / (a * a + h * h)).asin() / std::f64::consts::TAU / (1.0 - 35_f64.to_radians().sin());
        let small = plated(GRID, &[square(0.0, 0.0, a, false)], Point::default(), 2.0);
        assert!((share(&small.deck) - expected).abs() < 0.01, "{} {expected}", share(&small.deck));
    }

    #[test]
    fn what_is_beside_hides_the_side_it_is_on_and_roofs_come_first() {
        let east = plated(GRID, &[square(4.0, 0.0, 3.0, true)], Point::default(), 2.0);
        let at = |azimuth: usize, row: usize| east.cover[GRID.cell(azimuth / 5, row)];
        // East, 3 m up and 1 to 7 m out: from 23 to 72 degrees, and to 76 by the top.
        assert_eq!((at(90, 4), at(90, 20), at(270, 4)), (1.0, 0.0, 0.0));
        let both = plated(GRID, &[square(0.0, 0.0, 9.0, true), square(0.0, 0.0, 9.0, false)], Point::default(), 2.0);
        assert!(share(&both.cover) > 0.9 && share(&both.deck) == 0.0);
        assert_eq!(plated(GRID, &[square(50.0, 0.0, 3.0, true)], Point::default(), 2.0), Plated::default());
    }
}
