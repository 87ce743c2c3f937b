//! Geometry of the GeoPackage: a header with the bounding box, then well-known binary.
//!
//! Source: OGC 12-128r18 section 2.1.3 (header), OGC 06-103r4 section 8.2 (well-known binary).
//! Only two-dimensional points, line strings and polygons, the kinds the layer holds.
use crate::base::geodesy::Position;

use super::fixed::SRS_ID;

const POINT: u32 = 1;
const LINE_STRING: u32 = 2;
const POLYGON: u32 = 3;
/// Little-endian header with a bounding box of two dimensions.
const FLAGS_WITH_BOX: u8 = 0b0000_0011;
/// Little-endian header without bounding box: a point is its own.
const FLAGS_PLAIN: u8 = 0b0000_0001;
/// Length of the bounding box by its code in the flags: none, xy, xyz, xym, xyzm.
const BOX_BYTES: [usize; 5] = [0, 32, 48, 48, 64];

/// Fewest positions of a ring: three corners, and the first once more.
const LEAST_RING: usize = 4;
/// Most positions of a line or polygon, far more than a way of the map may have.
const MOST_POSITIONS: usize = 1_000_000;

/// A box of longitudes and latitudes, edges included. It does not cross the antimeridian.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
pub struct Bounds {
    /// South-west corner.
    pub min: Position,
    /// North-east corner.
    pub max: Position,
}

impl Bounds {
    /// From degrees: west, south, east, north.
    pub fn from_deg(west_deg: f64, south_deg: f64, east_deg: f64, north_deg: f64) -> Self {
        Self { min: Position::from_deg(west_deg, south_deg), max: Position::from_deg(east_deg, north_deg) }
    }
    /// The box around positions; `None` without any.
    pub fn around(positions: &[Position]) -> Option<Self> {
        let (first, rest) = positions.split_first()?;
        Some(rest.iter().fold(Self { min: *first, max: *first }, |b, p| b.joined(Self { min: *p, max: *p })))
    }
    /// The box around two boxes.
    pub fn joined(self, other: Self) -> Self {
        let low =
            |a: Position, b: Position| Position { lon_e7: a.lon_e7.min(b.lon_e7), lat_e7: a.lat_e7.min(b.lat_e7) };
        let high =
            |a: Position, b: Position| Position { lon_e7: a.lon_e7.max(b.lon_e7), lat_e7: a.lat_e7.max(b.lat_e7) };
        Self { min: low(self.min, other.min), max: high(self.max, other.max) }
    }
    /// Whether two boxes share a point.
    pub fn meets(self, other: Self) -> bool {
        self.min.lon_e7 <= other.max.lon_e7
            && other.min.lon_e7 <= self.max.lon_e7
            && self.min.lat_e7 <= other.max.lat_e7
            && other.min.lat_e7 <= self.max.lat_e7
    }
    /// Lowest and highest longitude, lowest and highest latitude, degrees, as the R-tree and the header order them.
    pub fn degrees(self) -> [f64; 4] {
        [self.min.lon_e7, self.max.lon_e7, self.min.lat_e7, self.max.lat_e7].map(degrees)
    }
}

/// Divided, not multiplied by 1e-7: gives the number nearest to the decimal, so that viewers show 1.5 and not 1.5000000000000002.
fn degrees(e7: i32) -> f64 {
    f64::from(e7) / 1e7
}

/// A line string as stored.
pub(crate) fn encode_line(line: &[Position], bounds: Bounds) -> Vec<u8> {
    let mut bytes = boxed(LINE_STRING, bounds, 4 + 16 * line.len());
    put_line(&mut bytes, line);
    bytes
}

/// A polygon as stored: its outer ring, then its holes.
pub(crate) fn encode_polygon(rings: &[Vec<Position>], bounds: Bounds) -> Vec<u8> {
    let positions: usize = rings.iter().map(Vec::len).sum();
    let mut bytes = boxed(POLYGON, bounds, 4 + 4 * rings.len() + 16 * positions);
    bytes.extend((rings.len() as u32).to_le_bytes());
    rings.iter().for_each(|ring| put_line(&mut bytes, ring));
    bytes
}

/// Whether rings make a polygon that can be stored and read again.
///
/// # Errors
/// What is wrong with them.
pub(crate) fn check_rings(rings: &[Vec<Position>]) -> Result<(), String> {
    if rings.is_empty() {
        return Err("a polygon without a ring".into());
    }
    if rings.iter().map(Vec::len).sum::<usize>() > MOST_POSITIONS {
        return Err(format!("a polygon of more than {MOST_POSITIONS} positions"));
    }
    match rings.iter().find(|ring| ring.len() < LEAST_RING || ring.first() != ring.last()) {
        Some(ring) if ring.len() < LEAST_RING => Err(format!("a ring of {} positions", ring.len())),
        Some(_) => Err("a ring that does not end where it begins".into()),
        None => Ok(()),
    }
}

/// The header with a box, and what a geometry of a kind begins with.
fn boxed(kind: u32, bounds: Bounds, more: usize) -> Vec<u8> {
    let mut bytes = header(FLAGS_WITH_BOX, 8 + 32 + 5 + more);
    for edge in bounds.degrees() {
        bytes.extend(edge.to_le_bytes());
    }
    bytes.push(1);
    bytes.extend(kind.to_le_bytes());
    bytes
}

fn put_line(bytes: &mut Vec<u8>, line: &[Position]) {
    bytes.extend((line.len() as u32).to_le_bytes());
    line.iter().for_each(|p| put_position(bytes, *p));
}

/// A point as stored.
pub(crate) fn encode_point(at: Position) -> Vec<u8> {
    let mut bytes = header(FLAGS_PLAIN, 8 + 5 + 16);
    bytes.push(1);
    bytes.extend(POINT.to_le_bytes());
    put_position(&mut bytes, at);
    bytes
}

fn header(flags: u8, capacity: usize) -> Vec<u8> {
    let mut bytes = Vec::with_capacity(capacity);
    bytes.extend([b'G', b'P', 0, flags]);
    bytes.extend(SRS_ID.to_le_bytes());
    bytes
}

fn put_position(bytes: &mut Vec<u8>, p: Position) {
    bytes.extend(degrees(p.lon_e7).to_le_bytes());
    bytes.extend(degrees(p.lat_e7).to_le_bytes());
}

/// A line string read back, or what is wrong with it.
pub(crate) fn decode_line(bytes: &[u8]) -> Result<Vec<Position>, String> {
    let mut cursor = Cursor::after_header(bytes)?;
    cursor.expect_kind(LINE_STRING)?;
    let line = cursor.line("line string", 2)?;
    cursor.finish()?;
    Ok(line)
}

/// The rings of a polygon read back, the outer one first, or what is wrong with them.
pub(crate) fn decode_polygon(bytes: &[u8]) -> Result<Vec<Vec<Position>>, String> {
    let mut cursor = Cursor::after_header(bytes)?;
    cursor.expect_kind(POLYGON)?;
    let count = cursor.number()? as usize;
    // A ring takes its number of positions and these: a damaged count must not ask for gigabytes.
    if count > cursor.rest.len() / (4 + 16 * LEAST_RING) {
        return Err(format!("polygon claims {count} rings in {} bytes", cursor.rest.len()));
    }
    let rings: Vec<_> = (0..count).map(|_| cursor.line("ring", LEAST_RING)).collect::<Result<_, _>>()?;
    cursor.finish()?;
    check_rings(&rings)?;
    Ok(rings)
}

/// A point read back, or what is wrong with it.
pub(crate) fn decode_point(bytes: &[u8]) -> Result<Position, String> {
    let mut cursor = Cursor::after_header(bytes)?;
    cursor.expect_kind(POINT)?;
    let at = cursor.position()?;
    cursor.finish()?;
    Ok(at)
}

struct Cursor<'a> {
    rest: &'a [u8],
    little: bool,
}

impl<'a> Cursor<'a> {
    fn after_header(bytes: &'a [u8]) -> Result<Self, String> {
        let [b'G', b'P', 0, flags, _, _, _, _, rest @ ..] = bytes else {
            return Err("no GeoPackage geometry header".into());
        };
        let box_bytes = BOX_BYTES.get(usize::from(flags >> 1 & 7)).ok_or("bounding box of an unknown kind")?;
        let rest = rest.get(*box_bytes..).ok_or("geometry ends within its bounding box")?;
        Ok(Self { rest, little: true })
    }
    fn expect_kind(&mut self, kind: u32) -> Result<(), String> {
        let [order] = self.take::<1>()?;
        self.little = order == 1;
        match self.number()? {
            found if found == kind => Ok(()),
            found => Err(format!("geometry of kind {found} where {kind} is expected")),
        }
    }
    fn number(&mut self) -> Result<u32, String> {
        let raw = self.take()?;
        Ok(if self.little { u32::from_le_bytes(raw) } else { u32::from_be_bytes(raw) })
    }
    /// A number of positions and as many of them.
    fn line(&mut self, what: &str, least: usize) -> Result<Vec<Position>, String> {
        let count = self.number()? as usize;
        // Checked before anything is reserved: a damaged count must not ask for gigabytes.
        if !(least..=MOST_POSITIONS).contains(&count) || count > self.rest.len() / 16 {
            return Err(format!("{what} claims {count} positions in {} bytes", self.rest.len()));
        }
        (0..count).map(|_| self.position()).collect()
    }
    fn position(&mut self) -> Result<Position, String> {
        let (lon_deg, lat_deg) = (self.coordinate(180.0)?, self.coordinate(90.0)?);
        Ok(Position::from_deg(lon_deg, lat_deg))
    }
    fn coordinate(&mut self, limit_deg: f64) -> Result<f64, String> {
        let raw = self.take()?;
        let value = if self.little { f64::from_le_bytes(raw) } else { f64::from_be_bytes(raw) };
        if value.abs() <= limit_deg { Ok(value) } else { Err(format!("coordinate {value} is out of range")) }
    }
    fn finish(&self) -> Result<(), String> {
        if self.rest.is_empty() { Ok(()) } else { Err(format!("{} bytes follow the geometry", self.rest.len())) }
    }
    fn take<const N: usize>(&mut self) -> Result<[u8; N], String> {
        let (head, rest) = self.rest.split_first_chunk::<N>().ok_or("geometry is cut short")?;
        self.rest = rest;
        Ok(*head)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line() -> Vec<Position> {
        vec![Position::from_deg(1.5, 42.5), Position::from_deg(1.500_000_1, 42.4), Position::from_deg(-180.0, 90.0)]
    }

    #[test]
    fn geometries_round_trip_to_the_last_digit() {
        let line = line();
        assert_eq!(decode_line(&encode_line(&line, Bounds::around(&line).unwrap())).unwrap(), line);
        for p in line {
            assert_eq!(decode_point(&encode_point(p)).unwrap(), p);
        }
    }

    #[test]
    fn a_point_is_the_bytes_the_standard_prescribes() {
        // Header "GP", version 0, flags little-endian, srs 4326; byte order 1, type 1, x, y (OGC 12-128r18, table 5).
        let mut expected = vec![0x47, 0x50, 0x00, 0x01, 0xe6, 0x10, 0, 0, 0x01, 1, 0, 0, 0];
        expected.extend(1.5f64.to_le_bytes());
        expected.extend((-42.25f64).to_le_bytes());
        assert_eq!(encode_point(Position::from_deg(1.5, -42.25)), expected);
    }

    #[test]
    fn big_endian_files_of_other_programs_are_read() {
        let mut bytes = vec![b'G', b'P', 0, 0, 0, 0, 0x10, 0xe6, 0, 0, 0, 0, 2, 0, 0, 0, 2];
        for v in [1.0f64, 2.0, 3.0, 4.0] {
            bytes.extend(v.to_be_bytes());
        }
        assert_eq!(decode_line(&bytes).unwrap(), [Position::from_deg(1.0, 2.0), Position::from_deg(3.0, 4.0)]);
    }

    #[test]
    fn damaged_geometry_is_an_error_at_every_length() {
        let line = line();
        let whole = encode_line(&line, Bounds::around(&line).unwrap());
        for cut in 0..whole.len() {
            assert!(decode_line(&whole[..cut]).is_err(), "cut at {cut}");
        }
        let mut greedy = whole.clone();
        greedy[45..49].copy_from_slice(&u32::MAX.to_le_bytes());
        assert!(decode_line(&greedy).unwrap_err().contains("claims"));
        assert!(decode_point(&whole).unwrap_err().contains("kind 2"));
        let mut far = encode_point(line[0]);
        far[13..21].copy_from_slice(&f64::NAN.to_le_bytes());
        assert!(decode_point(&far).is_err());
    }

    fn polygon() -> Vec<Vec<Position>> {
        let ring = |corners: [(f64, f64); 4]| corners.map(|(lon, lat)| Position::from_deg(lon, lat)).to_vec();
        vec![
            ring([(1.0, 42.0), (2.0, 42.0), (1.5, 43.0), (1.0, 42.0)]),
            ring([(1.4, 42.2), (1.5, 42.4), (1.6, 42.2), (1.4, 42.2)]),
        ]
    }

    #[test]
    fn polygons_round_trip_and_are_the_bytes_the_standard_prescribes() {
        let rings = polygon();
        let bytes = encode_polygon(&rings, Bounds::around(&rings[0]).unwrap());
        assert_eq!(decode_polygon(&bytes).unwrap(), rings);
        // Byte order 1, type 3, two rings, four positions (OGC 06-103r4, 8.2), behind the header and its box of 32 bytes.
        assert_eq!(bytes[40..53], [1, 3, 0, 0, 0, 2, 0, 0, 0, 4, 0, 0, 0]);
        assert_eq!(bytes.len(), 40 + 9 + 2 * (4 + 4 * 16));
    }

    #[test]
    fn damaged_polygons_are_errors() {
        let rings = polygon();
        let whole = encode_polygon(&rings, Bounds::around(&rings[0]).unwrap());
        for cut in 0..whole.len() {
            assert!(decode_polygon(&whole[..cut]).is_err(), "cut at {cut}");
        }
        let changed = |at: usize, to: &[u8]| {
            let mut bytes = whole.clone();
            bytes[at..at + to.len()].copy_from_slice(to);
            decode_polygon(&bytes).unwrap_err()
        };
        assert!(changed(45, &u32::MAX.to_le_bytes()).contains("claims 4294967295 rings"));
        assert!(changed(45, &0_u32.to_le_bytes()).contains("follow the geometry"));
        assert!(changed(49, &u32::MAX.to_le_bytes()).contains("ring claims"));
        assert!(changed(49, &3_u32.to_le_bytes()).contains("ring claims 3 positions"));
        assert!(changed(53, &1.25_f64.to_le_bytes()).contains("does not end where it begins"));
        assert!(changed(53, &f64::NAN.to_le_bytes()).contains("out of range"));
        assert!(changed(41, &2_u32.to_le_bytes()).contains("kind 2"));
        assert!(check_rings(&[]).is_err() && check_rings(&[Vec::new()]).is_err());
    }

    #[test]
    fn boxes_meet_when_they_share_an_edge() {
        let a = Bounds::from_deg(0.0, 0.0, 1.0, 1.0);
        assert!(a.meets(Bounds::from_deg(1.0, 1.0, 2.0, 2.0)));
        assert!(!a.meets(Bounds::from_deg(1.000_000_1, 0.0, 2.0, 2.0)));
        assert_eq!(Bounds::around(&[]), None);
    }
}
