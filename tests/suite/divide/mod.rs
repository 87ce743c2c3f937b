//! Dividing an extract through the disk, compared with taking bundles from the whole of it in memory.
mod broken;
mod built;
mod real;

use std::collections::BTreeSet;
use std::path::Path;

use waymask::base::defect::Defects;
use waymask::base::district::District;
use waymask::base::geodesy::distance_m;
use waymask::base::progress::Silent;
use waymask::map::district::bundle::{MapIndex, backdrop, districts};
use waymask::map::divide::{BackdropFile, Divided, FeatureCounts, ShareSizes, divide_by, read_backdrop, read_bundle};
use waymask::map::extract::model::{Backdrop, Extract};
use waymask::map::extract::read;

/// Many shares and small buffers, so that small maps are split, too.
pub const SMALL: ShareSizes = ShareSizes { share_bytes: 150, buffer_bytes: 300, work_bytes: 10_000 };

fn counts(extract: &Extract) -> FeatureCounts {
    FeatureCounts {
        roads: extract.roads.len() as u64,
        canopy: extract.canopy.len() as u64,
        buildings: extract.buildings.len() as u64,
        barriers: extract.barriers.len() as u64,
        decks: extract.decks.len() as u64,
        stops: extract.stops.len() as u64,
        barred: extract.barred.len() as u64,
        covers: extract.covers.len() as u64,
        toll_booths: extract.toll_booths.len() as u64,
    }
}

/// Divides an extract and holds every bundle to the one taken from memory.
pub fn compared(path: &Path, sizes: &ShareSizes, wanted: &(dyn Fn(District) -> bool + Sync)) -> Divided {
    let work = tempfile::tempdir().unwrap();
    let whole = read(path, &Silent).unwrap();
    let divided = divide_by(path, work.path(), wanted, &Silent, sizes).unwrap();
    assert_eq!(divided.info, whole.info);
    assert_eq!(divided.defects, whole.defects);
    assert_eq!(divided.counts, counts(&whole));
    let want: BTreeSet<District> = districts(&whole).into_iter().map(|d| d.district).filter(|d| wanted(*d)).collect();
    assert_eq!(divided.districts.iter().map(|d| d.district).collect::<Vec<_>>(), Vec::from_iter(want.clone()));
    assert!(backdrop_of(&divided.backdrop) == backdrop(&whole, &want), "names and water");
    let whereabouts = MapIndex::of(&whole);
    for told in &divided.districts {
        let bundle = read_bundle(&told.path).unwrap();
        let expected = whereabouts.bundle(told.district);
        assert!(bundle == expected, "{}: {:?} instead of {:?}", told.district, counts(&bundle), counts(&expected));
        assert_eq!((told.counts, told.bytes), (counts(&bundle), std::fs::metadata(&told.path).unwrap().len()));
        let steps = whole.roads.iter().flat_map(|road| road.nodes.windows(2));
        let inside = steps.filter(|step| District::of(step[0].at) == told.district);
        let km: f64 = inside.map(|step| distance_m(step[0].at, step[1].at)).sum::<f64>() * 1e-3;
        // Each step is rounded to a millimetre.
        assert!((told.road_km - km).abs() <= 1e-3 + 1e-4 * km, "{}: {} km, not {km}", told.district, told.road_km);
    }
    let firsts: Vec<_> = whole.roads.iter().map(|road| road.nodes[0].at).collect();
    assert_eq!(divided.road_sample.len(), firsts.len().min(2_000));
    assert!(divided.road_sample.iter().all(|at| firsts.contains(at)));
    let mean = firsts.iter().map(|at| at.lat_deg()).sum::<f64>() / firsts.len() as f64;
    assert!(divided.mean_road_lat_deg.is_none_or(|lat| (lat - mean).abs() < 1e-9));
    assert_eq!(divided.mean_road_lat_deg.is_some(), !firsts.is_empty());
    let left: BTreeSet<_> = std::fs::read_dir(work.path()).unwrap().map(|e| e.unwrap().path()).collect();
    let made = divided.districts.iter().map(|d| &d.path).chain([&divided.backdrop.path]);
    assert_eq!(left, made.cloned().collect(), "only bundles and the backdrop stay");
    divided
}

/// What a file of names and water holds.
pub fn backdrop_of(file: &BackdropFile) -> Vec<Backdrop> {
    assert_eq!(std::fs::metadata(&file.path).unwrap().len(), file.bytes);
    let mut all = Vec::new();
    read_backdrop(&file.path, &file.sha256, |thing| {
        all.push(thing);
        Ok(())
    })
    .unwrap();
    all
}

/// What does not depend on where it was written: the sums of all districts, and that of the backdrop.
pub fn sums(divided: &Divided) -> (Vec<(District, String)>, String) {
    (divided.districts.iter().map(|d| (d.district, d.sha256.clone())).collect(), divided.backdrop.sha256.clone())
}

/// How often a defect was met, by its code.
pub fn met(defects: &Defects) -> Vec<(&'static str, u64)> {
    defects.iter().map(|(defect, tally)| (defect.code(), tally.count)).collect()
}
