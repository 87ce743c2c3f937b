//! Masks as bytes: coarse enough to be small, and the same in the build as in what is stored.
//!
//! One version byte, then a zlib stream (its checksum finds damage). Inside, little-endian: the floor (f64, degrees), the number of masks (u32),
//! then plane by plane over all masks: terrain horizons, solid horizons, which columns hold canopy (72 bits), and the canopy
//! of those columns, a byte per cell. Horizons are differences to the mask before, because neighbours look alike.
use std::io::{Read, Write};

use flate2::Compression;
use flate2::read::ZlibDecoder;
use flate2::write::ZlibEncoder;

use super::mask::{AZIMUTH_BINS, Mask, SkyGrid};
use crate::base::error::Error;
use crate::base::foreign::foreign;

/// First byte of the format written here.
const VERSION: u8 = 2;
/// Finest step of stored horizons, degrees.
pub const HORIZON_STEP_DEG: f64 = 0.25;
/// Bytes of column flags per mask.
const FLAGS: usize = AZIMUTH_BINS / 8;
/// Largest size unpacked, bytes: some 10 000 dense masks, far more than a segment has stations.
const LARGEST: u64 = 16 << 20;

/// Step of stored horizons, degrees: a quarter, or what reaches the zenith in 255 steps if that is more.
fn step_deg(grid: SkyGrid) -> f64 {
    HORIZON_STEP_DEG.max((90.0 - grid.floor_deg) / 255.0)
}

fn horizon_level(grid: SkyGrid, horizon_deg: f32) -> u8 {
    // Casting saturates, and takes what is not a number as 0.
    ((f64::from(horizon_deg) - grid.floor_deg) / step_deg(grid)).round() as u8
}

fn horizon_deg(grid: SkyGrid, level: u8) -> f32 {
    if level == 0 { -90.0 } else { (grid.floor_deg + f64::from(level) * step_deg(grid)).min(90.0) as f32 }
}

/// The mask as it comes back from storage: what a build computes from.
pub fn quantised(mask: &Mask, grid: SkyGrid) -> Mask {
    let horizon = |h: f32| horizon_deg(grid, horizon_level(grid, h));
    Mask {
        terrain_deg: mask.terrain_deg.map(horizon),
        solid_deg: mask.solid_deg.map(horizon),
        canopy: mask.canopy.clone(),
    }
}

/// Masks of one grid as bytes; the same masks give the same bytes.
pub fn pack(masks: &[Mask], grid: SkyGrid) -> Result<Vec<u8>, Error> {
    let fits = |m: &Mask| m.canopy.len() == grid.cells();
    let count = u32::try_from(masks.len()).ok().filter(|_| masks.iter().all(fits));
    let Some(count) = count else {
        return Err(Error::failed("packing sky masks", "a mask does not have the grid it is packed with", REPORT));
    };
    let mut plain = Vec::with_capacity(12 + masks.len() * (2 * AZIMUTH_BINS + FLAGS));
    plain.extend_from_slice(&grid.floor_deg.to_le_bytes());
    plain.extend_from_slice(&count.to_le_bytes());
    put_horizons(&mut plain, grid, masks.iter().map(|m| &m.terrain_deg));
    put_horizons(&mut plain, grid, masks.iter().map(|m| &m.solid_deg));
    for mask in masks {
        let mut flags = [0; FLAGS];
        for bin in columns(mask, grid) {
            flags[bin / 8] |= 1 << (bin % 8);
        }
        plain.extend_from_slice(&flags);
    }
    for mask in masks {
        for bin in columns(mask, grid) {
            plain.extend_from_slice(&mask.canopy[bin * grid.rows()..(bin + 1) * grid.rows()]);
        }
    }
    let mut zlib = ZlibEncoder::new(vec![VERSION], Compression::new(6));
    zlib.write_all(&plain)
        .and_then(|()| zlib.finish())
        .map_err(|e| Error::failed("packing sky masks", e.to_string(), REPORT))
}

const REPORT: &str = "this is a fault of the program; please report it";

/// Columns of a mask in which there is any canopy.
fn columns(mask: &Mask, grid: SkyGrid) -> impl Iterator<Item = usize> {
    let columns = mask.canopy.chunks_exact(grid.rows()).enumerate();
    columns.filter(|(_, column)| column.iter().any(|c| *c > 0)).map(|(bin, _)| bin)
}

fn put_horizons<'a>(plain: &mut Vec<u8>, grid: SkyGrid, horizons: impl Iterator<Item = &'a [f32; AZIMUTH_BINS]>) {
    let mut before = [0u8; AZIMUTH_BINS];
    for horizon in horizons {
        for (before, h) in before.iter_mut().zip(horizon) {
            let level = horizon_level(grid, *h);
            plain.push(level.wrapping_sub(*before));
            *before = level;
        }
    }
}

/// The grid and masks in packed bytes.
///
/// # Errors
/// The end of a sentence about the bytes: what is damaged.
pub fn unpack(bytes: &[u8]) -> Result<(SkyGrid, Vec<Mask>), String> {
    let (version, packed) = bytes.split_first().ok_or("is empty")?;
    if *version != VERSION {
        return Err(format!("format {version} is not known, this version reads format {VERSION}"));
    }
    let mut zlib = ZlibDecoder::new(packed);
    let mut plain = Vec::new();
    foreign("packed masks", || (&mut zlib).take(LARGEST + 1).read_to_end(&mut plain))
        .map_err(|broken| broken.to_string())?
        .map_err(|e| format!("cannot be unpacked: {e}"))?;
    if plain.len() as u64 > LARGEST {
        return Err("unpacks to more than any segment can hold".to_owned());
    }
    if zlib.total_in() != packed.len() as u64 {
        return Err("holds bytes after its end".to_owned());
    }
    let mut reader = PackReader { rest: &plain };
    let found = read_masks(&mut reader).ok_or("ends early or names an impossible grid")?;
    if !reader.rest.is_empty() {
        return Err("holds bytes after its last mask".to_owned());
    }
    Ok(found)
}

struct PackReader<'a> {
    rest: &'a [u8],
}

impl<'a> PackReader<'a> {
    fn take(&mut self, count: usize) -> Option<&'a [u8]> {
        let (taken, rest) = self.rest.split_at_checked(count)?;
        self.rest = rest;
        Some(taken)
    }
}

fn read_masks(reader: &mut PackReader) -> Option<(SkyGrid, Vec<Mask>)> {
    let floor_deg = f64::from_le_bytes(reader.take(8)?.try_into().ok()?);
    let count = u32::from_le_bytes(reader.take(4)?.try_into().ok()?) as usize;
    if !(floor_deg > -90.0 && floor_deg < 90.0) {
        return None;
    }
    let grid = SkyGrid { floor_deg };
    let horizons = count.checked_mul(AZIMUTH_BINS)?;
    let terrain = reader.take(horizons)?;
    let solid = reader.take(horizons)?;
    let flags = reader.take(count.checked_mul(FLAGS)?)?;
    // A mask in memory is larger than its share of the bytes: the sum is bounded as well.
    if (count as u64).checked_mul(grid.cells() as u64)? > 8 * LARGEST {
        return None;
    }
    let mut masks = vec![Mask::open(grid); count];
    let planes = terrain.chunks_exact(AZIMUTH_BINS).zip(solid.chunks_exact(AZIMUTH_BINS));
    let mut before = [[0u8; AZIMUTH_BINS]; 2];
    for (mask, (terrain, solid)) in masks.iter_mut().zip(planes) {
        read_horizons(grid, terrain, &mut before[0], &mut mask.terrain_deg);
        read_horizons(grid, solid, &mut before[1], &mut mask.solid_deg);
    }
    for (mask, flags) in masks.iter_mut().zip(flags.chunks_exact(FLAGS)) {
        for (bin, column) in mask.canopy.chunks_exact_mut(grid.rows()).enumerate() {
            if flags[bin / 8] >> (bin % 8) & 1 == 1 {
                column.copy_from_slice(reader.take(grid.rows())?);
            }
        }
    }
    Some((grid, masks))
}

fn read_horizons(grid: SkyGrid, differences: &[u8], before: &mut [u8; AZIMUTH_BINS], to: &mut [f32; AZIMUTH_BINS]) {
    for ((difference, before), to) in differences.iter().zip(before).zip(to) {
        *before = before.wrapping_add(*difference);
        *to = horizon_deg(grid, *before);
    }
}
