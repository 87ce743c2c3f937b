//! Tracks as people have them: GPX, GeoJSON, encoded polylines, or waypoints typed by hand.
//!
//! In: text. Out: pieces of points that are unbroken, in order. The format is told from the content.
mod geojson;
mod gpx;
mod plain;

use super::matching::TrackPoint;
use crate::base::geodesy::{Position, distance_m};

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

/// A jump farther than this between neighbouring points is no drive but a slip in the data, metres. Longest car ferries
/// stay below it.
const ABSURD_M: f64 = 2_000_000.0;

/// Reads a track from text. The error says what is wrong and where.
pub fn read(text: &str) -> Result<Track, String> {
    read_with(text, None)
}

/// The same. An encoded polyline does not tell its precision: `polyline_decimals` does; without it 5, or 6 where 5 leads
/// off the earth.
pub fn read_with(text: &str, polyline_decimals: Option<u8>) -> Result<Track, String> {
    let text = text.trim_start_matches('\u{feff}').trim();
    let mut track = match text.chars().next() {
        None => return Err("is empty".into()),
        Some('<') => gpx::read(text)?,
        Some('{') => geojson::read(text)?,
        Some(_) => plain::read(text, polyline_decimals)?,
    };
    track.pieces.retain(|p| !p.is_empty());
    if track.pieces.iter().all(|p| p.len() < 2) {
        return Err(format!("has {} places; a drive needs two in one piece", track.points()));
    }
    for piece in &track.pieces {
        if let Some(pair) = piece.windows(2).find(|w| distance_m(w[0].at, w[1].at) > ABSURD_M) {
            let at = |p: &TrackPoint| format!("{:.5},{:.5}", p.at.lat_deg(), p.at.lon_deg());
            return Err(format!("jumps more than 2000 km, from {} to {}", at(&pair[0]), at(&pair[1])));
        }
    }
    Ok(track)
}

/// A position, if it is one on earth.
fn position(lat_deg: f64, lon_deg: f64) -> Result<Position, String> {
    if (-90.0..=90.0).contains(&lat_deg) && (-180.0..=180.0).contains(&lon_deg) {
        Ok(Position::from_deg(lon_deg, lat_deg))
    } else {
        Err(format!("latitude {lat_deg}, longitude {lon_deg} is not a place on earth"))
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

    /// Written from the published description, independently of the reader.
    fn encoded(places: &[(f64, f64)], unit: f64) -> String {
        let (mut out, mut last) = (String::new(), [0_i64; 2]);
        for (lat, lon) in places {
            for (value, last) in [*lat, *lon].into_iter().zip(&mut last) {
                let units = (value * unit).round() as i64;
                let step = units - std::mem::replace(last, units);
                let mut bits = if step < 0 { !(step << 1) } else { step << 1 };
                while bits >= 32 {
                    out.push(char::from((32 | (bits & 31)) as u8 + 63));
                    bits >>= 5;
                }
                out.push(char::from(bits as u8 + 63));
            }
        }
        out
    }

    #[test]
    fn the_precision_of_a_polyline_is_told_or_guessed() {
        let read = |text: &str, decimals| {
            read_with(text, decimals).map(|t| t.pieces[0].iter().map(|p| p.at).collect::<Vec<_>>())
        };
        let (far, near) = ([(42.512_345, 1.512_345), (42.6, -1.6)], [(1.512_345, 1.6), (1.7, 1.8)]);
        let at = |places: [(f64, f64); 2]| places.map(|(lat, lon)| Position::from_deg(lon, lat)).to_vec();
        assert_eq!(encoded(&[(38.5, -120.2), (40.7, -120.95), (43.252, -126.453)], 1e5), "_p~iF~ps|U_ulLnnqC_mqNvxq`@");
        for decimals in [None, Some(6)] {
            assert_eq!(read(&encoded(&far, 1e6), decimals), Ok(at(far)), "425 degrees is no latitude");
        }
        assert_eq!(read(&encoded(&near, 1e6), Some(6)), Ok(at(near)));
        assert_ne!(read(&encoded(&near, 1e6), None), Ok(at(near)), "the guess cannot know near the equator");
        assert!(read(&encoded(&far, 1e6), Some(5)).is_err_and(|e| e.contains("no place")));
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
        says("0,0 0,120", "jumps more than 2000 km, from 0.00000,0.00000 to 0.00000,120.00000");
        says("42.5,1.5 42.5,1.5 42.5,1.5", "1 places");
        says("inf,1 2,1", "no place");
        says("nowhere to go", "no waypoint");
        says("<gpx>\n<trk><trkseg>\n<trkpt lat=\"x\" lon=\"1\"/></trkseg></trk></gpx>", "line 3");
        says("<kml></kml>", "gpx");
        says(r#"{"type":"Point","coordinates":[1,2]}"#, "no line");
        says("{", "GeoJSON");
    }
}
