//! The table that names are found by: made of the others, whatever way a layer was written.
use std::collections::BTreeSet;

use waymask::base::fold::folded;
use waymask::base::words::NameKind;
use waymask::layer::Layer;

use crate::layer::rows;

/// Every name of places, stops and roads, by a plain loop; of roads the spellings only.
#[test]
fn every_name_of_a_layer_is_found_and_no_other() {
    let (_folder, path) = rows::folder();
    rows::write(&path, false, 60).unwrap();
    let layer = Layer::open(&path).unwrap();
    let names = layer.names().unwrap();
    let mut wanted = BTreeSet::new();
    for place in layer.named_places().unwrap() {
        for name in [Some(place.name), place.name_en].into_iter().flatten() {
            wanted.insert((folded(&name), NameKind::from(place.kind), place.place_id));
        }
    }
    for stop in layer.stops().unwrap() {
        wanted.extend(stop.name.map(|name| (folded(&name), NameKind::Stop, stop.stop_id)));
    }
    let of_roads = |row: &&waymask::layer::model::NameRow| row.kind == NameKind::Road;
    let found = names.iter().filter(|row| !of_roads(row)).map(|row| (row.folded.clone(), row.kind, row.row_id));
    assert_eq!(found.collect::<BTreeSet<_>>(), wanted);
    let (mut roads, mut length_m) = (BTreeSet::new(), 0.0);
    for segment in layer.segments().unwrap() {
        let spellings: BTreeSet<String> =
            [segment.name, segment.reference].into_iter().flatten().map(|name| folded(&name)).collect();
        length_m += segment.length_m * spellings.len() as f64;
        roads.extend(spellings);
    }
    let found: BTreeSet<String> = names.iter().filter(of_roads).map(|row| row.folded.clone()).collect();
    assert_eq!(found, roads);
    // No piece of a road is lost or told twice.
    let told_m: f64 = names.iter().filter_map(|row| row.length_m).sum();
    assert!((told_m - length_m).abs() < 0.01 * names.len() as f64, "{told_m} of {length_m} m");
    for row in &names {
        layer.check_name(row).unwrap();
        assert_eq!(layer.names_of(&row.folded).unwrap().iter().filter(|r| r.name_id == row.name_id).count(), 1);
    }
    let mut spellings = Vec::new();
    layer.each_spelling(|spelling| spellings.push(spelling.to_owned())).unwrap();
    assert!(spellings.is_sorted() && spellings.len() == names.iter().map(|r| &r.folded).collect::<BTreeSet<_>>().len());
}
