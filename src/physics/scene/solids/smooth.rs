//! Large smooth things in a surface: buildings that the map does not have.
//!
//! Roofs are level or slope evenly; crowns are rough at every metre. A pixel is smooth where the surface through it and its
//! neighbours bends by little along both axes. Smooth pixels that touch make a region, and a large one is a roof. A
//! dense young plantation may look like one; it hides as much.

/// Lower things are not buildings without a footprint, metres: hedges, vehicles, walls; assumed.
const LOWEST_M: f32 = 3.0;
/// Roofs bend by less from pixel to pixel, metres: the noise of a lidar raster and tiles, not crowns; assumed.
const MOST_BEND_M: f32 = 0.3;
/// Smaller regions are not buildings, square metres: a garage has 20, crowns are smooth over less; assumed.
const LEAST_AREA_M2: f64 = 40.0;
/// The rim of a roof bends where the wall falls off: this many pixels are added around it where they are about as high.
const RIM: usize = 2;
/// As high as the region beside them, metres; assumed.
const RIM_WITHIN_M: f32 = 1.5;

/// Marks the pixels of large smooth things. `heights_m` are above the ground, row by row; not a number where unknown.
pub(super) fn smooth_regions(heights_m: &[f32], columns: usize, pixel_m: f64, solid: &mut [bool]) {
    if columns < 3 || heights_m.len() < 3 * columns {
        return;
    }
    let rows = heights_m.len() / columns;
    let mut smooth = vec![false; heights_m.len()];
    for row in 1..rows - 1 {
        for i in row * columns + 1..(row + 1) * columns - 1 {
            let bend = |step: usize| (heights_m[i - step] - 2.0 * heights_m[i] + heights_m[i + step]).abs();
            // A height that is not a number bends by what is not a number.
            smooth[i] = heights_m[i] >= LOWEST_M && bend(1) <= MOST_BEND_M && bend(columns) <= MOST_BEND_M;
        }
    }
    let least = (LEAST_AREA_M2 / (pixel_m * pixel_m)) as usize;
    let (mut seen, mut region) = (vec![false; smooth.len()], Vec::new());
    for start in 0..smooth.len() {
        if !smooth[start] || seen[start] {
            continue;
        }
        region.clear();
        region.push(start);
        seen[start] = true;
        let mut next = 0;
        while let Some(i) = region.get(next).copied() {
            next += 1;
            // Smooth pixels are never on the rim of the raster.
            for j in [i - 1, i + 1, i - columns, i + columns] {
                if smooth[j] && !seen[j] && (heights_m[j] - heights_m[i]).abs() <= RIM_WITHIN_M {
                    seen[j] = true;
                    region.push(j);
                }
            }
        }
        if region.len() >= least {
            region.iter().for_each(|i| solid[*i] = true);
        }
    }
    for _ in 0..RIM {
        grow(heights_m, columns, solid);
    }
}

/// Adds the pixels beside what is solid that are about as high.
fn grow(heights_m: &[f32], columns: usize, solid: &mut [bool]) {
    let mut rim = Vec::new();
    for i in (columns + 1..solid.len() - columns - 1).filter(|i| !solid[*i] && heights_m[*i] >= LOWEST_M) {
        let beside = [
            i - 1,
            i + 1,
            i - columns,
            i + columns,
            i - columns - 1,
            i - columns + 1,
            i + columns - 1,
            i + columns + 1,
        ];
        if beside.iter().any(|j| solid[*j] && (heights_m[*j] - heights_m[i]).abs() <= RIM_WITHIN_M) {
            rim.push(i);
        }
    }
    rim.into_iter().for_each(|i| solid[i] = true);
}
