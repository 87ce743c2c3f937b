//! Share of the distance shadowed along a tree-lined road: ITU-R P.681 against crowns and rays.
use waymask::map::extract::model::{CanopyShape, LeafType};
use waymask::physics::sky::foliage::blocked_probability;
use waymask::profile::Profile;

use crate::roadside::page::assert_shown;
use crate::roadside::published::percent_faded_deeper;
use crate::roadside::road::*;
use crate::scene::support::ANTENNA_M;

/// Elevations looked at, degrees.
const ELEVATIONS_DEG: [f64; 3] = [25.0, 40.0, 60.0];
/// Steps along the road, metres: shorter than a crown, and not a divisor of the pixels of a tile.
const STEP_M: f64 = 3.0;
/// Steps of the sweeps, metres.
const SWEEP_STEP_M: f64 = 5.0;
/// How far geometry and model may differ in the central case.
const FACTOR: f64 = 1.5;

fn percent(share: f64) -> String {
    format!("{:.0}", 100.0 * share)
}

/// Shares at the three elevations, as one cell.
fn cell(shares: &[f64]) -> String {
    shares.iter().map(|s| percent(*s)).collect::<Vec<_>>().join("/")
}

fn with_margin(margin_db: f64) -> Profile {
    let mut profile = Profile::default();
    profile.link.margin_db = margin_db;
    profile
}

/// Any leaves at all hide: what a camera sees.
fn optical() -> Profile {
    let mut profile = with_margin(0.1);
    (profile.canopy.between_ln, profile.canopy.within_ln) = (0.0, 0.05);
    profile
}

/// Middles of the azimuth bins within 45 degrees of square to a road to the north.
fn across_deg() -> Vec<f64> {
    let bins = (0..72).map(|bin| 2.5 + 5.0 * f64::from(bin));
    bins.filter(|a| a.to_radians().sin().abs() > 0.5_f64.sqrt()).collect()
}

#[test]
fn a_tree_lined_road_is_shadowed_as_measured_roads_are() {
    let canopy = CENTRAL.canopy();
    let found = shares_square(&canopy, STEP_M, &ELEVATIONS_DEG, &with_margin(5.0));
    let across = shares(&canopy, STEP_M, &ELEVATIONS_DEG, &with_margin(5.0), &across_deg());
    let seen = shares_square(&canopy, STEP_M, &ELEVATIONS_DEG, &optical());
    let head = ["elevation", "ITU-R P.681", "here", "ratio", "within 45 degrees of square", "any leaves"];
    let mut rows = vec![head.map(str::to_owned).to_vec()];
    for (i, elevation_deg) in ELEVATIONS_DEG.into_iter().enumerate() {
        let model = percent_faded_deeper(12.0, elevation_deg, 5.0) / 100.0;
        let ratio = found[i] / model;
        assert!((1.0 / FACTOR..FACTOR).contains(&ratio), "{elevation_deg} degrees: {} {model}", found[i]);
        let ratio = format!("{ratio:.2}");
        rows.push(vec![
            format!("{elevation_deg}°"),
            format!("{} %", percent(model)),
            format!("{} %", percent(found[i])),
            ratio,
            format!("{} %", percent(across[i])),
            format!("{} %", percent(seen[i])),
        ]);
    }
    assert_shown("central case", &rows);
    // Measured roads were shadowed to 55 % and more at 45 degrees, as a camera sees them; the page says 59 % of this one.
    let camera = shares_square(&canopy, STEP_M, &[45.0], &optical())[0];
    assert!((camera - 0.59).abs() < 0.01, "{camera}");
}

/// Path of a ray through the upright cylinder of a crown, metres, by the quadratic of its circle.
fn path_in_crown_m(tree: &Tree, (x_m, y_m): (f64, f64), azimuth_deg: f64, elevation_deg: f64, base_m: f64) -> f64 {
    let (east, north) = azimuth_deg.to_radians().sin_cos();
    let (dx, dy) = (tree.x_m - x_m, tree.y_m - y_m);
    let (along, off) = (dx * east + dy * north, dx * north - dy * east);
    let half_m = (CROWN_M * CROWN_M - off * off).max(0.0).sqrt();
    let tan = elevation_deg.to_radians().tan();
    let enter_m = (along - half_m).max((base_m - ANTENNA_M) / tan).max(0.0);
    let leave_m = (along + half_m).min((tree.height_m - ANTENNA_M) / tan);
    (leave_m - enter_m).max(0.0) / elevation_deg.to_radians().cos()
}

#[test]
fn crowns_in_pixels_hide_as_much_as_exact_cylinders() {
    // Planted farther apart than crowns are wide, so that no two overlap and paths add up.
    let road = TreeRoad { spacing: Spacing::Even(8.0), ..CENTRAL };
    let (trees, profile) = (road.trees(), with_margin(5.0));
    let found = shares_square(&road.canopy(), STEP_M, &ELEVATIONS_DEG, &profile);
    for (elevation_deg, found) in ELEVATIONS_DEG.into_iter().zip(found) {
        let (mut sum, mut rays) = (0.0, 0.0);
        for step in 0..=(2.0 * HALF_LENGTH_M / STEP_M) as usize {
            let y_m = step as f64 * STEP_M - HALF_LENGTH_M;
            let near: Vec<&Tree> = trees.iter().filter(|t| (t.y_m - y_m).abs() < 15.0).collect();
            for (lane_m, azimuth_deg) in [LANE_M, -LANE_M].into_iter().flat_map(|l| ACROSS_DEG.map(|a| (l, a))) {
                let base_share = profile.canopy.crown_base_share;
                let path =
                    |t: &&Tree| path_in_crown_m(t, (lane_m, y_m), azimuth_deg, elevation_deg, base_share * t.height_m);
                let path_m: f64 = near.iter().map(path).sum();
                sum += blocked_probability(
                    path_m,
                    0.0,
                    profile.link.margin_db,
                    profile.canopy.between_ln.hypot(profile.canopy.within_ln),
                );
                rays += 1.0;
            }
        }
        // Pixels of a metre move the side of a crown by up to half a metre, either way.
        assert!((found - sum / rays).abs() < 0.02, "{elevation_deg} degrees: {found} {}", sum / rays);
    }
}

/// The azimuths the caster looks along in the four bins next to square.
const ACROSS_DEG: [f64; 12] =
    [85.833, 87.5, 89.167, 90.833, 92.5, 94.167, 265.833, 267.5, 269.167, 270.833, 272.5, 274.167];

#[test]
fn trees_of_another_draw_give_the_same_shares() {
    let shares_of =
        |seed| shares_square(&TreeRoad { seed, ..CENTRAL }.canopy(), SWEEP_STEP_M, &ELEVATIONS_DEG, &with_margin(5.0));
    let (one, other) = (shares_of(1), shares_of(2));
    for (a, b) in one.iter().zip(&other) {
        // 1.2 km hold some 400 trees; what one draw says is within a ninth of what another does.
        assert!((a - b).abs() < 0.11 * a.max(*b), "{one:?} {other:?}");
    }
}

#[test]
fn the_margin_matters_less_to_crowns_than_to_the_model() {
    let canopy = CENTRAL.canopy();
    let mut rows = vec![["margin", "ITU-R P.681", "here"].map(str::to_owned).to_vec()];
    let mut here = Vec::new();
    for margin_db in [3.0, 5.0, 10.0] {
        let model = ELEVATIONS_DEG.map(|e| percent_faded_deeper(12.0, e, margin_db) / 100.0);
        let found = shares_square(&canopy, SWEEP_STEP_M, &ELEVATIONS_DEG, &with_margin(margin_db));
        rows.push(vec![format!("{margin_db} dB"), cell(&model), cell(&found)]);
        here.push(found);
    }
    assert!(here.windows(2).all(|m| m[0].iter().zip(&m[1]).all(|(less, more)| less > more)), "{here:?}");
    assert_shown("margins", &rows);
}

#[test]
fn heavy_sweep_of_offsets_and_heights() {
    let heights_m = [8.0, 12.0, 15.0, 18.0, 22.0];
    let mut rows = vec![vec!["offset".to_owned()]];
    rows[0].extend(heights_m.map(|h| format!("{h} m high")));
    let mut before: Option<Vec<Vec<f64>>> = None;
    for offset_m in [3.0, 5.0, 7.5, 10.0, 12.0] {
        let found: Vec<Vec<f64>> = heights_m
            .iter()
            .map(|height_m| {
                let road = TreeRoad { offset_m: Spread::only(offset_m), height_m: Spread::only(*height_m), ..CENTRAL };
                shares_square(&road.canopy(), SWEEP_STEP_M, &ELEVATIONS_DEG, &with_margin(5.0))
            })
            .collect();
        if let Some(nearer) = before {
            // Trees farther off hide no more of the sky high up.
            assert!(nearer.iter().zip(&found).all(|(n, f)| f[2] <= n[2] + 0.01), "{nearer:?} {found:?}");
        }
        rows.push([vec![format!("{offset_m} m")], found.iter().map(|s| cell(s)).collect()].concat());
        before = Some(found);
    }
    assert_shown("sweep", &rows);
}

#[test]
fn heavy_sweep_of_spacings() {
    let mut rows = vec![["trees", "25/40/60°"].map(str::to_owned).to_vec()];
    for (name, spacing) in [
        ("at random, 4 m apart on average", Spacing::Random(4.0)),
        ("at random, 6 m", Spacing::Random(6.0)),
        ("at random, 8 m", Spacing::Random(8.0)),
        ("at random, 12 m", Spacing::Random(12.0)),
        ("planted every 6 m", Spacing::Even(6.0)),
        ("planted every 8 m", Spacing::Even(8.0)),
        ("planted every 12 m", Spacing::Even(12.0)),
    ] {
        let canopy = TreeRoad { spacing, ..CENTRAL }.canopy();
        let found = shares_square(&canopy, SWEEP_STEP_M, &ELEVATIONS_DEG, &with_margin(5.0));
        rows.push(vec![name.to_owned(), cell(&found)]);
    }
    assert_shown("spacings", &rows);
}

/// What maps say more often than single trees, at the central offset and with the default height.
#[test]
fn rows_and_woods_leave_no_gaps_between_trees() {
    let (offset_m, end_m) = (7.5, HALF_LENGTH_M + 60.0);
    let trees = TreeRoad { offset_m: Spread::only(offset_m), height_m: Spread::only(15.0), ..CENTRAL };
    let mut row = wide_world();
    let trunks_m = LANE_M + offset_m + CROWN_M;
    for x_m in [trunks_m, -trunks_m] {
        let line = row.line(&[(x_m, -end_m), (x_m, end_m)]);
        row.add_trees(CanopyShape::Row(line), LeafType::Broadleaved, None);
    }
    let mut wood = wide_world();
    wood.add_wood(&[(-150.0, -end_m), (150.0, -end_m), (150.0, end_m), (-150.0, end_m)], LeafType::Broadleaved);
    wood.add_road(&[(0.0, -end_m), (0.0, end_m)], 7.0, (LANE_M + offset_m - 3.5) as f32, None);
    let of = |canopy| shares_square(&canopy, SWEEP_STEP_M, &ELEVATIONS_DEG, &with_margin(5.0));
    let (single, row, wood) = (of(trees.canopy()), of(row.canopy().unwrap()), of(wood.canopy().unwrap()));
    assert!(row[0] > 0.85 && wood[0] > 0.9 && single[0] < 0.7, "{single:?} {row:?} {wood:?}");
    let mut rows = vec![["mapped as", "25/40/60°"].map(str::to_owned).to_vec()];
    for (name, found) in [("single trees, at random, 6 m", single), ("a tree row", row), ("a wood", wood)] {
        rows.push(vec![name.to_owned(), cell(&found)]);
    }
    assert_shown("as mapped", &rows);
}

/// The program's crowns are upright cylinders. Here the upper half of an ellipsoid, in three steps at the middle of each ring.
#[test]
fn rounded_tops_hide_less_high_up() {
    let middle = |rho_m: f64| 0.625 + 0.375 * (1.0 - (rho_m / CROWN_M).powi(2)).sqrt();
    let round = CENTRAL.canopy_of(&[(6.0, middle(2.5)), (4.0, middle(1.5)), (2.0, middle(0.5))]);
    let of = |canopy| shares_square(&canopy, SWEEP_STEP_M, &ELEVATIONS_DEG, &with_margin(5.0));
    let (cylinder, round) = (of(CENTRAL.canopy()), of(round));
    assert!(round[2] < 0.9 * cylinder[2] && round[0] > 0.9 * cylinder[0], "{cylinder:?} {round:?}");
    let mut rows = vec![["crowns", "25/40/60°"].map(str::to_owned).to_vec()];
    rows.push(vec!["cylinders (the program)".to_owned(), cell(&cylinder)]);
    rows.push(vec!["rounded tops".to_owned(), cell(&round)]);
    assert_shown("shapes", &rows);
}
