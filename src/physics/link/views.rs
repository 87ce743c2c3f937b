//! What the mask of every station does to every cell of the sky, in one byte each.
//!
//! Hundreds of drives pass the same stations. For most cells a mask settles the matter for any satellite in it: the whole
//! cell lies below the horizon or behind crowns that always block, or nothing stands before it. The byte of an open cell
//! says for how many more stations it stays open, so that a drive in open sky need not stop at every one of them.
use super::road::StrokeRoad;
use crate::physics::sky::mask::{AZIMUTH_BINS, Mask, SkyGrid};

/// Every satellite of the cell is hidden.
pub(super) const SHUT: u8 = 255;
/// The horizon lies within the cell, perhaps with crowns above it: the mask itself decides.
pub(super) const HORIZON: u8 = 254;
/// The cell lies above the horizon, and crowns with gaps stand before it: the mask decides anew at every gap.
pub(super) const GAPS: u8 = 253;
/// Smaller bytes are open cells: the number of further stations of the stretch through which they stay open. There may
/// be more of them than this one.
const LONGEST_RUN: u8 = 252;

/// Whether a byte leaves it to the mask what it hides.
pub(super) fn is_unsure(byte: u8) -> bool {
    matches!(byte, GAPS | HORIZON)
}

/// The cells of one station, and one more for satellites below the masks' floor.
pub(super) type View<'v> = &'v [u8];

/// Views of all stations of a stroke.
#[derive(Debug)]
pub(super) struct Views {
    bytes: Vec<u8>,
    /// Bytes of a view.
    width: usize,
    /// First station of every leg, counted through the stroke.
    first: Vec<usize>,
}

impl Views {
    /// The views of a stroke whose masks are of a grid.
    pub fn new(road: &StrokeRoad, grid: SkyGrid) -> Self {
        let width = grid.cells() + 1;
        let mut first = Vec::with_capacity(road.legs.len());
        let mut stations = 0;
        for leg in &road.legs {
            first.push(stations);
            stations += leg.stations();
        }
        let mut bytes = vec![0; width * stations];
        for (leg, start) in road.legs.iter().zip(&first) {
            let views = &mut bytes[start * width..(start + leg.stations()) * width];
            if leg.stretch.masks.is_empty() {
                // Open sky, and there is no other station at which it could end.
                continue;
            }
            fill(views, width, &leg.stretch.masks, grid);
        }
        Self { bytes, width, first }
    }

    /// The view at a station of a leg.
    pub fn of(&self, leg: usize, station: usize) -> View<'_> {
        let start = (self.first[leg] + station) * self.width;
        &self.bytes[start..start + self.width]
    }
}

/// Fills the views of a stretch from its last station to its first, as runs are counted.
fn fill(views: &mut [u8], width: usize, masks: &[Mask], grid: SkyGrid) {
    // Behind the last station its mask holds to the end of the stretch.
    let behind = vec![SHUT; width];
    for (station, mask) in masks.iter().enumerate().rev() {
        let (upto, later) = views.split_at_mut((station + 1) * width);
        let view = &mut upto[station * width..];
        crowns(view, mask);
        horizon(view, mask, grid);
        count_run(view, later.get(..width).unwrap_or(&behind));
    }
}

/// What crowns alone do; open cells are 0. Where the mask knows no crowns there are none.
fn crowns(view: &mut [u8], mask: &Mask) {
    for (cell, share) in view.iter_mut().zip(&mask.canopy) {
        *cell = match share {
            0 => 0,
            255 => SHUT,
            _ => GAPS,
        };
    }
    if let Some(below_the_floor) = view.last_mut() {
        *below_the_floor = SHUT;
    }
}

/// Shuts what lies below the horizon. Rows rise with elevation, so what lies in a lower row than the horizon lies below it
/// and what lies in a higher one above it, however they are rounded.
fn horizon(view: &mut [u8], mask: &Mask, grid: SkyGrid) {
    let rows = grid.rows();
    for bin in 0..AZIMUTH_BINS {
        let Some(row) = grid.row(f64::from(mask.terrain_deg[bin].max(mask.solid_deg[bin]))) else { continue };
        let column = &mut view[bin * rows..(bin + 1) * rows];
        column[..row].fill(SHUT);
        column[row] = column[row].max(HORIZON);
    }
}

/// Counts on through how many stations open cells stay open.
fn count_run(view: &mut [u8], later: &[u8]) {
    for (cell, &next) in view.iter_mut().zip(later) {
        let run = if next < LONGEST_RUN { next + 1 } else { LONGEST_RUN };
        let run = if next > LONGEST_RUN { 0 } else { run };
        *cell = if *cell == 0 { run } else { *cell };
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::physics::link::draw::Draw;
    use crate::physics::link::model::Stretch;

    const GRID: SkyGrid = SkyGrid { floor_deg: 25.0 };

    /// Horizons about and crowns with, without and only with gaps, drawn; seldom changing from station to station.
    fn masks(key: Draw, stations: u64) -> Vec<Mask> {
        let mut mask = Mask::open(GRID);
        (0..stations)
            .map(|station| {
                let key = key.of(station);
                for bin in (0..AZIMUTH_BINS).filter(|bin| key.of(*bin as u64).unit() < 0.05) {
                    mask.terrain_deg[bin] = (key.of(100).of(bin as u64).unit() * 100.0) as f32;
                    mask.solid_deg[bin] = mask.terrain_deg[bin].min(25.0 + 2.5 * (bin % 9) as f32);
                }
                for (cell, share) in mask.canopy.iter_mut().enumerate() {
                    let drawn = key.of(200).of(cell as u64).unit();
                    if drawn < 0.02 {
                        *share = [0, 1, 120, 254, 255][(drawn * 250.0) as usize];
                    }
                }
                mask.clone()
            })
            .collect()
    }

    /// What a mask does to every elevation in a cell: hides all, none, or it depends.
    fn plain(mask: &Mask, bin: usize, row: usize) -> (bool, bool) {
        let (low_deg, high_deg) = GRID.row_edges_deg(row);
        let blocked = |k: u32| {
            let elevation_deg = low_deg + (high_deg - low_deg) * f64::from(k) / 64.0;
            mask.blocked(GRID, crate::physics::sky::mask::azimuth_deg(bin), elevation_deg)
        };
        ((0..64).all(|k| blocked(k) == 1.0), (0..64).all(|k| blocked(k) == 0.0))
    }

    #[test]
    fn a_byte_says_what_the_masks_do() {
        let stretch =
            |masks| Stretch { length_m: 100.0, speed_mps: 10.0, masks, headings_deg: vec![], overheads: vec![] };
        let stroke = [stretch(masks(Draw::root(1), 9)), stretch(vec![]), stretch(masks(Draw::root(2), 300))];
        let road = StrokeRoad::new(&stroke, 25.0);
        let views = Views::new(&road, GRID);
        let mut seen = [0_u32; 4];
        for (leg, stretch) in stroke.iter().enumerate().filter(|(_, s)| !s.masks.is_empty()) {
            let cells = (0..AZIMUTH_BINS).flat_map(|bin| (0..GRID.rows()).map(move |row| (bin, row))).step_by(7);
            for (bin, row) in cells {
                let cell = GRID.cell(bin, row);
                let open: Vec<bool> = stretch.masks.iter().map(|m| plain(m, bin, row).1).collect();
                for (station, mask) in stretch.masks.iter().enumerate() {
                    let byte = views.of(leg, station)[cell];
                    seen[usize::from(byte.max(LONGEST_RUN) - LONGEST_RUN)] += 1;
                    match byte {
                        SHUT => assert!(plain(mask, bin, row).0),
                        HORIZON => {}
                        GAPS => assert!(matches!(mask.canopy[cell], 1..=254)),
                        run => {
                            let stays = open[station..].iter().take_while(|open| **open).count();
                            assert!(stays > 0 && usize::from(run) == (stays - 1).min(252), "{run} {stays}");
                        }
                    }
                }
            }
        }
        assert!(seen.iter().all(|count| *count > 1000), "{seen:?}");
        assert!(views.of(0, 3)[GRID.cells()] == SHUT && views.of(1, 0).iter().all(|byte| *byte == 0));
    }
}
