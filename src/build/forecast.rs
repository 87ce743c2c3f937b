//! What a build takes, told before it begins.
use super::plan::PlannedDistrict;
use crate::profile::Profile;

/// Processor time and space that districts take.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Forecast {
    /// Time of one processor, seconds.
    pub cpu_s: f64,
    /// Memory that the largest district takes, bytes.
    pub memory_bytes: u64,
    /// Parts on disk, bytes.
    pub disk_bytes: u64,
}

/// For every district, whatever is in it: surroundings of lines, networks, skies. Seconds; measured (see the page on districts).
const DISTRICT_S: f64 = 0.6;
/// Sky of a kilometre of road, seconds; measured.
const SKY_S_PER_KM: f64 = 0.030;
/// One drive along a kilometre, seconds; measured.
const DRIVE_S_PER_KM: f64 = 0.000_35;
/// Memory of a worker without any road, and for a kilometre of it, bytes; measured.
const MEMORY_BYTES: f64 = 60e6;
const MEMORY_BYTES_PER_KM: f64 = 45e3;
/// Part of a district without any road, and for a kilometre of it, bytes; measured.
const PART_BYTES: f64 = 0.6e6;
const PART_BYTES_PER_KM: f64 = 24e3;

/// What the rating of some districts takes.
pub fn forecast<'d>(districts: impl IntoIterator<Item = &'d PlannedDistrict>, profile: &Profile) -> Forecast {
    let mut all = Forecast::default();
    for district in districts {
        let km_s = SKY_S_PER_KM + DRIVE_S_PER_KM * f64::from(profile.link.drives);
        all.cpu_s += DISTRICT_S + km_s * district.km;
        all.memory_bytes = all.memory_bytes.max((MEMORY_BYTES + MEMORY_BYTES_PER_KM * district.km) as u64);
        all.disk_bytes += (PART_BYTES + PART_BYTES_PER_KM * district.km) as u64;
    }
    all
}
