//! The plan of a build: what was read and assumed, and which part every district has. A work folder holds it, so that shards
//! that were rated apart can be joined without the map.
use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use serde::{Deserialize, Serialize};

use super::inputs::PlannedInputs;
use super::named_parts::PartKey;
use crate::base::defect::Tally;
use crate::base::district::District;
use crate::base::error::{Error, Result};
use crate::base::files::stream_part;
use crate::base::input::{self, InputKind};
use crate::layer::SCHEMA_VERSION;
use crate::layer::model::BuildRecord;

/// Name of the file in a work folder.
pub(crate) const PLAN: &str = "plan.json";
/// Version of its form.
const VERSION: u32 = 3;

/// One district of a plan.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PlannedDistrict {
    /// Which; its name by the corner in the south-west.
    #[serde(with = "by_name")]
    pub district: District,
    /// Road in it, kilometres.
    pub km: f64,
    /// What its part depends on, as a hash.
    pub key: PartKey,
    /// SHA-256 of what is in its bundle, lower-case hexadecimal.
    pub bundle: String,
}

/// A plan.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct BuildPlan {
    /// Version of this form.
    version: u32,
    /// Version of the layer's tables.
    schema_version: u32,
    /// Hash of the program that made it.
    pub program: String,
    /// Where the inputs are.
    pub inputs: PlannedInputs,
    /// What was read and assumed; counts and kilometres come with the parts.
    pub record: BuildRecord,
    /// What is said if no satellite ever stands in the usable sky; nothing under the shells of the profile.
    pub never_seen: Option<NeverSeen>,
    /// Bad data of the inputs, by code.
    pub defects: BTreeMap<String, Tally>,
    /// All districts, in order.
    pub districts: Vec<PlannedDistrict>,
    /// SHA-256 of the file of names and water, lower-case hexadecimal.
    pub backdrop: String,
    /// Hash of everything else here: a plan that was changed by hand tells of a build that never was.
    sum: String,
}

/// The error of elements of which no satellite ever stands in the usable sky.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct NeverSeen {
    /// File of the elements.
    pub path: String,
    /// What is wrong.
    pub fact: String,
    /// What to do.
    pub next: String,
}

impl BuildPlan {
    /// A plan of this version.
    pub fn new(program: String, inputs: PlannedInputs, record: BuildRecord, districts: Vec<PlannedDistrict>) -> Self {
        Self {
            version: VERSION,
            schema_version: SCHEMA_VERSION,
            program,
            inputs,
            record,
            never_seen: None,
            defects: BTreeMap::new(),
            districts,
            backdrop: String::new(),
            sum: String::new(),
        }
    }
    /// Hash of all of it but the sum.
    fn summed(&self) -> Option<String> {
        let bare = Self { sum: String::new(), ..self.clone() };
        Some(PartKey::of([serde_json::to_vec(&bare).ok()?.as_slice()]).digits().to_owned())
    }
    /// Hash of what its parts depend on.
    pub fn hash(&self) -> String {
        let keys = self.districts.iter().map(|d| d.key.digits().as_bytes());
        PartKey::of([self.program.as_bytes()].into_iter().chain(keys)).digits().to_owned()
    }
    /// Road in all districts, kilometres.
    pub fn km(&self) -> f64 {
        self.districts.iter().map(|d| d.km).sum()
    }
    /// The districts of every shard: each in turn goes, longest first, to the shard that has least so far.
    pub fn shards(&self, count: usize) -> Vec<Vec<&PlannedDistrict>> {
        let mut order: Vec<&PlannedDistrict> = self.districts.iter().collect();
        order.sort_by(|a, b| b.km.total_cmp(&a.km).then(a.district.cmp(&b.district)));
        let mut shards: Vec<(f64, Vec<&PlannedDistrict>)> = vec![(0.0, Vec::new()); count.max(1)];
        for district in order {
            let least = shards.iter_mut().min_by(|a, b| a.0.total_cmp(&b.0));
            if let Some((km, own)) = least {
                *km += district.km;
                own.push(district);
            }
        }
        shards.into_iter().map(|(_, own)| own).collect()
    }
    /// Where two plans differ, in words; nothing where they are of the same build.
    pub fn differs(&self, other: &Self) -> Option<&'static str> {
        let inputs = |plan: &Self| plan.record.inputs.iter().map(|i| (i.role, i.sha256.clone())).collect::<Vec<_>>();
        match () {
            () if self.program != other.program => Some("program, GDAL or kind of processor"),
            () if self.record.profile != other.record.profile => Some("profile"),
            () if inputs(self) != inputs(other) => Some("extract, rasters, buildings or orbital elements"),
            () if self.record.timeline_start != other.record.timeline_start => Some("date of the satellites"),
            () if self.districts != other.districts => Some("region"),
            () => None,
        }
    }
    /// Puts a plan into a work folder, whole or not at all.
    ///
    /// # Errors
    /// The disk fails.
    pub fn write(&self, folder: &Path) -> Result<()> {
        let path = folder.join(PLAN);
        let failed = |e: std::io::Error| Error::io(&path, "cannot be written", &e, "check the disk, then run again");
        let whole = Self { sum: self.summed().unwrap_or_default(), ..self.clone() };
        let text = serde_json::to_string_pretty(&whole).map_err(|e| failed(e.into()))?;
        // Shards that work in one folder may write it at the same time.
        stream_part(&path, |out| out.write_all(text.as_bytes()).map_err(failed))
    }
    /// Removes the plan of a work folder, if there is one.
    ///
    /// # Errors
    /// The disk fails.
    pub fn remove(folder: &Path) -> Result<()> {
        let path = folder.join(PLAN);
        match fs::remove_file(&path) {
            Err(e) if e.kind() != std::io::ErrorKind::NotFound => {
                Err(Error::io(&path, "cannot be replaced", &e, "check the disk, then plan again"))
            }
            _ => Ok(()),
        }
    }
    /// Reads the plan of a work folder.
    ///
    /// # Errors
    /// There is none, or it is of another version or damaged.
    pub fn read(folder: &Path) -> Result<Self> {
        let path = folder.join(PLAN);
        let next =
            "give a work folder of `waymask shards` or of `waymask build --shard`, or plan again with `waymask shards`";
        let text = input::text(&path, InputKind::Plan, next)?;
        let version = serde_json::from_str::<Versions>(&text).ok();
        match version {
            Some(Versions { version: VERSION, schema_version: SCHEMA_VERSION }) => {}
            Some(_) => return Err(Error::file(&path, "is the plan of another version of waymask", next)),
            None => return Err(Error::file(&path, "is not a plan, or is damaged", next)),
        }
        let plan: Self = serde_json::from_str(&text)
            .map_err(|e| Error::file(&path, format!("is not a plan, or is damaged: {e}"), next))?;
        if plan.summed().is_none_or(|sum| sum != plan.sum) {
            return Err(Error::file(&path, "is damaged, or was changed by hand", next));
        }
        Ok(Self { sum: String::new(), ..plan })
    }
}

#[derive(Deserialize)]
struct Versions {
    version: u32,
    schema_version: u32,
}

mod by_name {
    use serde::{Deserialize, Deserializer, Serializer, de::Error};

    use crate::base::district::District;

    pub fn serialize<S: Serializer>(district: &District, to: S) -> Result<S::Ok, S::Error> {
        to.collect_str(district)
    }
    pub fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<District, D::Error> {
        String::deserialize(from)?.parse().map_err(D::Error::custom)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::geodesy::Position;
    use crate::build::options::BuildOptions;

    fn plan() -> BuildPlan {
        let district = |k: i32| PlannedDistrict {
            district: District::of(Position::from_deg(f64::from(k) * 0.25, 46.0)),
            km: f64::from(7 * k % 11),
            key: PartKey::of([[k as u8].as_slice()]),
            bundle: String::new(),
        };
        let inputs = PlannedInputs::of(&BuildOptions::new("x.osm.pbf".into(), "x.gpkg".into())).unwrap();
        BuildPlan::new("p".into(), inputs, BuildRecord::default(), (0..20).map(district).collect())
    }

    #[test]
    fn shards_hold_every_district_once_and_about_as_much_road_each() {
        let plan = plan();
        for count in [1, 3, 7, 30] {
            let shards = plan.shards(count);
            let mut all: Vec<District> = shards.iter().flatten().map(|d| d.district).collect();
            all.sort();
            assert_eq!(all, plan.districts.iter().map(|d| d.district).collect::<Vec<_>>());
            let km: Vec<f64> = shards.iter().map(|own| own.iter().map(|d| d.km).sum()).collect();
            let mean = plan.km() / count as f64;
            // Longest first: no shard has more than the mean and the longest district.
            assert!(km.iter().all(|km| *km <= mean + 10.0), "{km:?}");
        }
    }

    #[test]
    fn plans_come_back_and_strange_ones_are_told() {
        let folder = tempfile::tempdir().unwrap();
        let plan = plan();
        plan.write(folder.path()).unwrap();
        let back = BuildPlan::read(folder.path()).unwrap();
        assert_eq!((back.differs(&plan), &back), (None, &plan));
        let mut other = plan.clone();
        other.record.profile.link.drives += 1;
        assert_eq!(other.differs(&plan), Some("profile"));
        let text = fs::read_to_string(folder.path().join(PLAN)).unwrap();
        for (bad, fact) in [
            (text.replacen("\"version\": 3", "\"version\": 2", 1), "another version"),
            (text[..text.len() / 2].to_owned(), "damaged"),
            (text.replacen("n4600e00025", "n4601e00025", 1), "not the name of a district"),
            (text.replacen("\"strict\": false", "\"strict\": true", 1), "changed by hand"),
        ] {
            fs::write(folder.path().join(PLAN), bad).unwrap();
            let told = BuildPlan::read(folder.path()).unwrap_err().to_string();
            assert!(told.contains(fact), "{told}");
        }
    }
}
