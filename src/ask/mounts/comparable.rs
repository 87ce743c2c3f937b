//! Whether layers differ in their mount alone: what makes them answers to different questions is refused.
use crate::ask::diff::{BuildsCompared, ChangeKind, InputChange, KeyChange, KeyedPairs};
use crate::ask::elsewhere::check_roads;
use crate::base::count::counted;
use crate::base::error::{Error, Result};
use crate::base::files::is_same_file;
use crate::base::words::InputRole;
use crate::layer::Layer;

/// Most mounts compared: more columns are not read side by side.
pub const MOST_MOUNTS: usize = 8;

/// Keys that say where the panel is and what stands around it; sections end with a dot.
const OF_MOUNT: [&str; 4] = ["terminal.", "vehicle.antenna_height_m", "vehicle.vehicle_height_m", "link.margin_db"];

/// What to do where two layers are of different worlds.
const ALIKE: &str = "build both from the same files with the same region, and change only --profile";

/// Refuses layers that cannot be compared; what may be compared with care is said in sentences.
///
/// # Errors
/// Too many layers, other inputs or roads than the first, or a layer that cannot be read.
pub(super) fn check(layers: &[Layer]) -> Result<Vec<String>> {
    check_count(layers.len())?;
    let Some(first) = layers.first() else { return Ok(Vec::new()) };
    check_roads(first)?;
    let mut notes = Vec::new();
    for (nth, other) in layers.iter().enumerate().skip(1) {
        if is_same_file(first.path(), other.path()) {
            continue;
        }
        let builds = BuildsCompared::of(first.record(), other.record())?;
        check_inputs(first, other, &builds)?;
        check_same_roads(first, other)?;
        notes.extend(differences(nth + 1, other, first, &builds));
    }
    Ok(notes)
}

/// Refuses more layers than are read side by side, and none.
///
/// # Errors
/// There are too many, or none.
pub fn check_count(layers: usize) -> Result<()> {
    match layers {
        0 => Err(Error::usage("LAYER", "is missing", "give a layer for each mount")),
        1..=MOST_MOUNTS => Ok(()),
        many => {
            let next = format!("give at most {MOST_MOUNTS}, and compare the best of them again");
            Err(Error::usage("LAYER", format!("is given {many} times: too many to be read side by side"), next))
        }
    }
}

/// The error of two layers.
fn differ(first: &Layer, other: &Layer, fact: &str) -> Error {
    Error::file(other.path(), format!("cannot be compared with {}: {fact}", first.path().display()), ALIKE)
}

fn check_inputs(first: &Layer, other: &Layer, builds: &BuildsCompared) -> Result<()> {
    // Another extract makes everything else another, too.
    let extract = builds.inputs.iter().find(|change| change.role == InputRole::Extract);
    if let Some(change) = extract.or(builds.inputs.first()) {
        return Err(differ(first, other, &input_words(change)));
    }
    if let Some(timeline) = &builds.timeline {
        let told = |start: &Option<String>| start.clone().unwrap_or_else(|| "the shells of the profile".into());
        let fact =
            format!("drives are under other satellites (there {}, here {})", told(&timeline.old), told(&timeline.new));
        return Err(differ(first, other, &fact));
    }
    Ok(())
}

/// `another map extract (there a.osm.pbf, SHA-256 0123abcd; here none)`.
fn input_words(change: &InputChange) -> String {
    let told = |input: &Option<crate::ask::diff::InputTold>| match input {
        None => "none".to_owned(),
        Some(i) => {
            let scale = i
                .raster
                .as_ref()
                .map_or(String::new(), |r| format!(", {}, {} m per value", r.kind, r.metres_per_value));
            format!("{}, SHA-256 {}{scale}", i.name, i.sha256.chars().take(8).collect::<String>())
        }
    };
    let what = match change.role {
        InputRole::Extract => "another map extract",
        InputRole::Elevation => "other elevation",
        InputRole::Surface => "another surface model",
        InputRole::Canopy => "other heights of trees",
        InputRole::Buildings => "other buildings",
        InputRole::Orbits => "other orbital elements",
    };
    format!("{what} (there {}; here {})", told(&change.old), told(&change.new))
}

/// The same segments, drawn the same.
fn check_same_roads(first: &Layer, other: &Layer) -> Result<()> {
    let (mut only_first, mut only_other, mut redrawn, mut both) = (0_u64, 0_u64, 0_u64, 0_u64);
    for pair in KeyedPairs::of(first.segments_by_key()?, other.segments_by_key()?) {
        match pair?.kind() {
            ChangeKind::OnlyOld => only_first += 1,
            ChangeKind::OnlyNew => only_other += 1,
            ChangeKind::Redrawn => redrawn += 1,
            _ => both += 1,
        }
    }
    if only_first + only_other + redrawn == 0 {
        return Ok(());
    }
    let fact = match both + redrawn {
        0 => "they have no road in common: they are of different regions".to_owned(),
        _ => format!(
            "they do not hold the same roads ({} only there, {only_other} only here, {redrawn} drawn otherwise)",
            counted(only_first, "segment")
        ),
    };
    Err(differ(first, other, &fact))
}

/// What differs besides the mount, which figures may come from.
fn differences(number: usize, other: &Layer, first: &Layer, builds: &BuildsCompared) -> Vec<String> {
    let mut out = Vec::new();
    let (here, there) = (other.path().display(), first.path().display());
    if !builds.same_program {
        let [old, new] = [first, other].map(|layer| layer.record().waymask_version.clone());
        out.push(format!(
            "{there} was built by waymask {old} and {here} by {new}: another version may rate differently"
        ));
    }
    let is_of_mount = |key: &KeyChange| OF_MOUNT.iter().any(|mount| key.key.starts_with(mount));
    let more: Vec<String> = builds.keys.iter().filter(|key| !is_of_mount(key)).map(key_words).collect();
    if !more.is_empty() {
        out.push(format!("mount {number} differs from mount 1 in more than the mount: {}", more.join(", ")));
    }
    out
}

fn key_words(key: &KeyChange) -> String {
    let alike = if key.old == key.new { " (with other values)" } else { "" };
    format!("{} {} -> {}{alike}", key.key, key.old, key.new)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_to_eight_layers_are_compared() {
        assert!((1..=MOST_MOUNTS).all(|n| check_count(n).is_ok()));
        let said = check_count(9).unwrap_err();
        assert!(said.exit_code() == 2 && said.to_string().starts_with("LAYER: is given 9 times"), "{said}");
        assert!(check_count(0).is_err());
    }

    #[test]
    fn keys_of_the_mount_are_keys() {
        let known = |key: &str| crate::profile::keys::VALUES.iter().any(|k| k.path.starts_with(key));
        assert!(OF_MOUNT.into_iter().all(known), "a key was renamed");
    }
}
