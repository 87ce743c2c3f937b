//! Text to tracks.
use super::model::Track;
use super::{encoding, geojson, gpx, plain};
use crate::ask::matching::TrackPoint;
use crate::base::count::counted;
use crate::base::foreign::foreign;
use crate::base::geodesy::distance_m;

/// A jump farther than this between neighbouring points is not a drive but a slip in the data, metres. Longest car ferries
/// stay below it.
const ABSURD_M: f64 = 2_000_000.0;

/// Most bytes of formats that take many times their size in memory.
const MOST_GEOJSON: usize = 32_000_000;
const MOST_POLYLINE: usize = 16_000_000;

/// Refuses a text of more bytes than its format may have.
fn within(text: &str, most: usize, format: &str) -> Result<(), String> {
    if text.len() <= most {
        return Ok(());
    }
    let mb = |bytes: usize| (bytes as f64 / 1e5).ceil() / 10.0;
    Err(format!("has {} MB; {format} may have at most {} MB, GPX more", mb(text.len()), mb(most)))
}

/// Reads a track from text. The error says what is wrong and where.
pub fn read(text: &str) -> Result<Track, String> {
    read_with(text, None)
}

/// Reads a track from the bytes of a file, as [`read_with`] does from text.
pub fn read_bytes(bytes: Vec<u8>, polyline_decimals: Option<u8>) -> Result<Track, String> {
    let (text, note) = encoding::decoded(bytes)?;
    let mut track = read_with(&text, polyline_decimals)?;
    track.notes.extend(note);
    Ok(track)
}

/// The same. An encoded polyline does not tell its precision: `polyline_decimals` does; without it 5, or 6 where 5 leads
/// off the earth.
pub fn read_with(text: &str, polyline_decimals: Option<u8>) -> Result<Track, String> {
    let text = text.trim_start_matches('\u{feff}').trim();
    let parsed = foreign("tracks", || match text.chars().next() {
        None => Err("is empty".into()),
        Some('<') => gpx::read(text),
        Some('{') if !plain::may_be_polyline(text) => {
            within(text, MOST_GEOJSON, "GeoJSON").and_then(|()| geojson::read(text))
        }
        Some(_) => within(text, MOST_POLYLINE, "waypoints and encoded polylines")
            .and_then(|()| plain::read(text, polyline_decimals)),
    });
    let mut track = parsed.map_err(|broken| broken.to_string())??;
    track.drop_empty();
    if track.pieces.iter().all(|p| p.len() < 2) {
        return Err(format!("has {}; a drive needs two of them in one piece", counted(track.points(), "place")));
    }
    for piece in &track.pieces {
        if let Some(pair) = piece.windows(2).find(|w| distance_m(w[0].at, w[1].at) > ABSURD_M) {
            let at = |p: &TrackPoint| format!("{:.5},{:.5}", p.at.lat_deg(), p.at.lon_deg());
            return Err(format!("jumps more than 2000 km, from {} to {}", at(&pair[0]), at(&pair[1])));
        }
    }
    Ok(track)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::geodesy::Position;

    fn lats(text: &str) -> Vec<Vec<i32>> {
        read(text).unwrap().pieces.iter().map(|p| p.iter().map(|p| p.at.lat_e7).collect()).collect()
    }

    #[test]
    fn formats_that_fill_the_memory_have_less_room() {
        assert_eq!(within("12345", 5, "GeoJSON"), Ok(()));
        for (start, most, name) in
            [("{\"", MOST_GEOJSON, "GeoJSON may have at most 32 MB"), ("_", MOST_POLYLINE, "16 MB")]
        {
            let said = read(&format!("{start}{}", "?".repeat(most))).unwrap_err();
            assert!(said.contains(name) && said.starts_with(&format!("has {}.1 MB", most / 1_000_000)), "{said}");
        }
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
    fn a_polyline_may_begin_as_geojson_does() {
        let text = encoded(&[(42.500_14, 1.5), (42.6, 1.6)], 1e5);
        assert!(text.starts_with('{'), "{text}");
        assert_eq!(lats(&text), [[425_001_400, 426_000_000]]);
        for text in ["{}", "{type: 1}", r#"{"type":1}"#] {
            assert!(read(text).is_err_and(|e| e.contains("GeoJSON")), "{text}");
        }
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
            assert_eq!(read(&encoded(&far, 1e6), decimals), Ok(at(far)), "425 degrees is not a latitude");
        }
        assert_eq!(read(&encoded(&near, 1e6), Some(6)), Ok(at(near)));
        assert_ne!(read(&encoded(&near, 1e6), None), Ok(at(near)), "the guess cannot know near the equator");
        assert!(read(&encoded(&far, 1e6), Some(5)).is_err_and(|e| e.contains("not a place")));
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
        says("95,1 96,1", "not a place");
        says("NaN,1 2,1", "not a place");
        says("0,0 0,120", "jumps more than 2000 km, from 0.00000,0.00000 to 0.00000,120.00000");
        says("42.5,1.5 42.5,1.5 42.5,1.5", "1 place;");
        says("inf,1 2,1", "not a place");
        says("nowhere to go", "not a waypoint");
        says("<gpx>\n<trk><trkseg>\n<trkpt lat=\"x\" lon=\"1\"/></trkseg></trk></gpx>", "line 3");
        says("<kml></kml>", "gpx");
        says(r#"{"type":"Point","coordinates":[1,2]}"#, "no line");
        says("{", "GeoJSON");
    }
}
