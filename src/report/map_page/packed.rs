//! Lines in few bytes: numbers in groups of seven bits, low bits first, all bytes of a number but its last with the highest bit
//! set; steps from place to place, zigzag (twice the step; for a step below zero, minus twice the step, less one).
use std::io::Write;

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use flate2::Compression;
use flate2::write::DeflateEncoder;

use crate::base::geodesy::{Position, unwrapped_deg};
use crate::report::drawing::lines::simplified;

/// Places are kept to 1e-5 degrees, about a metre: a page shows no more.
const STEPS_PER_DEG: f64 = 1e5;
/// Deviation of drawn lines, degrees of latitude: about a metre.
const TOLERANCE_DEG: f64 = 1e-5;

/// Lines, one after another.
#[derive(Debug)]
pub(super) struct PackedLines {
    bytes: Vec<u8>,
    last: (i64, i64),
    /// Longitudes are at most half around the globe from this one.
    from_deg: f64,
}

impl PackedLines {
    /// None yet; longitudes are counted from one.
    pub fn new(from_deg: f64) -> Self {
        Self { bytes: Vec::new(), last: (0, 0), from_deg }
    }
    /// Adds a line; one of the antimeridian runs on beyond 180 degrees.
    pub fn line(&mut self, line: &[Position]) {
        let line = simple(line, self.from_deg);
        self.number(line.len() as u64);
        for (lon_deg, lat_deg) in line {
            let at = ((lon_deg * STEPS_PER_DEG).round() as i64, (lat_deg * STEPS_PER_DEG).round() as i64);
            self.step(at.0 - self.last.0);
            self.step(at.1 - self.last.1);
            self.last = at;
        }
    }
    /// Adds a place.
    pub fn place(&mut self, at: Position) {
        self.line(&[at]);
    }
    /// Adds a number.
    pub fn number(&mut self, mut number: u64) {
        while number >= 0x80 {
            self.bytes.push(number as u8 | 0x80);
            number >>= 7;
        }
        self.bytes.push(number as u8);
    }
    fn step(&mut self, step: i64) {
        self.number(((step << 1) ^ (step >> 63)) as u64);
    }
    /// The bytes.
    pub fn bytes(self) -> Vec<u8> {
        self.bytes
    }
}

/// A line with fewer points, degrees, without a jump at the antimeridian.
fn simple(line: &[Position], from_deg: f64) -> Vec<(f64, f64)> {
    let Some(first) = line.first() else { return Vec::new() };
    let narrow = first.lat_deg().to_radians().cos().max(0.01);
    let flat: Vec<(f64, f64)> =
        line.iter().map(|p| (unwrapped_deg(from_deg, p.lon_deg()) * narrow, p.lat_deg())).collect();
    simplified(&flat, TOLERANCE_DEG).into_iter().map(|(x, y)| (x / narrow, y)).collect()
}

/// Bytes compressed (RFC 1951) and written as text (RFC 4648).
///
/// # Errors
/// They cannot be compressed.
pub(super) fn text_of(bytes: &[u8]) -> Result<String, String> {
    let mut packer = DeflateEncoder::new(Vec::new(), Compression::best());
    packer.write_all(bytes).map_err(|e| e.to_string())?;
    Ok(STANDARD.encode(packer.finish().map_err(|e| e.to_string())?))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(lon: f64, lat: f64) -> Position {
        Position::from_deg(lon, lat)
    }

    #[test]
    fn steps_are_written_as_told() {
        let mut lines = PackedLines::new(0.0);
        lines.line(&[at(0.000_01, -0.000_01), at(0.001, 0.0)]);
        // By hand: two points; +1 is 2, -1 is 1; then +99 is 198 = 0x46 | 1 << 7, +1 is 2.
        assert_eq!(lines.bytes(), [2, 2, 1, 0xC6, 0x01, 2]);
    }

    #[test]
    fn a_line_over_the_antimeridian_runs_on() {
        let line = simple(&[at(179.999, 10.0), at(-179.999, 10.0)], 179.9);
        assert!((line[1].0 - line[0].0 - 0.002).abs() < 1e-7, "{line:?}");
    }

    #[test]
    fn what_is_packed_comes_back() {
        let packed = STANDARD.decode(text_of(b"roads roads roads").unwrap()).unwrap();
        let mut out = Vec::new();
        std::io::Read::read_to_end(&mut flate2::read::DeflateDecoder::new(&packed[..]), &mut out).unwrap();
        assert_eq!(out, b"roads roads roads");
    }
}
