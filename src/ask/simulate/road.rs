//! Drives over pieces of road in a row.
use super::lanes::{DrivenLane, StoredLanes};
use super::skies::{SkyShelf, Use};
use crate::ask::corridor::Piece;
use crate::base::error::Result;
use crate::base::words::{Case, Cause};
use crate::physics::link::each::each_drive;
use crate::physics::link::model::Stretch;
use crate::physics::link::stats::Outage;
use crate::physics::orbit::latitude_key;

/// Metres of a lane that may be missing at an end of a piece without its being cut there.
const WHOLE_M: f64 = 1.0;

/// Pieces and when they are driven.
pub(super) struct DrivenRoad<'a> {
    pub lanes: StoredLanes<'a>,
    pub pieces: &'a [Piece],
    /// Seconds at the wheel at which each piece begins.
    pub begins_s: &'a [f64],
}

/// Pieces that one drives through in one go.
struct LaneRun {
    first: usize,
    lanes: Vec<DrivenLane>,
}

impl DrivenRoad<'_> {
    /// Outages of every drive from the first to the last of some pieces, in seconds at the wheel; nothing where the layer holds
    /// no masks of some of them. Ferries and shuttle trains are one outage from end to end.
    pub fn outages(
        &self,
        pieces: std::ops::RangeInclusive<usize>,
        case: Case,
        shelf: &SkyShelf,
    ) -> Result<Option<Vec<Vec<Outage>>>> {
        let mut out = vec![Vec::new(); shelf.drives() as usize];
        let mut run: Option<LaneRun> = None;
        for nth in pieces {
            let piece = &self.pieces[nth];
            if piece.cause == Cause::Boarded {
                self.finish(run.take(), shelf, &mut out);
                let span = Outage { start_s: self.begins_s[nth], end_s: self.begins_s[nth] + piece.time_s };
                out.iter_mut().for_each(|drive| add(drive, span));
                continue;
            }
            let Some(lane) = self.lanes.of(piece, case)? else { return Ok(None) };
            if run.as_ref().is_some_and(|run| !self.goes_on(run, nth)) {
                self.finish(run.take(), shelf, &mut out);
            }
            run.get_or_insert_with(|| LaneRun { first: nth, lanes: Vec::new() }).lanes.push(lane);
        }
        self.finish(run, shelf, &mut out);
        Ok(Some(out))
    }
    /// Whether a piece is driven right after the last of a run, both whole where they meet.
    fn goes_on(&self, run: &LaneRun, nth: usize) -> bool {
        let (before, next) = (&self.pieces[nth - 1], &self.pieces[nth]);
        let left_m = run.lanes.last().map_or(0.0, |lane| lane.row.length_m - before.from_m - before.length_m);
        before.drive == next.drive && left_m <= WHOLE_M && next.from_m <= WHOLE_M
    }
    /// Simulates a run and adds what falls into it.
    fn finish(&self, run: Option<LaneRun>, shelf: &SkyShelf, out: &mut [Vec<Outage>]) {
        let Some(run) = run else { return };
        let (first, last) = (&self.pieces[run.first], run.first + run.lanes.len() - 1);
        let stretches: Vec<Stretch> = run.lanes.iter().map(|lane| lane.stretch.clone()).collect();
        // Whole lanes are driven; the clock of the first begins before its piece does.
        let clock_s = self.begins_s[run.first] - first.from_m / stretches[0].speed_mps;
        let (from_s, to_s) = (self.begins_s[run.first], self.begins_s[last] + self.pieces[last].time_s);
        let key = latitude_key(first.lat_deg);
        let drives = each_drive(&stretches, &shelf.of(key, Use::Driving), &shelf.profile(Use::Driving), name(first));
        for (all, drive) in out.iter_mut().zip(drives) {
            for outage in drive {
                let start_s = (clock_s + outage.start_s).max(from_s);
                let end_s = (clock_s + outage.end_s).min(to_s);
                if end_s > start_s {
                    add(all, Outage { start_s, end_s });
                }
            }
        }
    }
}

/// Adds an outage after all others; one that goes on from the last is the same.
fn add(drive: &mut Vec<Outage>, next: Outage) {
    const SAME_S: f64 = 1e-3;
    match drive.last_mut() {
        Some(last) if next.start_s - last.end_s <= SAME_S => last.end_s = last.end_s.max(next.end_s),
        _ => drive.push(next),
    }
}

/// Names the draws of a run by its first way and part: numbers of rows change from build to build.
fn name(piece: &Piece) -> u64 {
    let word = (piece.way_id as u64).rotate_left(20) ^ u64::from(piece.part);
    (word << 1) | u64::from(piece.forward)
}
