//! What a build takes, told before it begins: figures of one machine, in proportion (see the page on districts).
use super::plan::PlannedDistrict;
use crate::base::progress::WorkAhead;
use crate::profile::Profile;

/// Time of the clock that a stage of a build is forecast to take.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StageForecast {
    /// As progress names it.
    pub name: &'static str,
    /// Seconds.
    pub seconds: f64,
}

/// What districts take.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Forecast {
    /// Time of one processor, seconds.
    pub cpu_s: f64,
    /// The most memory that the process holds, bytes.
    pub memory_bytes: u64,
    /// Parts on disk, bytes.
    pub parts_bytes: u64,
    /// Time of the clock for rating them, seconds.
    pub wall_s: f64,
}

/// For every district, whatever is in it: surroundings of lines, networks, skies. Seconds; measured.
const DISTRICT_S: f64 = 0.3;
/// Sky of a kilometre of road, seconds; measured.
const SKY_S_PER_KM: f64 = 0.052;
/// One drive along a kilometre, seconds; measured.
const DRIVE_S_PER_KM: f64 = 0.000_145;
/// Memory of a process that rates nothing, and of each worker without any road, bytes; measured.
const PROCESS_BYTES: f64 = 95e6;
const WORKER_BYTES: f64 = 45e6;
/// Memory for a kilometre of the longest district, bytes; measured. Others seldom need all of theirs at the same moment.
const LONGEST_BYTES_PER_KM: f64 = 400e3;
const OTHERS_BYTES_PER_KM: f64 = 200e3;
/// Part of a district without any road, and for a kilometre of it, bytes; measured.
const PART_BYTES: f64 = 0.15e6;
const PART_BYTES_PER_KM: f64 = 70e3;
/// Road in a megabyte of an extract, kilometres, before it is read; measured: 165 (Andorra 273, Bayreuth 84).
const KM_PER_BYTE: f64 = 165e-6;
/// Joining parts, seconds for a kilometre; measured.
const JOIN_S_PER_KM: f64 = 0.000_45;

/// Stages of reading the map, and the seconds that each takes for a byte of the extract with two threads; measured.
const READING: [(&str, f64); 10] = [
    ("relations", 2e-9),
    ("ways", 8e-9),
    ("nodes", 8.5e-9),
    ("places", 7e-9),
    ("features", 12.5e-9),
    ("polygons", 3.7e-9),
    ("outlines", 0.8e-9),
    ("crossings", 0.5e-9),
    ("roads", 0.5e-9),
    ("districts", 4e-9),
];
/// Names of the stages after that.
const RATING: &str = "rating";
const JOINING: &str = "join";

/// What the rating of some districts takes with some worker threads.
pub fn forecast<'d>(
    districts: impl IntoIterator<Item = &'d PlannedDistrict>,
    profile: &Profile,
    threads: usize,
) -> Forecast {
    let km_s = km_s(profile);
    let mut all = Forecast::default();
    let mut longest_first: Vec<f64> = districts.into_iter().map(|d| d.km).collect();
    longest_first.sort_by(|a, b| b.total_cmp(a));
    for km in &longest_first {
        all.cpu_s += DISTRICT_S + km_s * km;
        all.parts_bytes += (PART_BYTES + PART_BYTES_PER_KM * km) as u64;
    }
    let workers = threads.clamp(1, longest_first.len().max(1));
    let others_km: f64 = longest_first.iter().take(workers).skip(1).sum();
    let longest_km = longest_first.first().copied().unwrap_or(0.0);
    let of_road = LONGEST_BYTES_PER_KM * longest_km + OTHERS_BYTES_PER_KM * others_km;
    all.memory_bytes = (PROCESS_BYTES + WORKER_BYTES * workers as f64 + of_road) as u64;
    // Threads that are more than districts help within them, less well.
    let one_s = (DISTRICT_S + km_s * longest_km) * workers as f64;
    all.wall_s = all.cpu_s.max(one_s) / threads.max(1) as f64;
    all
}

/// Time of one processor for a kilometre, seconds.
fn km_s(profile: &Profile) -> f64 {
    SKY_S_PER_KM + DRIVE_S_PER_KM * f64::from(profile.link.drives)
}

/// What lies ahead of a build of which some districts are still to be rated, and of which a layer is written or not.
pub fn ahead(
    (all, missing): (&[&PlannedDistrict], &[&PlannedDistrict]),
    layer: bool,
    profile: &Profile,
    threads: usize,
) -> WorkAhead {
    let of = |districts: &[&PlannedDistrict]| forecast(districts.iter().copied(), profile, threads);
    let rated = of(missing);
    let km: f64 = all.iter().map(|d| d.km).sum();
    WorkAhead {
        km: km + 0.0,
        districts: all.len(),
        there: all.len() - missing.len(),
        threads,
        rating_s: rated.wall_s,
        join_s: if layer { JOIN_S_PER_KM * km } else { 0.0 },
        memory_bytes: rated.memory_bytes,
        parts_bytes: rated.parts_bytes,
        // Measured: the layer takes about as much as its parts.
        layer_bytes: if layer { of(all).parts_bytes } else { 0 },
    }
}

/// The stages of a whole build, before its map is read.
pub fn before_reading(extract_bytes: u64, profile: &Profile, threads: usize) -> Vec<StageForecast> {
    let bytes = extract_bytes as f64;
    let km = KM_PER_BYTE * bytes;
    let reading = READING.map(|(name, per_byte_s)| StageForecast { name, seconds: per_byte_s * bytes });
    let rating_s = km_s(profile) * km / threads.max(1) as f64;
    reading.into_iter().chain(after_reading(rating_s, JOIN_S_PER_KM * km)).collect()
}

/// The stages that follow, once the road is known.
pub fn after_reading(rating_s: f64, join_s: f64) -> [StageForecast; 2] {
    [StageForecast { name: RATING, seconds: rating_s }, StageForecast { name: JOINING, seconds: join_s }]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::district::District;
    use crate::base::geodesy::Position;
    use crate::build::named_parts::PartKey;

    /// Measured with this program on one machine with two cores.
    struct Measured {
        place: &'static str,
        /// Road of its districts, kilometres.
        km: &'static [f64],
        cpu_s: f64,
        /// Memory with one thread and with two, megabytes.
        memory_mb: [f64; 2],
        parts_mb: f64,
    }

    const MEASURED: [Measured; 3] = [
        Measured {
            place: "the demo island",
            km: &[41.3, 34.0, 3.1, 4.7],
            cpu_s: 9.3,
            memory_mb: [140.3, 186.5],
            parts_mb: 4.2,
        },
        Measured {
            place: "north of Bayreuth",
            km: &[32.0, 167.6, 54.5, 269.3],
            cpu_s: 42.3,
            memory_mb: [221.2, 275.5],
            parts_mb: 35.4,
        },
        Measured {
            place: "Andorra",
            km: &[129.0, 94.7, 98.0, 540.8, 0.9],
            cpu_s: 80.0,
            memory_mb: [296.2, 414.2],
            parts_mb: 67.6,
        },
    ];

    #[test]
    fn what_was_measured_is_forecast() {
        for m in MEASURED {
            let district = |(k, km): (usize, &f64)| PlannedDistrict {
                district: District::of(Position::from_deg(k as f64, 46.0)),
                km: *km,
                key: PartKey::of([]),
                bundle: String::new(),
            };
            let districts: Vec<_> = m.km.iter().enumerate().map(district).collect();
            // A shard writes no layer.
            let all: Vec<_> = districts.iter().collect();
            let [whole, shard] = [true, false].map(|layer| ahead((&all, &all), layer, &Profile::default(), 2));
            assert!(whole.join_s > 0.0 && whole.layer_bytes == whole.parts_bytes, "{whole:?}");
            assert_eq!((shard.join_s, shard.layer_bytes, shard.parts_bytes), (0.0, 0, whole.parts_bytes));
            let within = |told: f64, was: f64, factor: f64, what: &str| {
                assert!((1.0 / factor..factor).contains(&(told / was)), "{}: {what} {told}, measured {was}", m.place);
            };
            for (threads, memory_mb) in (1..).zip(m.memory_mb) {
                let told = forecast(&districts, &Profile::default(), threads);
                within(told.cpu_s, m.cpu_s, 1.5, "processor");
                within(told.memory_bytes as f64, 1e6 * memory_mb, 1.3, "memory");
                within(told.parts_bytes as f64, 1e6 * m.parts_mb, 1.6, "parts");
            }
        }
    }
}
