//! Every assumption moved by itself over the range it may well have.
use super::answers::{self, KeyAnswer};
use super::model::{Refused, RerateAnswer};
use super::rated::{Rated, RerateWork, stored_outcome};
use super::stored::Stored;
use crate::base::error::Result;
use crate::profile::{Profile, keys, source};

/// Values an assumption may well have (all assumed), lower and upper. The seed is among them to show what the luck
/// of the draws alone moves: what moves less is not told apart from it.
const SPANS: &[(&str, [f64; 2])] = &[
    ("link.seed", [2.0, 3.0]),
    ("link.usable_share", [0.25, 0.8]),
    ("link.reselection_s", [0.3, 3.0]),
    ("link.slot_s", [5.0, 60.0]),
    ("link.awareness", [0.0, 1.0]),
    ("link.glimpse_s", [0.5, 5.0]),
    ("link.hold_s", [0.5, 5.0]),
    ("link.reacquire_s", [0.0, 20.0]),
    ("link.reacquire_from_s", [5.0, 30.0]),
    ("link.elevation_preference", [0.0, 3.0]),
    ("link.margin_db", [3.0, 8.0]),
    ("canopy.between_ln", [0.3, 0.9]),
    ("canopy.within_ln", [0.3, 0.7]),
    ("canopy.gap_length_m", [2.0, 10.0]),
    ("vehicle.speed_factor", [0.8, 1.2]),
    ("vehicle.power_w_per_kg", [12.0, 50.0]),
    ("terminal.scan_half_angle_deg", [45.0, 65.0]),
    ("terminal.lowest_elevation_deg", [20.0, 40.0]),
    ("constellation.geostationary_exclusion_deg", [0.0, 18.0]),
];

/// Moves every assumption and sorts by the kilometres whose rating changes.
pub(super) fn sweep(work: &RerateWork) -> Result<RerateAnswer> {
    let (stored, progress) = (work.stored, work.progress);
    let (variants, narrow) = variants(stored)?;
    let count = stored.strokes.len() * (variants.len() + 1);
    progress.begin("link", "strokes", Some(count as u64));
    let unchanged = Rated::as_stated(work, &stored.profile)?.change(stored)?;
    let mut changes = Vec::with_capacity(variants.len());
    for profile in &variants {
        changes.push(Rated::as_stated(work, profile)?.change(stored)?);
    }
    progress.end();
    changes.sort_by(|a, b| b.moved_km().total_cmp(&a.moved_km()));
    let never = |path: &'static str| match answers::answer(path) {
        KeyAnswer::Never(why) => Some(Refused::new(path, why)),
        _ => None,
    };
    let mut refused = narrow;
    refused.extend(keys::VALUES.iter().filter_map(|k| never(k.path)));
    let not_reproduced_km = Some(unchanged.moved_km());
    let roadside_km = roadside_km(stored);
    Ok(RerateAnswer { stored: stored_outcome(work.layer, stored)?, not_reproduced_km, roadside_km, changes, refused })
}

/// Kilometres whose best and worst are apart or not known.
pub(super) fn roadside_km(stored: &Stored) -> f64 {
    let apart = stored.rows.iter().filter(|row| row.rating_worst != Some(row.rating_best));
    apart.map(|row| row.length_m / 1000.0).sum()
}

/// Profiles to rate under, and what the masks end too high for.
fn variants(stored: &Stored) -> Result<(Vec<Profile>, Vec<Refused>)> {
    let (mut variants, mut narrow) = (Vec::new(), Vec::new());
    for (path, values) in SPANS {
        for value in values {
            let value = if *path == "link.seed" { format!("{path}={value:.0}") } else { format!("{path}={value:?}") };
            let profile = source::with_values(&stored.profile, &[value])?;
            if answers::check(&stored.profile, stored.masks.grid.floor_deg, &profile).is_err() {
                narrow.push(Refused::new(path, "a wider cone looks below the stored masks"));
            } else if profile != stored.profile && profile.terminal.floor_deg() < 90.0 {
                variants.push(profile);
            }
        }
    }
    Ok((variants, narrow))
}
