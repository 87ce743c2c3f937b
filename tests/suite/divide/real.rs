//! Real extracts, divided.
use waymask::base::progress::Silent;
use waymask::map::divide::{DISK_FACTOR, ShareSizes, divide_by};

use super::{compared, sums};
use crate::need::data;

#[test]
fn bayreuth_is_divided_as_in_memory() {
    let Some(path) = data("bayreuth/north-bayreuth.osm.pbf") else { return };
    let sizes = ShareSizes { share_bytes: 50_000, buffer_bytes: 100_000, work_bytes: 1 << 26 };
    let divided = compared(&path, &sizes, &|_| true);
    // Its roads lie on both sides of 11.5 degrees east and of 50 degrees north.
    assert_eq!(divided.districts.len(), 4);
}

#[test]
fn andorra_and_others_are_divided_as_in_memory() {
    for name in [
        "andorra/andorra-2025.osm.pbf",
        "bayreuth/north-bayreuth.osm.pbf",
        "pbf_cases/manhattan.osm.pbf",
        "pbf_cases/lauf-missing-nodes.osm.pbf",
        "pbf_cases/garmisch-no-dem.osm.pbf",
        "pbf_cases/frankfurt-interchange.osm.pbf",
        "places/helgoland.osm.pbf",
        "places/oslo-east.osm.pbf",
        "places/beatty.osm.pbf",
    ] {
        let Some(path) = data(name) else { return };
        let sizes = ShareSizes { share_bytes: 200_000, buffer_bytes: 300_000, work_bytes: 1 << 26 };
        let divided = compared(&path, &sizes, &|_| true);
        let factor = divided.disk_bytes as f64 / divided.info.bytes as f64;
        println!("{name}: {} districts, {factor:.1} bytes of disk for each of the extract", divided.districts.len());
        assert!((1.0..DISK_FACTOR as f64).contains(&factor), "{name}: {factor}");
    }
}

#[test]
fn andorra_is_divided_the_same_by_any_number_of_threads() {
    let Some(path) = data("andorra/andorra-2025.osm.pbf") else { return };
    let by = |threads: usize, share_bytes: u64| {
        let work = tempfile::tempdir().unwrap();
        let sizes = ShareSizes { share_bytes, buffer_bytes: 1 << 20, work_bytes: 1 << 26 };
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        sums(&pool.install(|| divide_by(&path, work.path(), &|_| true, &Silent, &sizes)).unwrap())
    };
    let want = by(1, 1_000_000);
    assert_eq!(by(2, 400_000), want);
    assert_eq!(by(5, 90_000), want);
}
