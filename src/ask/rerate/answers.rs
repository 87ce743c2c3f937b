//! Which changes of a profile stored masks can answer, and why not the others.
use crate::base::error::{Error, Result};
use crate::base::settings::{as_table, value_at};
use crate::profile::{Profile, keys};

/// How a layer answers a change of one key.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum KeyAnswer {
    /// As a new build would.
    Exact,
    /// Not at all, for this reason.
    Never(&'static str),
}

/// How a layer answers a change of a key, given as `section.key`.
pub fn answer(path: &str) -> KeyAnswer {
    match path {
        "vehicle.antenna_height_m" => KeyAnswer::Never("the sky was computed from another height"),
        "vehicle.vehicle_height_m" => KeyAnswer::Never("posted clearances are compared only in a build"),
        "vehicle.lateral_mps2" | "vehicle.paved_track_kmh" => {
            KeyAnswer::Never("speeds of roads are worked out only in a build")
        }
        "vehicle.lane" | "vehicle.driving_side" => {
            KeyAnswer::Never("the sky was computed over the lane driven in the build")
        }
        "sampling.refraction" => KeyAnswer::Never("horizons are fixed in the stored masks"),
        _ if path.starts_with("stop.") => KeyAnswer::Never("places beside a stop are examined only in a build"),
        _ if path.starts_with("relief.") => KeyAnswer::Never("elevation is read only in a build"),
        _ if path.starts_with("sampling.") => KeyAnswer::Never("roads are cut and sampled only in a build"),
        "canopy.between_ln" | "canopy.within_ln" | "canopy.gap_length_m" => KeyAnswer::Exact,
        _ if path.starts_with("canopy.") => KeyAnswer::Never("crowns and leaves are fixed in the stored masks"),
        _ if ["link.", "terminal.", "constellation.", "rating.", "vehicle."].iter().any(|s| path.starts_with(s)) => {
            KeyAnswer::Exact
        }
        _ if path.starts_with("surroundings.") => KeyAnswer::Never("the map around the roads is read only in a build"),
        _ => KeyAnswer::Never("what stands beside the road is fixed in the stored masks"),
    }
}

/// Keys in which two profiles differ.
pub(crate) fn differing(a: &Profile, b: &Profile) -> Result<Vec<&'static str>> {
    let (a, b) = (as_table(a)?, as_table(b)?);
    Ok(keys::VALUES.iter().map(|k| k.path).filter(|path| value_at(&a, path) != value_at(&b, path)).collect())
}

/// The value of a key as people read it.
pub(crate) fn told_value(path: &str, profile: &Profile) -> Result<String> {
    let table = as_table(profile)?;
    Ok(value_at(&table, path).map_or("none".to_owned(), |value| match value.as_array() {
        Some(items) => format!("[{} given]", items.len()),
        None => value.to_string(),
    }))
}

/// Refuses a profile that the masks of a layer built with `stored` cannot answer.
///
/// # Errors
/// Names every key at fault with the reason.
pub fn check(stored: &Profile, mask_floor_deg: f64, wanted: &Profile) -> Result<()> {
    let never = |path: &'static str| match answer(path) {
        KeyAnswer::Never(why) => Some(format!("{path} ({why})")),
        _ => None,
    };
    let mut at_fault: Vec<String> = differing(stored, wanted)?.into_iter().filter_map(never).collect();
    let floor_deg = wanted.terminal.floor_deg();
    // Rounding of a floor that was computed from the same figures.
    if floor_deg < mask_floor_deg - 1e-9 {
        at_fault.push(format!(
            "terminal (the masks end at {mask_floor_deg} degrees of elevation, this panel would look down to {floor_deg})"
        ));
    }
    if at_fault.is_empty() {
        return Ok(());
    }
    let fact = format!("stored masks cannot show what changes with {}", at_fault.join(", "));
    Err(Error::usage("profile", fact, "build the layer again with this profile (`waymask build -p`)"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::profile::source::with_values;

    fn with(set: &str) -> Profile {
        with_values(&Profile::default(), &[set.to_owned()]).unwrap()
    }

    #[test]
    fn what_masks_hold_is_answered_and_what_they_do_not_is_refused_with_its_reason() {
        let stored = Profile::default();
        let floor_deg = stored.terminal.floor_deg();
        for set in ["link.slot_s=5", "terminal.scan_half_angle_deg=50", "link.margin_db=6", "vehicle.speed_factor=0.8"]
        {
            check(&stored, floor_deg, &with(set)).unwrap();
        }
        for (set, word) in [
            ("vehicle.antenna_height_m=3", "another height"),
            ("canopy.season=leaf-off", "leaves"),
            ("roadside.cutting_depth_m=5", "beside the road"),
            ("building.other_m=12", "beside the road"),
            ("barrier.cliff_m=12", "beside the road"),
            ("surroundings.mapped_trees=3", "around the roads"),
            ("vehicle.lateral_mps2=2", "worked out only in a build"),
            ("roadside.clear_track_m=1.0", "beside the road"),
            ("terminal.scan_half_angle_deg=60", "end at 35 degrees"),
            ("terminal.tilt_deg=5", "down to 30"),
            ("sampling.segment_length_m=100", "cut"),
            ("stop.reach_m=20", "beside a stop"),
        ] {
            let said = check(&stored, floor_deg, &with(set)).unwrap_err().to_string();
            assert!(said.contains(word) && said.contains("Build the layer again"), "{said}");
        }
        assert_eq!(differing(&stored, &with("link.slot_s=5")).unwrap(), ["link.slot_s"]);
    }
}
