//! Small layers of rows made here, for comparing two of them.
use std::path::{Path, PathBuf};

use waymask::base::geodesy::{LocalPlane, Point, Position};
use waymask::base::words::{Cause, Evidence, Highway, MapObject, PerDirection, RatedBy, Rating, StopAccess, StopKind};
use waymask::layer::model::{BuildRecord, Driven, InputRecord, PanelPlace, SegmentRow, StopRow};
use waymask::layer::{Layer, LayerWriter};

use crate::layer::rows::{known, known_row};

/// A segment in few words.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Seg {
    pub way: i64,
    pub part: u32,
    /// Straight, eastwards.
    pub length_m: f64,
    /// Off its place, northwards.
    pub off_m: f64,
    pub rating: Rating,
    /// In the forward direction; half of it in the other.
    pub outage_s: f64,
    pub cause: Cause,
    pub evidence: Evidence,
}

impl Seg {
    pub fn of(way: i64, part: u32, length_m: f64, rating: Rating, outage_s: f64, cause: Cause) -> Self {
        Self { way, part, length_m, off_m: 0.0, rating, outage_s, cause, evidence: Evidence::Default }
    }
    pub fn unknown(self) -> Self {
        Self { evidence: Evidence::Unknown, ..self }
    }
    /// Where it begins and ends, on a grid of ways 100 m apart.
    pub fn line(self) -> Vec<Position> {
        let plane = LocalPlane::at(1.5, 42.5);
        let (x_m, y_m) = (300.0 * f64::from(self.part), 100.0 * self.way as f64 + self.off_m);
        [x_m, x_m + self.length_m].map(|x_m| plane.to_position(Point::new(x_m, y_m))).to_vec()
    }
    fn row(self, segment_id: i64) -> SegmentRow {
        let is_known = self.evidence != Evidence::Unknown;
        let worst = is_known.then_some(Rating::Dark);
        let share_worst = is_known.then_some(1.0);
        // 36 km/h: no share of a time of at least ten seconds contradicts its ends.
        let driven = |outage_s: f64| Driven {
            rating: self.rating,
            rating_worst: worst,
            outage_share_worst: share_worst,
            time_s: self.length_m / 10.0,
            outage_s,
            main_cause: self.cause,
            ..known()
        };
        SegmentRow {
            segment_id,
            way_id: self.way,
            part: self.part,
            name: Some(format!("Road {}", self.way)),
            highway: Highway::Primary,
            length_m: self.length_m,
            rating: self.rating,
            rated_by: if self.rating == Rating::Steady { RatedBy::None } else { RatedBy::Outage },
            rating_worst: worst,
            outage_share_worst: share_worst,
            driven: PerDirection {
                forward: Some(Driven { edge: 2 * segment_id, ..driven(self.outage_s) }),
                backward: Some(Driven { edge: 2 * segment_id + 1, ..driven(0.5 * self.outage_s) }),
            },
            speed_kmh: 36.0,
            lanes: 2,
            width_m: 7.0,
            main_cause: self.cause,
            evidence: self.evidence,
            line: self.line(),
            ..known_row()
        }
    }
}

/// A place to stop in few words: its node, kind, and the open share at its best place, 12 m off.
pub type Place = (i64, StopKind, f64);

fn stop(stop_id: i64, (osm_id, kind, best): Place) -> StopRow {
    let place = |distance_m, bearing_deg, open_share| PanelPlace { distance_m, bearing_deg, open_share };
    StopRow {
        stop_id,
        osm_type: MapObject::Node,
        osm_id,
        kind,
        name: Some(format!("Place {osm_id}")),
        access: StopAccess::Open,
        open_share: 0.25,
        segment_id: 1,
        road: "Road 1".into(),
        best_distance_m: 12.0,
        best_bearing_deg: 45.0,
        best_open_share: best,
        gain: best - 0.25,
        places: vec![place(0.0, 0.0, 0.25), place(12.0, 45.0, best)],
        at: Position::from_deg(1.5, 42.5),
        ..StopRow::default()
    }
}

/// What a build recorded of its map.
pub fn record(data_time: &str, sha256: &str) -> BuildRecord {
    let map = InputRecord {
        name: "map.osm.pbf".into(),
        data_time: Some(data_time.into()),
        sha256: sha256.repeat(32),
        ..InputRecord::default()
    };
    BuildRecord { waymask_version: "0.1.0".into(), mask_floor_deg: 25.0, inputs: vec![map], ..BuildRecord::default() }
}

/// Writes a layer. Ids count from the last row to the first: they say nothing of the order of keys.
pub fn write(path: &Path, segs: &[Seg], places: &[Place], record: &BuildRecord) -> Layer {
    let mut writer = LayerWriter::create(path, true).unwrap();
    for (i, seg) in segs.iter().enumerate().rev() {
        writer.segment(&seg.row((segs.len() - i) as i64)).unwrap();
    }
    for (i, place) in places.iter().enumerate() {
        writer.stop(&stop(i as i64 + 1, *place)).unwrap();
    }
    writer.finish(record).unwrap();
    Layer::open(path).unwrap()
}

/// Names of two layers in a folder that is removed with the first value.
pub fn two() -> (tempfile::TempDir, PathBuf, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let [old, new] = ["old.gpkg", "new.gpkg"].map(|name| folder.path().join(name));
    (folder, old, new)
}
