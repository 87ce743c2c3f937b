//! What stands over a lane as bytes, exactly: so that a layer can be rated again from what it holds.
//!
//! One version byte, then per prism, little-endian: kind (u8), origin of the underside and closed sides (u8), id (i64)
//! and eleven figures (f64) in the order of [`Overhead`].
use super::overhead::Overhead;
use crate::base::words::{OverheadKind, ValueFrom};

const VERSION: u8 = 1;
/// Farthest that anything over a lane reaches along it or above it, metres.
const FARTHEST_M: f64 = 1_000_000.0;
/// Bytes of one prism.
const BYTES: usize = 2 + 8 + 11 * 8;

/// The number of a kind in the bytes; one that is in use never changes.
const fn kind_number(kind: OverheadKind) -> u8 {
    match kind {
        OverheadKind::Tunnel => 0,
        OverheadKind::Passage => 1,
        OverheadKind::Gallery => 2,
        OverheadKind::Roof => 3,
        OverheadKind::RoadDeck => 4,
        OverheadKind::FootDeck => 5,
        OverheadKind::RailDeck => 6,
        OverheadKind::OtherDeck => 7,
        OverheadKind::Gantry => 8,
    }
}

/// The number of what an underside comes from, below 64; one that is in use never changes.
const fn origin_number(from: ValueFrom) -> u8 {
    match from {
        ValueFrom::Tag => 0,
        ValueFrom::Elevation => 1,
        ValueFrom::Default => 2,
        ValueFrom::Country => 3,
        ValueFrom::Climb => 4,
        ValueFrom::BuiltUp => 5,
        ValueFrom::BuiltUpAssumed => 6,
        ValueFrom::Radius => 7,
    }
}

/// Prisms as bytes; the same prisms give the same bytes.
pub fn pack(prisms: &[Overhead]) -> Vec<u8> {
    let mut out = vec![VERSION];
    for o in prisms {
        out.push(kind_number(o.kind));
        out.push(origin_number(o.underside_from) | u8::from(o.left_closed) << 6 | u8::from(o.right_closed) << 7);
        out.extend_from_slice(&o.osm_id.to_le_bytes());
        out.extend(figures(o).iter().flat_map(|f| f.to_le_bytes()));
    }
    out
}

fn figures(o: &Overhead) -> [f64; 11] {
    [
        o.start_m,
        o.end_m,
        o.heading_start_deg,
        o.heading_end_deg,
        o.skew_deg,
        o.left_m,
        o.right_m,
        o.clearance_m,
        o.thickness_m,
        o.underside_above_road_m,
        o.deck_width_m,
    ]
}

/// The prisms in packed bytes.
///
/// # Errors
/// The end of a sentence about the bytes: what is damaged.
pub fn unpack(bytes: &[u8]) -> Result<Vec<Overhead>, String> {
    let (version, packed) = bytes.split_first().ok_or("is empty")?;
    if *version != VERSION {
        return Err(format!("format {version} is not known, this version reads format {VERSION}"));
    }
    if !packed.len().is_multiple_of(BYTES) {
        return Err("ends early".to_owned());
    }
    let found: Option<Vec<Overhead>> = packed.chunks_exact(BYTES).map(prism).collect();
    let found = found.ok_or("names a kind or origin that is not known")?;
    if found.iter().all(is_sound) { Ok(found) } else { Err("holds a figure that cannot be that of a road".to_owned()) }
}

/// Whether a prism may stand over a road: it may be open to its sides, but begins and ends somewhere.
fn is_sound(o: &Overhead) -> bool {
    let angles_deg = [o.heading_start_deg, o.heading_end_deg, o.skew_deg];
    let far = |m: f64| m.abs() <= FARTHEST_M;
    angles_deg.iter().all(|a| a.abs() <= 720.0)
        && [o.start_m, o.end_m, o.clearance_m, o.underside_above_road_m, o.deck_width_m].into_iter().all(far)
        && !figures(o).iter().any(|f| f.is_nan())
}

fn prism(bytes: &[u8]) -> Option<Overhead> {
    let word = |at: usize| -> Option<[u8; 8]> { bytes.get(at..at + 8)?.try_into().ok() };
    let figure = |i: usize| Some(f64::from_le_bytes(word(10 + 8 * i)?));
    Some(Overhead {
        kind: OverheadKind::ALL.iter().copied().find(|k| kind_number(*k) == bytes[0])?,
        osm_id: i64::from_le_bytes(word(2)?),
        start_m: figure(0)?,
        end_m: figure(1)?,
        heading_start_deg: figure(2)?,
        heading_end_deg: figure(3)?,
        skew_deg: figure(4)?,
        left_m: figure(5)?,
        right_m: figure(6)?,
        left_closed: bytes[1] >> 6 & 1 == 1,
        right_closed: bytes[1] >> 7 == 1,
        clearance_m: figure(7)?,
        thickness_m: figure(8)?,
        underside_above_road_m: figure(9)?,
        underside_from: ValueFrom::ALL.iter().copied().find(|f| origin_number(*f) == bytes[1] & 63)?,
        deck_width_m: figure(10)?,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn prisms() -> Vec<Overhead> {
        let of = |(i, kind): (usize, &OverheadKind)| Overhead {
            kind: *kind,
            osm_id: -(1 << 40) + i as i64,
            start_m: -3.25 + i as f64 / 3.0,
            end_m: 17.5,
            heading_start_deg: 359.9,
            heading_end_deg: 0.1,
            skew_deg: -12.0,
            left_m: f64::INFINITY,
            right_m: 4.0,
            left_closed: i.is_multiple_of(2),
            right_closed: i.is_multiple_of(3),
            clearance_m: 2.9,
            thickness_m: 1.6,
            underside_above_road_m: 4.9,
            underside_from: ValueFrom::ALL[i % ValueFrom::ALL.len()],
            deck_width_m: 12.0,
        };
        OverheadKind::ALL.iter().enumerate().map(of).collect()
    }

    #[test]
    fn prisms_come_back_to_the_last_bit() {
        let packed = pack(&prisms());
        assert_eq!(unpack(&packed).unwrap(), prisms());
        assert_eq!((packed.len(), pack(&[])), (1 + 9 * BYTES, vec![VERSION]));
    }

    #[test]
    fn numbers_in_layers_already_written_keep_their_meaning() {
        let kinds = "tunnel passage gallery roof road_deck foot_deck rail_deck other_deck gantry";
        let mut numbered: Vec<OverheadKind> = OverheadKind::ALL.to_vec();
        numbered.sort_by_key(|k| kind_number(*k));
        let names: Vec<&str> = numbered.iter().map(|k| k.name()).collect();
        assert_eq!(names.join(" "), kinds);
        assert!(numbered.iter().enumerate().all(|(i, k)| usize::from(kind_number(*k)) == i), "each has its own");
        let mut origins: Vec<ValueFrom> = ValueFrom::ALL.to_vec();
        origins.sort_by_key(|f| origin_number(*f));
        assert_eq!(origins[..3], [ValueFrom::Tag, ValueFrom::Elevation, ValueFrom::Default]);
        assert!(origins.iter().enumerate().all(|(i, f)| usize::from(origin_number(*f)) == i), "each has its own");
    }

    #[test]
    fn damage_is_an_error() {
        let packed = pack(&prisms());
        let with = |at: usize, byte: u8| {
            let mut bytes = packed.clone();
            bytes[at] = byte;
            bytes
        };
        for (bytes, fact) in [
            (vec![], "is empty"),
            (vec![9], "format 9 is not known, this version reads format 1"),
            (packed[..packed.len() - 1].to_vec(), "ends early"),
            (with(1, 200), "names a kind or origin that is not known"),
            (with(2, 40), "names a kind or origin that is not known"),
        ] {
            assert_eq!(unpack(&bytes).unwrap_err(), fact);
        }
        for wrong in [f64::NAN, f64::INFINITY, 1e300] {
            let bytes = pack(&[Overhead { start_m: wrong, ..prisms()[0].clone() }]);
            assert!(unpack(&bytes).unwrap_err().contains("cannot be that of a road"), "{wrong}");
        }
    }
}
