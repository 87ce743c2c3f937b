//! Published relations that serve as references only; nothing here is part of the program.
//!
//! ITU-R P.681-11 as in a public implementation and in the Handbook of Propagation Effects for Vehicular and
//! Personal Mobile Satellite Systems (Goldhirsh and Vogel 1998), from which P.681 took its roadside models.
use std::f64::consts::SQRT_2;

/// Fade at 1.5 GHz that is exceeded over a share of the distance, decibels (P.681-11 section 4.1.1, its basic range 1 to 20 %).
fn roadside_fade_l_band_db(elevation_deg: f64, percent: f64) -> f64 {
    let m = 3.44 + 0.0975 * elevation_deg - 0.002 * elevation_deg * elevation_deg;
    let n = -0.443 * elevation_deg + 34.76;
    -m * percent.ln() + n
}

/// Fades at 0.8 to 20 GHz over the fade at 1.5 GHz (same section).
pub fn frequency_factor(frequency_ghz: f64) -> f64 {
    (1.5 * (1.0 / 1.5_f64.sqrt() - 1.0 / frequency_ghz.sqrt())).exp()
}

/// Fade that is exceeded over `percent` (1 to 80) of the distance along a tree-lined road, decibels; below 20 degrees the value at 20 degrees.
pub fn roadside_fade_db(frequency_ghz: f64, elevation_deg: f64, percent: f64) -> f64 {
    let elevation_deg = elevation_deg.max(20.0);
    let at = |p| frequency_factor(frequency_ghz) * roadside_fade_l_band_db(elevation_deg, p);
    if percent <= 20.0 { at(percent) } else { (at(20.0) * (80.0 / percent).ln() / 4_f64.ln()).max(0.0) }
}

/// The inverse: percent of the distance faded deeper than a margin, decibels.
pub fn percent_faded_deeper(frequency_ghz: f64, elevation_deg: f64, margin_db: f64) -> f64 {
    let at_20_db = roadside_fade_db(frequency_ghz, elevation_deg, 20.0);
    if margin_db <= at_20_db {
        return 80.0 * (-margin_db / at_20_db * 4_f64.ln()).exp();
    }
    // The basic range is a straight line in ln p.
    let at_1_db = roadside_fade_db(frequency_ghz, elevation_deg, 1.0);
    (20_f64.ln() * (at_1_db - margin_db) / (at_1_db - at_20_db)).exp()
}

/// Share of fades longer than a distance, metres: 5 dB at 1.5 GHz, 51 degrees (P.681-11 section 4.1.2).
pub fn fade_longer_than(distance_m: f64) -> f64 {
    let (median_m, spread_ln) = (0.22, 1.215);
    upper_tail((distance_m / median_m).ln() / spread_ln)
}

/// Percent of non-fades longer than a distance, metres: 5 dB at 1.5 GHz (P.681-11 section 4.1.3).
pub fn percent_open_longer_than(distance_m: f64, extreme: bool) -> f64 {
    if extreme { 11.71 * distance_m.powf(-0.8371) } else { 20.54 * distance_m.powf(-0.58) }
}

/// Probability that a standard normal variable lies above `z`, by adding up the density (trapezoids far finer than the digits checked).
fn upper_tail(z: f64) -> f64 {
    let density = |x: f64| (-x * x / 2.0).exp() / std::f64::consts::TAU.sqrt();
    let steps = 20_000;
    let width = z.abs() / f64::from(steps);
    let inner: f64 =
        (0..steps).map(|i| (density(f64::from(i) * width) + density(f64::from(i + 1) * width)) / 2.0).sum();
    0.5 - z.signum() * inner * width
}

/// Fade with leaves from the fade without, both decibels, at 20 GHz, bare fades of 1 to 15 dB (handbook, seasonal relation).
pub fn leaf_from_bare_db(bare_db: f64) -> f64 {
    0.351 + 6.8253 * bare_db.powf(0.5776)
}

/// Its inverse, leafy fades of 8 to 32 dB.
pub fn bare_from_leaf_db(leaf_db: f64) -> f64 {
    ((leaf_db - 0.351) / 6.8253).powf(1.0 / 0.5776)
}

/// Attenuation with the terminal inside a wood, decibels, from decibels per metre and its limit (P.833-10, woodland; to about 2 GHz).
pub fn woodland_db(path_m: f64, per_m_db: f64, most_db: f64) -> f64 {
    most_db * (1.0 - (-path_m * per_m_db / most_db).exp())
}

/// Percent of positions shadowed by buildings (P.681-11 section 4.2); `across_deg` between road and satellite.
fn percent_behind_buildings(across_deg: f64, elevation_deg: f64) -> f64 {
    // Vehicle 2 m high, 10 m in front of buildings of common height 10 m, 12 GHz, no Fresnel clearance.
    let (antenna_m, front_m, building_m) = (2.0, 10.0, 10.0);
    let h1_m = antenna_m + front_m * elevation_deg.to_radians().tan() / across_deg.to_radians().sin();
    100.0 * (-h1_m * h1_m / (2.0 * building_m * building_m)).exp()
}

fn near(found: f64, want: f64, tolerance: f64) {
    assert!((found - want).abs() <= tolerance, "{found}, not {want}");
}

/// The reference rows have three decimals.
const DB: f64 = 1e-3;

#[test]
fn roadside_fades_at_uhf_and_l_band() {
    let rows = [(20.0, 17.651, 10.449), (30.0, 14.632, 7.469), (45.0, 10.104, 4.176), (60.0, 5.575, 2.295)];
    for (elevation, at_1, at_10) in rows {
        near(roadside_fade_db(0.87, elevation, 1.0), at_1, DB);
        near(roadside_fade_db(0.87, elevation, 10.0), at_10, DB);
    }
    // As printed in the handbook (table 12-3), rounded there to half a decibel.
    let printed = [(20.0, 18.0, 10.5), (30.0, 15.0, 7.5), (45.0, 10.5, 4.0), (60.0, 5.5, 2.5)];
    for (elevation, at_1, at_10) in printed {
        near(roadside_fade_db(0.87, elevation, 1.0), at_1, 0.5);
        near(roadside_fade_db(0.87, elevation, 10.0), at_10, 0.5);
    }
    near(roadside_fade_db(1.5, 19.0, 1.0), 26.0, 0.5);
    near(roadside_fade_db(1.5, 19.0, 10.0), 15.5, 0.5);
    for (p, at_20, at_60) in [(1.0, 25.9, 8.18), (5.0, 18.513, 4.816), (10.0, 15.331, 3.368), (20.0, 12.15, 1.919)] {
        near(roadside_fade_db(1.5, 20.0, p), at_20, DB);
        near(roadside_fade_db(1.5, 60.0, p), at_60, DB);
    }
}

#[test]
fn frequency_scaling_of_roadside_fades() {
    let rows = [(0.87, 0.681_524), (10.0, 2.117_854), (12.0, 2.207_216), (14.0, 2.279_265), (20.0, 2.433_510)];
    for (frequency, factor) in rows {
        near(frequency_factor(frequency), factor, 1e-6);
    }
    for (p, want) in [(1.0, 41.467), (5.0, 25.252), (10.0, 18.269), (20.0, 11.286)] {
        near(roadside_fade_db(20.0, 40.0, p), want, DB);
    }
}

#[test]
fn roadside_fades_at_12_ghz() {
    const PERCENT: [f64; 6] = [1.0, 5.0, 10.0, 20.0, 30.0, 50.0];
    const ROWS: [(f64, [f64; 6]); 9] = [
        (20.0, [57.167, 40.861, 33.839, 26.817, 18.973, 9.092]),
        (25.0, [52.278, 35.839, 28.760, 21.680, 15.339, 7.350]),
        (30.0, [47.389, 31.172, 24.188, 17.204, 12.172, 5.833]),
        (35.0, [42.500, 26.861, 20.125, 13.390, 9.473, 4.540]),
        (40.0, [37.611, 22.904, 16.570, 10.236, 7.242, 3.470]),
        (45.0, [32.722, 19.303, 13.524, 7.744, 5.479, 2.626]),
        (50.0, [27.833, 16.057, 10.985, 5.913, 4.184, 2.005]),
        (55.0, [22.944, 13.166, 8.955, 4.744, 3.356, 1.608]),
        (60.0, [18.055, 10.631, 7.433, 4.235, 2.997, 1.436]),
    ];
    for (elevation, row) in ROWS {
        for (p, want) in PERCENT.into_iter().zip(row) {
            near(roadside_fade_db(12.0, elevation, p), want, DB);
        }
    }
    near(roadside_fade_db(12.0, 25.0, 80.0), 0.0, 1e-9);
    near(roadside_fade_db(12.0, 10.0, 5.0), 40.861, DB);
}

#[test]
fn share_of_distance_faded_deeper_than_a_margin() {
    let rows = [(25.0, [66.04, 58.11, 42.21]), (40.0, [53.29, 40.65, 20.65]), (60.0, [29.97, 16.95, 5.73])];
    for (elevation, row) in rows {
        for (margin_db, want) in [3.0, 5.0, 10.0].into_iter().zip(row) {
            let found = percent_faded_deeper(12.0, elevation, margin_db);
            // Rows rounded to two decimals.
            near(found, want, 0.006);
            near(roadside_fade_db(12.0, elevation, found), margin_db, 1e-9);
        }
    }
}

#[test]
fn fade_and_non_fade_durations() {
    let rows = [
        (0.02, 0.975_785),
        (0.1, 0.741_81),
        (0.22, 0.5),
        (0.5, 0.249_614),
        (1.0, 0.106_346),
        (2.0, 0.034_633),
        (5.0, 0.005_073),
        (10.0, 0.000_841),
    ];
    for (x, want) in rows {
        near(fade_longer_than(x), want, 1e-5);
    }
    // Percentiles of the same law, and its mean by its closed form.
    for (x, share) in [(1.044, 0.1), (1.623, 0.05), (3.715, 0.01)] {
        near(fade_longer_than(x), share, 1e-4);
    }
    near(0.22 * (1.215_f64 * 1.215 / 2.0).exp(), 0.4602, 1e-4);
    for (x, moderate, extreme) in [(1.0, 20.54, 11.71), (10.0, 5.403, 1.704)] {
        near(percent_open_longer_than(x, false), moderate, 0.01);
        near(percent_open_longer_than(x, true), extreme, 0.01);
    }
    near(upper_tail(SQRT_2), 0.078_650, 1e-6);
}

#[test]
fn fades_with_leaves_from_fades_without() {
    for (bare, leaf) in [(1.0, 7.1763), (2.0, 10.5368), (5.0, 17.6431), (10.0, 26.1571), (15.0, 32.9671)] {
        near(leaf_from_bare_db(bare), leaf, DB);
    }
    for (leaf, bare) in [(8.0, 1.2181), (10.0, 1.8210), (20.0, 6.238)] {
        near(bare_from_leaf_db(leaf), bare, DB);
    }
}

#[test]
fn woodland_and_building_rows() {
    for (d, want) in [(10.0, 3.236), (50.0, 13.387), (100.0, 21.5185)] {
        near(woodland_db(d, 0.34, 34.1), want, DB);
    }
    near(percent_behind_buildings(90.0, 25.0), 80.0929, DB);
    near(percent_behind_buildings(45.0, 25.0), 69.1194, DB);
}
