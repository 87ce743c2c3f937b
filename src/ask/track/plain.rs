//! Waypoints as `lat,lon lat,lon`, and encoded polylines.
use super::model::{Track, position};
use crate::ask::matching::TrackPoint;

/// Letters of encoded polylines.
const LETTERS: std::ops::RangeInclusive<u8> = 63..=126;

/// Reads either.
pub(super) fn read(text: &str, decimals: Option<u8>) -> Result<Track, String> {
    let words: Vec<&str> = text.split_whitespace().collect();
    let pairs: Option<Vec<(f64, f64)>> = words.iter().map(|w| pair(w)).collect();
    let places = match pairs {
        Some(pairs) => pairs,
        None if words.len() == 1 => polyline(text, decimals)?,
        None => {
            let bad = words.iter().find(|w| pair(w).is_none()).copied().unwrap_or_default();
            return Err(format!("`{}` is not a waypoint like 42.5,1.5", bad.chars().take(40).collect::<String>()));
        }
    };
    let mut track = Track::default();
    for (i, (lat_deg, lon_deg)) in places.iter().enumerate() {
        let at = position(*lat_deg, *lon_deg).map_err(|e| format!("{e} (point {})", i + 1))?;
        track.add(TrackPoint { at, time_s: None });
    }
    Ok(track)
}

/// Whether a text that begins like GeoJSON has only letters of polylines: GeoJSON has quotes, which no polyline has. Two
/// places take four letters.
pub(super) fn may_be_polyline(text: &str) -> bool {
    text.len() >= 4 && text.bytes().all(|letter| LETTERS.contains(&letter))
}

fn pair(word: &str) -> Option<(f64, f64)> {
    let (lat, lon) = word.split_once(',')?;
    Some((lat.parse().ok()?, lon.parse().ok()?))
}

/// Encoded Polyline Algorithm Format: differences in units of 1e-5 or 1e-6 degrees, five bits a letter. The text does
/// not say which; 1e-5 unless told, or unless that leads off the earth.
fn polyline(text: &str, decimals: Option<u8>) -> Result<Vec<(f64, f64)>, String> {
    let units = numbers(text)?;
    let scaled = |unit: f64| -> Vec<(f64, f64)> {
        let (mut lat, mut lon) = (0_i64, 0_i64);
        let mut step = |pair: &[i64]| {
            (lat, lon) = (lat.saturating_add(pair[0]), lon.saturating_add(pair[1]));
            (lat as f64 / unit, lon as f64 / unit)
        };
        units.chunks_exact(2).map(&mut step).collect()
    };
    if let Some(decimals) = decimals {
        return Ok(scaled(10_f64.powi(i32::from(decimals))));
    }
    let coarse = scaled(1e5);
    if coarse.iter().all(|(lat, lon)| position(*lat, *lon).is_ok()) { Ok(coarse) } else { Ok(scaled(1e6)) }
}

fn numbers(text: &str) -> Result<Vec<i64>, String> {
    let (mut out, mut value, mut shift) = (Vec::new(), 0_i64, 0_u32);
    for (i, letter) in text.bytes().enumerate() {
        if !LETTERS.contains(&letter) || shift > 35 {
            return Err(format!("is neither GPX, GeoJSON, waypoints nor an encoded polyline (letter {})", i + 1));
        }
        let bits = i64::from(letter - 63);
        value |= (bits & 31) << shift;
        shift += 5;
        if bits < 32 {
            out.push(if value & 1 == 1 { !(value >> 1) } else { value >> 1 });
            (value, shift) = (0, 0);
        }
    }
    if shift > 0 || out.len() % 2 == 1 {
        return Err("is an encoded polyline that ends early".into());
    }
    Ok(out)
}
