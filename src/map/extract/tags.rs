//! Reading single tags into numbers and words, with what could not be read counted.
//!
//! In: the tags of one object. Out: values in the units of [`super::model`]. Ranges say what can
//! exist at all; what is outside is a defect, not a value.
use std::ops::RangeInclusive;

use super::pbf::Tags;
use crate::base::defect::Defect;
use crate::base::units::{self, BadValue, Reading};
use crate::base::words::RoadAccess;

/// Heights of trees, buildings and walls, metres; the tallest building stands 828 m (Council on Tall Buildings and Urban Habitat, Burj Khalifa).
pub(crate) const HEIGHT_M: RangeInclusive<f64> = 0.1..=1_000.0;
/// Undersides above the ground, metres; a building may begin at the ground.
pub(crate) const MIN_HEIGHT_M: RangeInclusive<f64> = 0.0..=1_000.0;
/// Widths of roads, metres; a toll plaza is about the widest.
pub(crate) const WIDTH_M: RangeInclusive<f64> = 0.5..=200.0;
/// Posted clearances, metres.
pub(crate) const CLEARANCE_M: RangeInclusive<f64> = 0.5..=30.0;
/// Diameters of tree crowns, metres.
pub const CROWN_M: RangeInclusive<f64> = 0.1..=60.0;
/// Lanes or tracks of one way.
pub(crate) const LANES: RangeInclusive<f64> = 1.0..=30.0;
/// Storeys of a building.
pub(crate) const LEVELS: RangeInclusive<f64> = 0.0..=200.0;
/// Height of one storey, metres (common practice, no source).
pub(crate) const STOREY_M: f32 = 3.0;

/// Trouble met in the tags of one object: kind and `key=value`.
#[derive(Debug, Clone, Default, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
pub(crate) struct Issues(Vec<(Defect, String)>);

impl Issues {
    /// Notes one trouble; the same tag read for two features of an object counts once.
    pub fn add(&mut self, defect: Defect, tag: impl Into<String>) {
        let issue = (defect, tag.into());
        if !self.0.contains(&issue) {
            self.0.push(issue);
        }
    }
    /// All troubles, in the order they were met.
    pub fn iter(&self) -> impl Iterator<Item = (Defect, &str)> {
        self.0.iter().map(|(d, t)| (*d, t.as_str()))
    }
}

/// Reads tags of one object and notes what cannot be read.
pub(crate) struct TagReader<'t, 'i> {
    tags: &'t Tags<'t>,
    issues: &'i mut Issues,
}

impl<'t, 'i> TagReader<'t, 'i> {
    /// A reader over tags.
    pub fn new(tags: &'t Tags<'t>, issues: &'i mut Issues) -> Self {
        Self { tags, issues }
    }
    /// The tags.
    pub fn tags(&self) -> &'t Tags<'t> {
        self.tags
    }
    /// A value as written.
    pub fn text(&self, key: &str) -> Option<Box<str>> {
        self.tags.get(key).map(str::trim).filter(|v| !v.is_empty()).map(Into::into)
    }
    /// A value in lower case.
    pub fn lower(&self, key: &str) -> Option<Box<str>> {
        self.text(key).map(|v| v.to_lowercase().into())
    }
    /// The first of several keys that gives a length, metres.
    pub fn length_m(&mut self, keys: &[&str], range_m: RangeInclusive<f64>) -> Option<f32> {
        keys.iter().find_map(|key| {
            let text = self.tags.get(key)?;
            self.note(Defect::BadLength, key, text, units::length_m(text, range_m.clone())).map(|v| v as f32)
        })
    }
    /// The lowest clearance of several keys, metres.
    pub fn clearance_m(&mut self, keys: &[&str]) -> Option<f32> {
        let mut lowest: Option<f32> = None;
        for key in keys {
            let Some(text) = self.tags.get(key) else {
                continue;
            };
            let read = match units::maxheight_m(text, CLEARANCE_M) {
                Ok(None) => continue,
                Ok(Some(reading)) => Ok(reading),
                Err(e) => Err(e),
            };
            let Some(value) = self.note(Defect::BadLength, key, text, read) else {
                continue;
            };
            lowest = Some(lowest.map_or(value as f32, |l| l.min(value as f32)));
        }
        lowest
    }
    /// A count that may have a fraction.
    pub fn levels(&mut self, key: &str) -> Option<f32> {
        let text = self.tags.get(key)?;
        self.note(Defect::BadCount, key, text, units::count(text, LEVELS)).map(|v| v as f32)
    }
    /// A count of lanes or tracks; a fraction (`1.5`) is not a count.
    pub fn lanes(&mut self, key: &str) -> Option<u8> {
        let text = self.tags.get(key)?;
        let whole = match units::count(text, LANES) {
            Ok(r) if r.value.fract() != 0.0 => Err(BadValue::Unreadable),
            other => other,
        };
        self.note(Defect::BadCount, key, text, whole).map(|v| v as u8)
    }
    /// `layer`, -5..=5; 0 where silent.
    pub fn layer(&mut self) -> i8 {
        let Some(text) = self.tags.get("layer") else {
            return 0;
        };
        let whole = match units::count(text, -5.0..=5.0) {
            Ok(r) if r.value.fract() != 0.0 => Err(BadValue::Unreadable),
            other => other,
        };
        self.note(Defect::BadCount, "layer", text, whole).map_or(0, |v| v as i8)
    }
    /// Passes a reading on and notes what was wrong with it.
    pub(crate) fn note<T>(
        &mut self,
        bad: Defect,
        key: &str,
        text: &str,
        read: Result<Reading<T>, BadValue>,
    ) -> Option<T> {
        match read {
            Ok(reading) => {
                if reading.several {
                    self.issues.add(Defect::SeveralValues, format!("{key}={text}"));
                }
                Some(reading.value)
            }
            Err(_) => {
                self.issues.add(bad, format!("{key}={text}"));
                None
            }
        }
    }
}

/// Whether a tag is present with a meaning of "yes": neither `no`, `false`, `0` nor empty.
pub(crate) fn is_set(tags: &Tags, key: &str) -> bool {
    tags.get(key).is_some_and(|v| !matches!(v.trim(), "no" | "false" | "0" | ""))
}

/// Who may drive here, by the most specific tag present; `None` where nobody may.
pub(crate) fn vehicle_access(tags: &Tags) -> Option<RoadAccess> {
    for key in ["motorcar", "motor_vehicle", "vehicle", "access"] {
        if let Some(value) = tags.get(key) {
            return access_value(value);
        }
    }
    Some(RoadAccess::Open)
}

fn access_value(value: &str) -> Option<RoadAccess> {
    match value.trim() {
        "no" | "use_sidepath" | "dismount" => None,
        "yes" | "permissive" | "designated" | "official" | "unknown" | "public" | "" => Some(RoadAccess::Open),
        several if several.split(';').any(for_business) => Some(RoadAccess::Destination),
        _ => Some(RoadAccess::Private),
    }
}

/// Whether whoever has business there may drive there.
fn for_business(value: &str) -> bool {
    matches!(value.trim(), "destination" | "customers" | "delivery")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_most_specific_access_tag_decides() {
        let access = |pairs: &[(&'static str, &'static str)]| vehicle_access(&Tags::new(pairs.to_vec()));
        assert_eq!(access(&[]), Some(RoadAccess::Open));
        assert_eq!(access(&[("access", "no")]), None);
        assert_eq!(access(&[("access", "no"), ("motor_vehicle", "yes")]), Some(RoadAccess::Open));
        assert_eq!(access(&[("vehicle", "no"), ("access", "yes")]), None);
        assert_eq!(access(&[("vehicle", "no"), ("motor_vehicle", "destination")]), Some(RoadAccess::Destination));
        assert_eq!(access(&[("motor_vehicle", "agricultural; destination")]), Some(RoadAccess::Destination));
        assert_eq!(access(&[("access", "private")]), Some(RoadAccess::Private));
        assert_eq!(access(&[("motor_vehicle", "agricultural;forestry")]), Some(RoadAccess::Private));
    }

    #[test]
    fn lanes_are_whole_and_plausible() {
        let lanes = |text| {
            let mut issues = Issues::default();
            let tags = Tags::new(vec![("lanes", text)]);
            let value = TagReader::new(&tags, &mut issues).lanes("lanes");
            (value, issues.iter().map(|(d, _)| d).collect::<Vec<_>>())
        };
        assert_eq!(lanes("2"), (Some(2), vec![]));
        assert_eq!(lanes("2;3"), (Some(2), vec![Defect::SeveralValues]));
        for text in ["1.5", "-1", "60", "", "0"] {
            assert_eq!(lanes(text), (None, vec![Defect::BadCount]), "{text}");
        }
    }

    #[test]
    fn a_bad_first_key_falls_back_to_the_next_and_is_counted_once() {
        let mut issues = Issues::default();
        let tags = Tags::new(vec![("height", "tall"), ("est_height", "12")]);
        for _ in 0..2 {
            let value = TagReader::new(&tags, &mut issues).length_m(&["height", "est_height"], HEIGHT_M);
            assert_eq!(value, Some(12.0));
        }
        assert_eq!(issues.iter().collect::<Vec<_>>(), [(Defect::BadLength, "height=tall")]);
    }

    #[test]
    fn the_lowest_posted_clearance_counts() {
        let mut issues = Issues::default();
        let tags =
            Tags::new(vec![("maxheight:forward", "4.2"), ("maxheight:backward", "3.9"), ("maxheight", "default")]);
        let value =
            TagReader::new(&tags, &mut issues).clearance_m(&["maxheight", "maxheight:forward", "maxheight:backward"]);
        assert_eq!(value, Some(3.9));
        assert_eq!(issues, Issues::default());
        let comma = Tags::new(vec![("maxheight", "3,8")]);
        assert_eq!(TagReader::new(&comma, &mut issues).clearance_m(&["maxheight"]), None);
        assert_eq!(issues.iter().collect::<Vec<_>>(), [(Defect::BadLength, "maxheight=3,8")]);
    }
}
