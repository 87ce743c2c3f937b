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
const DISTRICT_S: f64 = 0.3;
/// Sky of a kilometre of road, seconds; measured.
const SKY_S_PER_KM: f64 = 0.052;
/// One drive along a kilometre, seconds; measured.
const DRIVE_S_PER_KM: f64 = 0.000_145;
/// Memory of a worker without any road, and for a kilometre of it, bytes; measured.
const MEMORY_BYTES: f64 = 130e6;
const MEMORY_BYTES_PER_KM: f64 = 80e3;
/// Part of a district without any road, and for a kilometre of it, bytes; measured.
const PART_BYTES: f64 = 0.4e6;
const PART_BYTES_PER_KM: f64 = 65e3;

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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::district::District;
    use crate::base::geodesy::Position;
    use crate::build::work::PartKey;

    /// Measured with this program on one machine with two cores: districts, kilometres, seconds of processor, megabytes of layer.
    const MEASURED: [(&str, i32, f64, f64, f64); 3] = [
        ("the demo island", 4, 83.2, 9.3, 3.5),
        ("north of Bayreuth", 4, 523.4, 42.3, 33.9),
        ("Andorra", 6, 863.3, 80.0, 65.6),
    ];

    #[test]
    fn what_was_measured_is_forecast_within_a_half() {
        for (place, count, km, cpu_s, layer_mb) in MEASURED {
            let district = |k: i32| PlannedDistrict {
                district: District::of(Position::from_deg(f64::from(k), 46.0)),
                km: km / f64::from(count),
                key: PartKey::of([]),
            };
            let districts: Vec<_> = (0..count).map(district).collect();
            let told = forecast(&districts, &Profile::default());
            let ratio = told.cpu_s / cpu_s;
            assert!((1.0 / 1.5..1.5).contains(&ratio), "{place}: {told:?}");
            // Parts hold indexes and descriptions of their own.
            assert!(
                told.disk_bytes as f64 > 0.8e6 * layer_mb && (told.disk_bytes as f64) < 2.2e6 * layer_mb,
                "{place}: {told:?}"
            );
        }
    }
}
