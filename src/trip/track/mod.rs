//! Tracks as people have them: GPX, GeoJSON, encoded polylines, or waypoints typed by hand.
//!
//! In: text. Out: pieces of points that are unbroken, in order. The format is told from the content.
mod geojson;
mod gpx;
mod plain;

use super::matching::TrackPoint;
use crate::geodesy::{Position, distance_m};

/// A track of one or more unbroken pieces.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Track {
    /// Pieces, each of at least one point.
    pub pieces: Vec<Vec<TrackPoint>>,
    /// Points that repeat the one before and were left out.
    pub repeated: usize,
}

impl Track {
    /// Number of points.
    pub fn points(&self) -> usize {
        self.pieces.iter().map(Vec::len).sum()
    }
    /// The same track driven the other way, without times.
    pub fn reversed(&self) -> Self {
        let turned = |piece: &Vec<TrackPoint>| piece.iter().rev().map(|p| TrackPoint { time_s: None, ..*p }).collect();
        Self { pieces: self.pieces.iter().rev().map(turned).collect(), repeated: self.repeated }
    }
    fn add(&mut self, point: TrackPoint) {
        match self.pieces.last_mut() {
            Some(piece) if piece.last().is_some_and(|p| p.at == point.at) => self.repeated += 1,
            Some(piece) => piece.push(point),
            None => self.pieces.push(vec![point]),
        }
    }
    /// Begins a new piece.
    fn cut(&mut self) {
        if self.pieces.last().is_none_or(|p| !p.is_empty()) {
            self.pieces.push(Vec::new());
        }
    }
}

/// A jump farther than this between neighbouring points is no drive, metres: a quarter of the way round the earth.
const ABSURD_M: f64 = 10_000_000.0;

/// Reads a track from text. The error says what is wrong and where.
pub fn read(text: &str) -> Result<Track, String> {
    let text = text.trim_start_matches('\u{feff}').trim();
    let mut track = match text.chars().next() {
        None => return Err("is empty".into()),
        Some('<') => gpx::read(text)?,
        Some('{') => geojson::read(text)?,
        Some(_) => plain::read(text)?,
    };
    track.pieces.retain(|p| !p.is_empty());
    if track.pieces.iter().all(|p| p.len() < 2) {
        return Err(format!("has {} places; a drive needs two in one piece", track.points()));
    }
    for piece in &track.pieces {
        let jump = piece.windows(2).position(|w| distance_m(w[0].at, w[1].at) > ABSURD_M);
        if let Some(i) = jump {
            return Err(format!("jumps over a quarter of the earth after point {} of a piece", i + 1));
        }
    }
    Ok(track)
}

/// A position, if it is one on earth.
fn position(lat_deg: f64, lon_deg: f64) -> Result<Position, String> {
    if (-90.0..=90.0).contains(&lat_deg) && (-180.0..=180.0).contains(&lon_deg) {
        Ok(Position::from_deg(lon_deg, lat_deg))
    } else {
        Err(format!("latitude {lat_deg}, longitude {lon_deg} is no place on earth"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lats(text: &str) -> Vec<Vec<i32>> {
        read(text).unwrap().pieces.iter().map(|p| p.iter().map(|p| p.at.lat_e7).collect()).collect()
    }

    #[test]
    fn every_format_is_told_from_its_content() {
        assert_eq!(lats("42.5,1.5 42.6,1.6"), [[425_000_000, 426_000_000]]);
        assert_eq!(
            lats(r#"{"type":"LineString","coordinates":[[1.5,42.5],[1.6,42.6]]}"#),
            [[425_000_000, 426_000_000]]
        );
        let gpx =
            r#"<gpx><trk><trkseg><trkpt lat="42.5" lon="1.5"/><trkpt lat="42.6" lon="1.6"/></trkseg></trk></gpx>"#;
        assert_eq!(lats(gpx), [[425_000_000, 426_000_000]]);
        // The example of the published description of the format (Encoded Polyline Algorithm Format), precision 5.
        assert_eq!(lats("_p~iF~ps|U_ulLnnqC_mqNvxq`@"), [[385_000_000, 407_000_000, 432_520_000]]);
    }

    #[test]
    fn times_are_read_and_repeats_counted() {
        let gpx = r#"<gpx><trk><trkseg><trkpt lat="1" lon="1"><time>1970-01-01T00:01:00Z</time></trkpt>
            <trkpt lat="1" lon="1"/><trkpt lat="1.1" lon="1"/></trkseg></trk></gpx>"#;
        let track = read(gpx).unwrap();
        assert_eq!((track.pieces[0][0].time_s, track.pieces[0][1].time_s), (Some(60.0), None));
        assert_eq!((track.points(), track.repeated), (2, 1));
    }

    #[test]
    fn what_is_absurd_is_refused_with_its_place() {
        let says = |text: &str, word: &str| {
            let error = read(text).unwrap_err();
            assert!(error.contains(word), "{error}");
        };
        says("", "empty");
        says("42.5,1.5", "two");
        says("95,1 96,1", "no place");
        says("NaN,1 2,1", "no place");
        says("0,0 0,120", "jumps");
        says("<gpx>\n<trk><trkseg>\n<trkpt lat=\"x\" lon=\"1\"/></trkseg></trk></gpx>", "line 3");
        says("<kml></kml>", "gpx");
        says(r#"{"type":"Point","coordinates":[1,2]}"#, "no line");
        says("{", "GeoJSON");
    }
}
