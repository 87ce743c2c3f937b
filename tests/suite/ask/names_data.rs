//! Names of real maps: every town and village is found by its own name, without its accents, and with a slip.
use std::path::Path;
use std::time::Instant;

use waymask::ask::search::{find, place_typed};
use waymask::base::fold::folded;
use waymask::base::progress::Silent;
use waymask::base::words::{NameKind, PlaceKind};
use waymask::build::{self, BuildOptions};
use waymask::layer::Layer;
use waymask::layer::model::PlaceRow;
use waymask::profile::Profile;

use crate::build::country::andorra;
use crate::need;

/// Whether a place is taken, or among those that are asked about.
fn finds(layer: &Layer, text: &str, place: &PlaceRow) -> bool {
    let found = find(layer, text).unwrap();
    let is_it =
        |row: &waymask::layer::model::NameRow| row.kind == NameKind::from(place.kind) && row.row_id == place.place_id;
    found.best.iter().any(|c| is_it(&c.row))
}

/// A letter left out, doubled, swapped with the next or changed, in turn; never the first.
fn slipped(name: &str, nth: usize) -> String {
    let mut letters: Vec<char> = name.chars().collect();
    let at = 1 + nth % (letters.len() - 1).max(1);
    let at = at.min(letters.len() - 1);
    match nth % 4 {
        0 => drop(letters.remove(at)),
        1 => letters.insert(at, letters[at]),
        2 if at + 1 < letters.len() => letters.swap(at, at + 1),
        _ => letters[at] = if letters[at] == 'x' { 'y' } else { 'x' },
    }
    letters.into_iter().collect()
}

fn every_place_is_found(path: &Path, least: usize) {
    let layer = Layer::open(path).unwrap();
    let places = layer.named_places().unwrap();
    let settled = [PlaceKind::City, PlaceKind::Town, PlaceKind::Village];
    let places: Vec<&PlaceRow> = places.iter().filter(|p| settled.contains(&p.kind)).collect();
    assert!(places.len() >= least, "{} places", places.len());
    let (mut whole, mut taken, mut bare, mut slips, mut missed) = (0, 0, 0, 0, Vec::new());
    let began = Instant::now();
    for (nth, place) in places.iter().enumerate() {
        whole += usize::from(finds(&layer, &place.name, place));
        taken += usize::from(place_typed(&layer, &place.name).is_ok());
        bare += usize::from(finds(&layer, &folded(&place.name), place));
        let slip = slipped(&place.name, nth);
        match finds(&layer, &slip, place) {
            true => slips += 1,
            false => missed.push(format!("{slip} for {}", place.name)),
        }
    }
    let all = places.len();
    println!(
        "{}: {all} towns and villages: {whole} by name ({taken} taken at once), {bare} without accents, {slips} with a slip; \
              {:.3} ms a question",
        path.display(),
        began.elapsed().as_secs_f64() * 1e3 / (4 * all) as f64
    );
    println!("missed: {missed:?}");
    assert_eq!((whole, bare), (all, all));
    // Slips in short names are other names.
    assert!(slips * 10 >= all * 9, "{missed:?}");
}

#[test]
fn places_of_andorra_are_found_by_their_names() {
    let Some(layer) = andorra() else { return };
    every_place_is_found(&layer, 40);
}

#[test]
fn heavy_places_of_bayreuth_are_found_by_their_names() {
    let Some(extract) = need::data("bayreuth/north-bayreuth.osm.pbf") else { return };
    let folder = tempfile::tempdir().unwrap();
    let output = folder.path().join("bayreuth.gpkg");
    let mut profile = Profile::default();
    profile.link.drives = 4;
    build::build(&BuildOptions { profile, ..BuildOptions::new(extract, output.clone()) }, &Silent).unwrap();
    every_place_is_found(&output, 20);
}
