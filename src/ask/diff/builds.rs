//! Whether two layers can be compared: who built them, under which assumptions, from what.
use serde::Serialize;

use crate::ask::rerate::answers::{differing, told_value};
use crate::base::error::Result;
use crate::base::words::InputRole;
use crate::layer::model::{BuildRecord, InputRecord, RasterRecord};

/// What differs between two builds.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct BuildsCompared {
    /// One version of the program wrote both.
    pub same_program: bool,
    /// Keys of the profile that differ.
    pub keys: Vec<KeyChange>,
    /// Start of the timelines, where drives are under real satellites in only one, or from another moment.
    pub timeline: Option<TimelineChange>,
    /// Inputs that differ.
    pub inputs: Vec<InputChange>,
}

/// Starts of timelines, RFC 3339; nothing where drives are under the shells of the profile.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct TimelineChange {
    /// In the old layer.
    pub old: Option<String>,
    /// In the new layer.
    pub new: Option<String>,
}

/// A key of the profile and its values.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct KeyChange {
    /// `section.key`.
    pub key: &'static str,
    /// In the old layer.
    pub old: String,
    /// In the new layer.
    pub new: String,
}

/// An input that is another file, or is read another way; nothing where a layer has none in its place.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct InputChange {
    /// What it was used for.
    pub role: InputRole,
    /// Of the old layer.
    pub old: Option<InputTold>,
    /// Of the new layer.
    pub new: Option<InputTold>,
}

/// An input as people tell it from another.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct InputTold {
    /// File name.
    pub name: String,
    /// Size, bytes.
    pub bytes: u64,
    /// SHA-256, hexadecimal.
    pub sha256: String,
    /// Date of the data where the file gives it, RFC 3339.
    pub data_time: Option<String>,
    /// How the heights of a raster were read.
    pub raster: Option<RasterRecord>,
}

impl InputTold {
    fn of(input: &InputRecord) -> Self {
        let InputRecord { name, bytes, sha256, data_time, raster, .. } = input.clone();
        Self { name, bytes, sha256, data_time, raster }
    }
    /// Whether it holds the same, whatever it is called.
    fn holds_same(&self, other: &Self) -> bool {
        (self.bytes, &self.sha256, &self.raster) == (other.bytes, &other.sha256, &other.raster)
    }
}

impl BuildsCompared {
    /// From two records.
    pub(in crate::ask) fn of(old: &BuildRecord, new: &BuildRecord) -> Result<Self> {
        let key = |key: &'static str| {
            let [old, new] = [told_value(key, &old.profile)?, told_value(key, &new.profile)?];
            Ok(KeyChange { key, old, new })
        };
        let timeline = TimelineChange { old: old.timeline_start.clone(), new: new.timeline_start.clone() };
        Ok(Self {
            same_program: old.waymask_version == new.waymask_version,
            keys: differing(&old.profile, &new.profile)?.into_iter().map(key).collect::<Result<_>>()?,
            timeline: (timeline.old != timeline.new).then_some(timeline),
            inputs: InputRole::ALL.iter().flat_map(|role| inputs(*role, old, new)).collect(),
        })
    }
    /// Whether one program worked on the same inputs under the same assumptions.
    pub fn is_same(&self) -> bool {
        self.same_program && self.is_same_profile() && self.inputs.is_empty()
    }
    /// Whether the assumptions are the same.
    pub fn is_same_profile(&self) -> bool {
        self.keys.is_empty() && self.timeline.is_none()
    }
}

/// Inputs of a role that differ: those of one name first, then the others in their order.
fn inputs(role: InputRole, old: &BuildRecord, new: &BuildRecord) -> Vec<InputChange> {
    let of_role = |record: &BuildRecord| -> Vec<InputTold> {
        record.inputs.iter().filter(|i| i.role == role).map(InputTold::of).collect()
    };
    let (mut old, mut new) = (of_role(old), of_role(new));
    pair_off(&mut old, &mut new, InputTold::holds_same);
    let mut out = pair_off(&mut old, &mut new, |a, b| a.name == b.name);
    out.extend(pair_off(&mut old, &mut new, |_, _| true));
    let alone = old.into_iter().map(|i| (Some(i), None)).chain(new.into_iter().map(|i| (None, Some(i))));
    let paired = out.into_iter().map(|(old, new)| (Some(old), Some(new)));
    paired.chain(alone).map(|(old, new)| InputChange { role, old, new }).collect()
}

/// Takes out of both lists what belongs together, one of each at a time.
fn pair_off(
    old: &mut Vec<InputTold>,
    new: &mut Vec<InputTold>,
    belongs: impl Fn(&InputTold, &InputTold) -> bool,
) -> Vec<(InputTold, InputTold)> {
    let (mut pairs, mut left) = (Vec::new(), Vec::new());
    for input in old.drain(..) {
        match new.iter().position(|other| belongs(&input, other)) {
            Some(i) => pairs.push((input, new.remove(i))),
            None => left.push(input),
        }
    }
    *old = left;
    pairs
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::profile::Profile;
    use crate::profile::source::with_values;

    fn input(role: InputRole, name: &str, sha256: &str) -> InputRecord {
        InputRecord { name: name.into(), role, sha256: sha256.into(), ..InputRecord::default() }
    }

    fn record(inputs: Vec<InputRecord>) -> BuildRecord {
        BuildRecord { inputs, ..BuildRecord::default() }
    }

    #[test]
    fn inputs_are_told_apart_by_what_they_hold_and_paired_by_name() {
        use InputRole::{Canopy, Elevation, Extract};
        let old = record(vec![
            input(Extract, "map.pbf", "aa"),
            input(Elevation, "n46.tif", "bb"),
            input(Elevation, "n47.tif", "cc"),
            input(Elevation, "n48.tif", "dd"),
        ]);
        let new = record(vec![
            input(Extract, "june.pbf", "ab"),
            // Renamed, and in another order.
            input(Elevation, "tile.tif", "cc"),
            input(Elevation, "n46.tif", "be"),
            input(Canopy, "trees.tif", "ee"),
        ]);
        let told = |compared: BuildsCompared| -> Vec<(InputRole, Option<String>, Option<String>)> {
            compared.inputs.into_iter().map(|c| (c.role, c.old.map(|i| i.name), c.new.map(|i| i.name))).collect()
        };
        let some = |name: &str| Some(name.to_owned());
        let want = vec![
            (Extract, some("map.pbf"), some("june.pbf")),
            (Elevation, some("n46.tif"), some("n46.tif")),
            (Elevation, some("n48.tif"), None),
            (Canopy, None, some("trees.tif")),
        ];
        assert_eq!(told(BuildsCompared::of(&old, &new).unwrap()), want);
        let mirrored: Vec<_> = want.into_iter().map(|(role, old, new)| (role, new, old)).collect();
        assert_eq!(told(BuildsCompared::of(&new, &old).unwrap()), mirrored);
        assert!(BuildsCompared::of(&old, &old).unwrap().is_same());
    }

    #[test]
    fn a_raster_read_at_another_scale_is_another_input() {
        let of = |metres_per_value| {
            let raster = Some(RasterRecord { kind: "canopy".into(), pixel_m: 10.0, metres_per_value });
            record(vec![InputRecord { raster, ..input(InputRole::Canopy, "trees.tif", "ee") }])
        };
        assert_eq!(BuildsCompared::of(&of(1.0), &of(0.1)).unwrap().inputs.len(), 1);
        assert!(BuildsCompared::of(&of(0.1), &of(0.1)).unwrap().is_same());
    }

    #[test]
    fn keys_that_differ_come_with_their_values() {
        let with = |set: &str| with_values(&Profile::default(), &[set.to_owned()]).unwrap();
        let of = |profile| BuildRecord { profile, ..BuildRecord::default() };
        let compared = BuildsCompared::of(&of(with("link.slot_s=5")), &of(with("link.slot_s=30"))).unwrap();
        assert_eq!(compared.keys, [KeyChange { key: "link.slot_s", old: "5.0".into(), new: "30.0".into() }]);
        assert!(!compared.is_same() && !compared.is_same_profile());
        let later = BuildRecord { timeline_start: Some("2026-08-01T00:00:00Z".into()), ..BuildRecord::default() };
        assert!(!BuildsCompared::of(&BuildRecord::default(), &later).unwrap().is_same_profile());
        let newer = BuildRecord { waymask_version: "9.9.9".into(), ..BuildRecord::default() };
        assert!(!BuildsCompared::of(&BuildRecord::default(), &newer).unwrap().same_program);
    }
}
