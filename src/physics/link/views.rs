//! What the mask of every station does to every cell of the sky, in one byte each.
//!
//! Hundreds of drives pass the same stations. For most cells a mask settles the matter for any satellite in it: the whole
//! cell lies below the horizon or behind crowns that always block, or nothing stands before it. The byte of such a cell
//! also says for how many further stations of the stretch that holds, so that a drive need not stop at every one of them.
use super::crowns::{DriveOdds, LevelKind};
use super::road::StrokeRoad;
use crate::physics::sky::mask::{AZIMUTH_BINS, Mask, SkyGrid};

/// Bytes from 0 on are open cells: the number of further stations through which they stay open. Runs are cut at the
/// longest one that is counted.
const OPEN: u8 = 0;
/// Bytes from here on are cells in which every satellite is hidden, with the number of further stations likewise.
const SHUT: u8 = 126;
const LONGEST_RUN: u8 = 125;
/// The cell lies above the horizon, and crowns with gaps stand before it: the mask decides anew at every gap.
const GAPS: u8 = 254;
/// The horizon lies within the cell, perhaps with crowns above it: the mask itself decides.
const HORIZON: u8 = 255;

/// What a mask does to a cell.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum CellState {
    /// Nothing stands before it, nor at that number of further stations.
    Open(usize),
    /// Every satellite in it is hidden, also at that number of further stations.
    Shut(usize),
    /// Crowns with gaps stand before it.
    Gaps,
    /// The horizon lies within it.
    Horizon,
}

impl From<u8> for CellState {
    fn from(byte: u8) -> Self {
        match byte {
            HORIZON => Self::Horizon,
            GAPS => Self::Gaps,
            SHUT.. => Self::Shut(usize::from(byte - SHUT)),
            open => Self::Open(usize::from(open)),
        }
    }
}

/// The cells of one station, and one more for satellites below the masks' floor.
#[derive(Debug, Clone, Copy)]
pub(super) struct View<'v>(&'v [u8]);

impl View<'_> {
    /// What the mask does to a cell.
    pub fn cell(self, cell: u16) -> CellState {
        CellState::from(self.0[usize::from(cell)])
    }
}

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
    pub fn new(road: &StrokeRoad, grid: SkyGrid, odds: &DriveOdds) -> Self {
        let kinds: [u8; 256] = std::array::from_fn(|level| match odds.kind(level as u8) {
            LevelKind::Open => OPEN,
            LevelKind::Shut => SHUT,
            LevelKind::Gaps => GAPS,
        });
        let width = grid.cells() + 1;
        let mut first = Vec::with_capacity(road.legs.len());
        let mut stations = 0;
        for leg in &road.legs {
            first.push(stations);
            stations += leg.stations();
        }
        let mut bytes = vec![OPEN; width * stations];
        for (leg, start) in road.legs.iter().zip(&first) {
            let views = &mut bytes[start * width..(start + leg.stations()) * width];
            if leg.stretch.masks.is_empty() {
                // Open sky, and there is no other station at which it could end.
                continue;
            }
            fill(views, width, (&leg.stretch.masks, grid), &kinds);
        }
        Self { bytes, width, first }
    }

    /// The view at a station of a leg.
    pub fn of(&self, leg: usize, station: usize) -> View<'_> {
        let start = (self.first[leg] + station) * self.width;
        View(&self.bytes[start..start + self.width])
    }
}

/// Fills the views of a stretch from its last station to its first, as runs are counted.
fn fill(views: &mut [u8], width: usize, (masks, grid): (&[Mask], SkyGrid), kinds: &[u8; 256]) {
    for (station, mask) in masks.iter().enumerate().rev() {
        let (upto, later) = views.split_at_mut((station + 1) * width);
        let view = &mut upto[station * width..];
        crowns(view, mask, kinds);
        horizon(view, mask, grid);
        // The mask of the last station holds to the end of the stretch: runs end there.
        if let Some(next) = later.get(..width) {
            count_runs(view, next);
        }
    }
}

/// What crowns alone do. Where the mask has no crowns there are none.
fn crowns(view: &mut [u8], mask: &Mask, kinds: &[u8; 256]) {
    for (cell, level) in view.iter_mut().zip(&mask.canopy) {
        *cell = kinds[usize::from(*level)];
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
        if column[row] != SHUT {
            column[row] = HORIZON;
        }
    }
}

/// Counts on through how many stations open cells stay open and shut ones shut.
fn count_runs(view: &mut [u8], next: &[u8]) {
    for (cell, &next) in view.iter_mut().zip(next) {
        // For another kind of cell the difference lies above the longest run.
        let run = next.wrapping_sub(*cell);
        let longer = if run < LONGEST_RUN { run + 1 } else { LONGEST_RUN };
        let goes_on = *cell <= SHUT && run <= LONGEST_RUN;
        *cell += if goes_on { longer } else { 0 };
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::physics::link::crowns::CrownOdds;
    use crate::physics::link::draw::Draw;
    use crate::physics::link::model::Stretch;
    use crate::physics::sky::leaves::LeafOdds;

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
        let odds = LeafOdds::from_fn(|level| level as f64 / 255.0);
        let blocked = |k: u32| {
            let elevation_deg = low_deg + (high_deg - low_deg) * f64::from(k) / 64.0;
            mask.blocked(GRID, &odds, crate::physics::sky::mask::azimuth_deg(bin), elevation_deg)
        };
        ((0..64).all(|k| blocked(k) == 1.0), (0..64).all(|k| blocked(k) == 0.0))
    }

    #[test]
    fn a_byte_says_what_the_masks_do() {
        let stretch =
            |masks| Stretch { length_m: 100.0, speed_mps: 10.0, masks, headings_deg: vec![], overheads: vec![] };
        let stroke = [stretch(masks(Draw::root(1), 9)), stretch(vec![]), stretch(masks(Draw::root(2), 300))];
        let road = StrokeRoad::new(&stroke, 25.0);
        let odds = DriveOdds::new(vec![CrownOdds::new(LeafOdds::from_fn(|level| level as f64 / 255.0))]);
        let views = Views::new(&road, GRID, &odds);
        let (mut seen, mut longest) = ([0_u32; 4], 0);
        for (leg, stretch) in stroke.iter().enumerate().filter(|(_, s)| !s.masks.is_empty()) {
            let cells = (0..AZIMUTH_BINS).flat_map(|bin| (0..GRID.rows()).map(move |row| (bin, row))).step_by(7);
            for (bin, row) in cells {
                let cell = GRID.cell(bin, row);
                let (shut, open): (Vec<bool>, Vec<bool>) = stretch.masks.iter().map(|m| plain(m, bin, row)).unzip();
                for (station, mask) in stretch.masks.iter().enumerate() {
                    let stays = |state: &[bool]| state[station..].iter().take_while(|same| **same).count();
                    let told = views.of(leg, station).cell(cell as u16);
                    match told {
                        CellState::Open(run) => assert_eq!(run + 1, stays(&open).min(126)),
                        CellState::Shut(run) => {
                            assert!(run < stays(&shut));
                            longest = longest.max(run);
                        }
                        CellState::Gaps => assert!(matches!(mask.canopy[cell], 1..=254)),
                        CellState::Horizon => {}
                    }
                    seen[match told {
                        CellState::Open(_) => 0,
                        CellState::Shut(_) => 1,
                        CellState::Gaps => 2,
                        CellState::Horizon => 3,
                    }] += 1;
                }
            }
        }
        assert!(seen.iter().all(|count| *count > 1000) && longest > 0, "{seen:?} {longest}");
        let floor = GRID.cells() as u16;
        assert_eq!((views.of(0, 3).cell(floor), views.of(1, 0).cell(floor)), (CellState::Shut(5), CellState::Open(0)));
    }
}
