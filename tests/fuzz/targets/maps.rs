//! Map extracts, and what dividing them leaves on the disk.
use std::fs;
use std::path::Path;
use std::sync::LazyLock;

use sha2::{Digest, Sha256};
use waymask::base::progress::Silent;
use waymask::map::divide::{divide, read_backdrop, read_bundle};
use waymask::map::extract;

use super::{seeds, text};
use crate::extract_builder::{Compression, Map, Obj, frame, node, relation, way, zlib_blob};
use crate::target::{Reader, Target, outcome};

/// The parser of blocks believes in up to ten million numbers of eight bytes in a list that says it has as many (found: 533 bytes
/// that held 76 MB).
const LENGTH_MB: usize = 200;

pub const TARGETS: &[Target] = &[
    Target::new("extracts", || vec![map().bytes()], |folder| extracts(folder, |input| input.to_vec()))
        .longest(8_192)
        .most_mb(LENGTH_MB),
    Target::new("blocks", || vec![plain_block()], |folder| extracts(folder, in_frame))
        .longest(8_192)
        .most_mb(LENGTH_MB),
    Target::new(
        "blobs",
        || vec![zlib_blob(&plain_block(), Some(usize::MAX))],
        |folder| extracts(folder, |input| [header(), frame("OSMData", input)].concat()),
    )
    .most_mb(LENGTH_MB),
    Target::new("tags", || seeds(TAGS), |folder| extracts(folder, |input| of_tags(&text(input))))
        .words(&[
            "\nw",
            "\na",
            "\nn",
            "\nr",
            "\nb",
            "=yes",
            "=no",
            "30 mph",
            "6'7\"",
            "3.5 m",
            "-1",
            ";",
            "|",
            "left|none|right",
            "2.5;3",
        ])
        .code(TAG_CODE)
        .longest(1_000),
    Target::new(
        "bundles",
        || DIVIDED.bundles.clone(),
        |folder| {
            let path = folder.join("x.bundle");
            Box::new(move |input| {
                fs::write(&path, summed(input)).expect("a temporary file");
                let read = read_bundle(&path);
                if let Ok(extract) = &read {
                    return format!(
                        "{} {} {}",
                        extract.roads.len().min(2),
                        extract.buildings.len().min(2),
                        extract.stops.len().min(2)
                    );
                }
                outcome(&read)
            })
        },
    )
    .longest(8_192),
    Target::new(
        "backdrops",
        || vec![DIVIDED.backdrop.clone()],
        |folder| {
            let path = folder.join("backdrop.part");
            Box::new(move |input| {
                let whole = summed(input);
                fs::write(&path, &whole).expect("a temporary file");
                let sum: String = whole[whole.len() - 32..].iter().map(|b| format!("{b:02x}")).collect();
                let mut things = 0;
                let read = read_backdrop(&path, &sum, |_| {
                    things += 1;
                    Ok(())
                });
                format!("{} {}", outcome(&read), things.min(3))
            })
        },
    )
    .longest(8_192),
];

const TAG_CODE: &[&str] = &[
    include_str!("../../../src/map/extract/tags_road.rs"),
    include_str!("../../../src/map/extract/tags_side.rs"),
    include_str!("../../../src/map/extract/tags_deck.rs"),
    include_str!("../../../src/map/extract/tags_stop.rs"),
    include_str!("../../../src/map/extract/tags_barred.rs"),
    include_str!("../../../src/map/extract/tags_cover.rs"),
    include_str!("../../../src/map/extract/tags_backdrop.rs"),
    include_str!("../../../src/map/extract/building.rs"),
    include_str!("../../../src/map/extract/crossing.rs"),
    include_str!("../../../src/map/extract/select.rs"),
];

/// Tags by line: of a road (`w`), of a road that crosses it (`b`), of an area (`a`), of a node of the road (`n`), of a
/// relation (`r`).
const TAGS: &[&str] = &[
    "whighway=tertiary\nwlanes=2\nwlanes:forward=1\nwwidth=7 m\nwmaxspeed=50\nwmaxspeed:backward=30 mph\nwoneway=-1\nwname=Pier\nwtunnel=yes\nwlayer=-1",
    "whighway=residential\nwmaxheight=3.8\nwside_road=no\nwcutting=left\nwembankment=yes\nwcovered=yes\nnbarrier=gate\nnaccess=private\nnmaxheight=2.1",
    "bbridge=viaduct\nbhighway=primary\nblayer=2\nbmin_height=5\nbwidth=12\nabuilding=house\naheight=9.5 m\nabuilding:levels=3\naroof:height=2",
    "whighway=service\naamenity=parking\nafee=yes\namaxheight=2\naaccess=customers\naname=Meadow\nrtype=multipolygon\nrnatural=wood\nrheight=20",
    "whighway=motorway\nwturn:lanes=left|through|none\nwlanes:both_ways=1\nnhighway=rest_area\nnopening_hours=24/7\nnnatural=tree\nnheight=15'\nnbarrier=toll_booth",
    "wroute=ferry\nbrailway=rail\nbbridge=yes\nbcovered=yes\nawaterway=riverbank\nanatural=water\nnplace=village\nnpopulation=1 200\nnname=Vik",
];

fn objects() -> Vec<Obj> {
    let mut objects: Vec<Obj> =
        (1..20).map(|i| node(i, f64::from(i as i32) * 1e-3, 0.0, &[("natural", "tree")])).collect();
    objects.push(node(20, 0.004, 0.001, &[("place", "village"), ("name", "Vik"), ("population", "40")]));
    objects.push(way(
        30,
        &[1, 2, 3, 4],
        &[("highway", "tertiary"), ("name", "Pier"), ("maxspeed", "50"), ("lanes", "2")],
    ));
    objects.push(way(31, &[5, 6, 20, 5], &[("natural", "wood"), ("height", "12")]));
    objects.push(way(32, &[7, 20, 9, 7], &[("building", "yes"), ("amenity", "fuel"), ("name", "Pumps")]));
    objects.push(way(33, &[2, 20], &[("highway", "primary"), ("bridge", "yes"), ("layer", "1")]));
    objects.push(way(34, &[9, 10, 20, 9], &[("natural", "water"), ("name", "Mere")]));
    objects.push(relation(40, &[(31, "outer")], &[("type", "multipolygon"), ("natural", "wood")]));
    objects
}

fn map() -> Map {
    let mut map = Map::of(&objects());
    map.per_block = 12;
    map
}

/// The head of an extract.
fn header() -> Vec<u8> {
    let map = Map::of(&[]);
    map.bytes()
}

/// A block as it is, not packed.
fn plain_block() -> Vec<u8> {
    let mut map = Map::of(&objects());
    (map.header, map.compression) = (false, Compression::Raw);
    let bytes = map.bytes();
    // Behind the length of the head of the frame, the head, and what says that the blob holds bytes as they are and how many.
    let head = 4 + usize::from(bytes[3]);
    let length = bytes[head + 1..].iter().position(|b| b & 0x80 == 0).map_or(0, |i| i + 1);
    bytes[head + 1 + length..].to_vec()
}

fn in_frame(block: &[u8]) -> Vec<u8> {
    [header(), frame("OSMData", &zlib_blob(block, Some(usize::MAX)))].concat()
}

fn extracts(folder: &Path, map: fn(&[u8]) -> Vec<u8>) -> Reader {
    let path = folder.join("x.osm.pbf");
    Box::new(move |input| {
        fs::write(&path, map(input)).expect("a temporary file");
        let read = extract::read(&path, &Silent);
        match &read {
            Ok(extract) => format!(
                "{:?} {} {} {} {}",
                extract.defects,
                extract.roads.len().min(2),
                extract.buildings.len().min(2),
                extract.stops.len().min(2),
                extract.decks.len().min(2)
            )
            .chars()
            .filter(|c| !c.is_ascii_digit())
            .take(400)
            .collect(),
            Err(_) => outcome(&read),
        }
    })
}

fn of_tags(text: &str) -> Vec<u8> {
    let tags = |kind: char| -> Vec<(&str, &str)> {
        text.lines().filter_map(|line| line.strip_prefix(kind)?.split_once('=')).collect()
    };
    let mut all: Vec<Obj> =
        (1..12).map(|i| node(i, f64::from(i as i32) * 1e-3, f64::from(i as i32 % 3) * 1e-3, &[])).collect();
    all[1] = node(2, 0.002, 0.002, &tags('n'));
    all.push(way(30, &[1, 2, 3, 4], &tags('w')));
    all.push(way(31, &[5, 2, 6], &tags('b')));
    all.push(way(32, &[7, 8, 9, 10, 7], &tags('a')));
    all.push(way(33, &[5, 6, 7, 5], &[]));
    all.push(relation(40, &[(33, "outer")], &tags('r')));
    Map::of(&all).bytes()
}

/// Files of a divided extract, without the sums at their ends.
struct DividedFiles {
    bundles: Vec<Vec<u8>>,
    backdrop: Vec<u8>,
}

static DIVIDED: LazyLock<DividedFiles> = LazyLock::new(|| {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let path = folder.path().join("x.osm.pbf");
    fs::write(&path, map().bytes()).expect("a temporary file");
    let divided = divide(&path, folder.path(), &|_| true, &Silent).expect("divided");
    let unsummed = |path: &Path| {
        let mut bytes = fs::read(path).expect("a divided file");
        bytes.truncate(bytes.len() - 32);
        bytes
    };
    DividedFiles {
        bundles: divided.districts.iter().map(|d| unsummed(&d.path)).collect(),
        backdrop: unsummed(&divided.backdrop.path),
    }
});

/// With the right sum at its end: a wrong one hides everything else.
fn summed(input: &[u8]) -> Vec<u8> {
    [input, Sha256::digest(input).as_slice()].concat()
}
