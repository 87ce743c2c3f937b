//! Packed masks come back as they were computed with, and damage is found.
use proptest::prelude::*;
use waymask::physics::sky::mask::{AZIMUTH_BINS, Mask, SkyGrid};
use waymask::physics::sky::pack::{pack, quantised, unpack};

use super::support::GRID;

fn mask(grid: SkyGrid, seed: u64) -> Mask {
    // A plain linear congruential sequence: any spread of values will do.
    let mut state = seed;
    let mut next = || {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (state >> 40) as f32 / (1 << 24) as f32
    };
    let mut m = Mask::open(grid);
    for bin in 0..AZIMUTH_BINS {
        m.terrain_deg[bin] = next() * 120.0 - 30.0;
        m.solid_deg[bin] = if next() < 0.7 { -90.0 } else { next() * 90.0 };
        if next() < 0.4 {
            for row in 0..grid.rows() {
                m.canopy[grid.cell(bin, row)] = (next() * 255.0) as u8;
            }
        }
    }
    m
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]
    #[test]
    fn what_is_unpacked_is_what_was_quantised(seed in any::<u64>(), count in 0usize..5, floor in 0.0..60.0f64) {
        let grid = SkyGrid { floor_deg: floor };
        let masks: Vec<Mask> = (0..count).map(|i| mask(grid, seed.wrapping_add(i as u64))).collect();
        let bytes = pack(&masks, grid).unwrap();
        let (found_grid, found) = unpack(&bytes).unwrap();
        prop_assert_eq!(found_grid, grid);
        prop_assert_eq!(found.len(), count);
        for (found, original) in found.iter().zip(&masks) {
            let want = quantised(original, grid);
            prop_assert_eq!(found, &want);
            prop_assert_eq!(&quantised(&want, grid), &want);
            for bin in 0..AZIMUTH_BINS {
                // At most half a step of 90/255 degrees off; below the floor nothing is kept.
                let (a, b) = (original.terrain_deg[bin].clamp(floor as f32, 90.0), want.terrain_deg[bin].max(floor as f32));
                prop_assert!((a - b).abs() <= 0.18, "{} {}", a, b);
            }
            prop_assert_eq!(&original.canopy, &want.canopy);
        }
        prop_assert_eq!(pack(&masks, grid).unwrap(), bytes);
    }
    #[test]
    fn damaged_bytes_never_panic(seed in any::<u64>(), at in 0usize..10_000, bit in 0u8..8, cut in 0usize..10_000) {
        let masks = [mask(GRID, seed), mask(GRID, seed ^ 1)];
        let bytes = pack(&masks, GRID).unwrap();
        let mut flipped = bytes.clone();
        let place = at % bytes.len();
        flipped[place] ^= 1 << bit;
        if let Ok((_, found)) = unpack(&flipped) {
            // Only bits that carry no data (the compression level in the header) may change unseen.
            prop_assert_eq!(found, masks.iter().map(|m| quantised(m, GRID)).collect::<Vec<_>>());
        }
        prop_assert!(unpack(&bytes[..cut % bytes.len()]).is_err());
        let noise: Vec<u8> = mask(GRID, seed).canopy;
        prop_assert!(unpack(&noise).is_err());
    }
}

#[test]
fn bombs_trailers_and_foreign_versions_are_errors() {
    use std::io::Write;
    let zlib = |plain: &[u8]| {
        let mut z = flate2::write::ZlibEncoder::new(vec![2u8], flate2::Compression::best());
        z.write_all(plain).unwrap();
        z.finish().unwrap()
    };
    assert!(unpack(&zlib(&vec![0; 40 << 20])).is_err(), "unpacks to 40 MB");
    let mut impossible = 25f64.to_le_bytes().to_vec();
    impossible.extend_from_slice(&u32::MAX.to_le_bytes());
    assert!(unpack(&zlib(&impossible)).is_err(), "four thousand million masks");
    let mut no_floor = f64::NAN.to_le_bytes().to_vec();
    no_floor.extend_from_slice(&0u32.to_le_bytes());
    assert!(unpack(&zlib(&no_floor)).is_err());
    let mut bytes = pack(&[Mask::open(GRID)], GRID).unwrap();
    assert!(bytes.len() < 64, "an open mask is small: {}", bytes.len());
    bytes.push(0);
    assert!(unpack(&bytes).is_err(), "a byte after the end");
    bytes.pop();
    bytes[0] = 3;
    assert!(unpack(&bytes).unwrap_err().contains("format 3"));
    assert!(unpack(&[]).is_err());
    assert!(pack(&[Mask::open(SkyGrid { floor_deg: 10.0 })], GRID).is_err());
}
