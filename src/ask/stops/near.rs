//! Places to stop along a drive.
//!
//! In: the pieces of a drive and rows of the layer. Out: the places within a distance of the road driven, in the order in which
//! they are passed. Distances are straight; what may be turned into from which lane is not known.
use serde::Serialize;

use crate::ask::corridor::Piece;
use crate::ask::search::TownNear;
use crate::base::geodesy::{LocalPlane, Point, Position, nearest_to_origin};
use crate::base::words::{Cause, DriveSide, MapObject, Roofed, RoofedBy, StandsOn, StopAccess, StopKind};
use crate::layer::model::{PanelPlace, StopRow};

/// A place to stop as it is passed.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StopNear {
    /// Row of the layer.
    pub stop_id: i64,
    /// See [`StopRow::kind`].
    pub kind: StopKind,
    /// Name of the place.
    pub name: Option<String>,
    /// Which object of the map it is.
    pub osm_type: MapObject,
    /// Its id there.
    pub osm_id: i64,
    /// Kilometres driven to the nearest point of the road; nothing where no drive was asked about.
    pub at_km: Option<f64>,
    /// From the place asked about straight to the vehicle, metres; nothing where none was.
    pub from_place_m: Option<f64>,
    /// From the road driven, else from the nearest road, straight to the vehicle, metres.
    pub off_road_m: f64,
    /// `left` or `right` of the drive; `none` without one. On a divided road the far side is not reached without a turn.
    pub side: DriveSide,
    /// Where the vehicle stands, degrees.
    pub lon_deg: f64,
    /// See `lon_deg`.
    pub lat_deg: f64,
    /// Nearest road.
    pub road: String,
    /// The place that people know it by; nothing where none is near, or where nobody asked.
    #[serde(flatten)]
    pub town: Option<TownNear>,
    /// Whether the vehicle stands under a roof; `unknown` is not open.
    pub roofed: Roofed,
    /// What says so, see [`StopRow::roofed_from`].
    pub roofed_from: RoofedBy,
    /// See [`StopRow::stands_on`].
    pub stands_on: StandsOn,
    /// Who may stop there.
    pub access: StopAccess,
    /// Whether it may be proposed: never a private place.
    pub may_stop: bool,
    /// Open share of a level panel on the vehicle, 0..=1.
    pub open_share: f64,
    /// What hides most of the rest.
    pub main_cause: Cause,
    /// Best place for the panel within the reach asked for: straight from the vehicle, metres; 0 leaves it there.
    pub best_distance_m: f64,
    /// From the vehicle, degrees clockwise from true north.
    pub best_bearing_deg: f64,
    /// Open share there.
    pub best_open_share: f64,
    /// More than on the vehicle.
    pub gain: f64,
    /// Where the best place is, degrees.
    pub best_lon_deg: f64,
    /// See `best_lon_deg`.
    pub best_lat_deg: f64,
}

impl StopNear {
    /// Where the vehicle stands.
    pub(super) fn at(&self) -> Position {
        Position::from_deg(self.lon_deg, self.lat_deg)
    }
    /// A stop with its best place within a reach; nothing about a drive. Nothing is set up on the forecourt of a fuel station:
    /// there the panel stays on the vehicle.
    pub fn of(stop: &StopRow, reach_m: f64) -> Self {
        let reach_m = if stop.kind == StopKind::Fuel { 0.0 } else { reach_m };
        let PanelPlace { distance_m, bearing_deg, open_share } = stop.best_within(reach_m);
        let best = LocalPlane::at_position(stop.at).to_position(Point::default().moved(bearing_deg, distance_m));
        Self {
            stop_id: stop.stop_id,
            kind: stop.kind,
            name: stop.name.clone(),
            osm_type: stop.osm_type,
            osm_id: stop.osm_id,
            at_km: None,
            from_place_m: None,
            off_road_m: stop.road_distance_m,
            side: DriveSide::None,
            lon_deg: stop.at.lon_deg(),
            lat_deg: stop.at.lat_deg(),
            road: stop.road.clone(),
            town: None,
            roofed: stop.roofed,
            roofed_from: stop.roofed_from,
            stands_on: stop.stands_on,
            access: stop.access,
            may_stop: stop.may_stop(),
            open_share: stop.open_share,
            main_cause: stop.main_cause,
            best_distance_m: distance_m,
            best_bearing_deg: bearing_deg,
            best_open_share: open_share,
            gain: (open_share - stop.open_share).max(0.0),
            best_lon_deg: best.lon_deg(),
            best_lat_deg: best.lat_deg(),
        }
    }
}

/// Stops within `within_m` of a drive, as passed, each once where the drive comes nearest to it (the first time, where it
/// comes as near again), with the best place for the panel within `reach_m`.
pub fn near(pieces: &[Piece], stops: &[StopRow], within_m: f64, reach_m: f64) -> Vec<StopNear> {
    let mut out: Vec<StopNear> = stops
        .iter()
        .filter_map(|stop| {
            let passed = passed(pieces, stop.at, within_m)?;
            let side = if passed.left { DriveSide::Left } else { DriveSide::Right };
            let near = StopNear::of(stop, reach_m);
            Some(StopNear { at_km: Some(passed.at_km), off_road_m: passed.off_m, side, ..near })
        })
        .collect();
    out.sort_by(|a, b| a.at_km.unwrap_or(0.0).total_cmp(&b.at_km.unwrap_or(0.0)).then(a.stop_id.cmp(&b.stop_id)));
    out
}

/// Where a drive passes a place.
struct Passed {
    at_km: f64,
    off_m: f64,
    left: bool,
}

fn passed(pieces: &[Piece], at: Position, within_m: f64) -> Option<Passed> {
    let plane = LocalPlane::at_position(at);
    let mut best: Option<Passed> = None;
    // Nobody turns off inside a tunnel or on a ferry.
    let covered = |p: &Piece| matches!(p.cause, Cause::Cover | Cause::Boarded) && p.open_share < UNDER_COVER;
    for piece in pieces.iter().filter(|p| !covered(p)) {
        let line: Vec<Point> = piece.line.iter().map(|p| plane.to_plane(*p)).collect();
        let far = |p: &Point| p.x_m.abs().max(p.y_m.abs());
        // Pieces are short: one whose every corner is this far away cannot come near.
        if line.iter().all(|p| far(p) > within_m + piece.length_m) {
            continue;
        }
        let mut done_m = 0.0;
        for pair in line.windows(2) {
            let (share, point) = nearest_to_origin(pair[0], pair[1]);
            let off_m = point.distance_m(Point::default());
            let step_m = pair[0].distance_m(pair[1]);
            if off_m <= within_m && best.as_ref().is_none_or(|b| off_m < b.off_m - TIE_M) {
                let left =
                    (pair[1].x_m - pair[0].x_m) * -pair[0].y_m - (pair[1].y_m - pair[0].y_m) * -pair[0].x_m > 0.0;
                best = Some(Passed { at_km: piece.at_km + (done_m + share * step_m) / 1e3, off_m, left });
            }
            done_m += step_m;
        }
    }
    best
}

/// Below this open share a covered piece is a tunnel rather than a roof beside one.
const UNDER_COVER: f64 = 0.2;
/// A later pass must be nearer by this much to count instead of the first, metres.
const TIE_M: f64 = 1.0;

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::words::Rating;

    fn drive(points_m: &[(f64, f64)]) -> Vec<Piece> {
        let plane = LocalPlane::at(1.5, 42.5);
        let mut done_m = 0.0;
        let piece = |pair: &[(f64, f64)]| {
            let at = |p: (f64, f64)| plane.to_position(Point::new(p.0, p.1));
            let length_m = (pair[1].0 - pair[0].0).hypot(pair[1].1 - pair[0].1);
            let piece = Piece {
                segment_id: 1,
                forward: true,
                at_km: done_m / 1e3,
                lon_deg: 0.0,
                lat_deg: 0.0,
                road: String::new(),
                length_m,
                time_s: 1.0,
                outage_s: 0.0,
                outage_p95_s: 0.0,
                beyond: [0.0; 3],
                rating: Rating::Steady,
                cause: Cause::None,
                drive: 0,
                line: vec![at(pair[0]), at(pair[1])],
                ..Piece::default()
            };
            done_m += length_m;
            piece
        };
        points_m.windows(2).map(piece).collect()
    }

    fn stop(stop_id: i64, x_m: f64, y_m: f64) -> StopRow {
        let place = |distance_m, bearing_deg, open_share| PanelPlace { distance_m, bearing_deg, open_share };
        StopRow {
            stop_id,
            access: if stop_id == 3 { StopAccess::Private } else { StopAccess::Open },
            open_share: 0.2,
            places: vec![place(0.0, 0.0, 0.2), place(10.0, 90.0, 0.5), place(40.0, 180.0, 0.9)],
            at: LocalPlane::at(1.5, 42.5).to_position(Point::new(x_m, y_m)),
            ..StopRow::default()
        }
    }

    #[test]
    fn stops_are_told_as_passed_with_side_and_distance() {
        let pieces = drive(&[(0.0, 0.0), (1000.0, 0.0), (1000.0, 1000.0)]);
        let stops = [stop(1, 1030.0, 500.0), stop(2, 400.0, 50.0), stop(3, 300.0, -20.0), stop(4, 500.0, 400.0)];
        let found = near(&pieces, &stops, 100.0, 30.0);
        let told: Vec<_> = found.iter().map(|s| (s.stop_id, s.side, s.may_stop)).collect();
        assert_eq!(told, [(3, DriveSide::Right, false), (2, DriveSide::Left, true), (1, DriveSide::Right, true)]);
        for (found, (at_km, off_m)) in found.iter().zip([(0.3, 20.0), (0.4, 50.0), (1.5, 30.0)]) {
            assert!((found.at_km.unwrap() - at_km).abs() < 1e-3 && (found.off_road_m - off_m).abs() < 0.1, "{found:?}");
        }
    }

    #[test]
    fn a_drive_out_and_back_passes_a_stop_once_and_first() {
        let pieces = drive(&[(0.0, 0.0), (1000.0, 0.0), (0.0, 0.5)]);
        let found = near(&pieces, &[stop(1, 250.0, 20.0)], 100.0, 30.0);
        assert_eq!(found.len(), 1);
        assert!((found[0].at_km.unwrap() - 0.25).abs() < 1e-3, "{found:?}");
    }

    #[test]
    fn the_reach_decides_which_place_is_best() {
        let best = |reach_m| StopNear::of(&stop(1, 0.0, 0.0), reach_m);
        for (reach_m, distance_m, open_share) in
            [(0.0, 0.0, 0.2), (9.9, 0.0, 0.2), (10.0, 10.0, 0.5), (60.0, 40.0, 0.9)]
        {
            let found = best(reach_m);
            assert_eq!((found.best_distance_m, found.best_open_share), (distance_m, open_share));
            assert!((found.gain - (open_share - 0.2)).abs() < 1e-12);
        }
    }
    #[test]
    fn nothing_is_set_up_on_the_forecourt_of_a_fuel_station() {
        let at_pumps = StopRow { kind: StopKind::Fuel, ..stop(1, 0.0, 0.0) };
        let found = StopNear::of(&at_pumps, 60.0);
        assert_eq!((found.best_distance_m, found.best_open_share, found.gain), (0.0, 0.2, 0.0));
    }
}
