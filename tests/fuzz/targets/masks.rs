//! What layers hold packed: masks of the sky, and what stands over a lane.
use std::io::{Read, Write};

use flate2::Compression;
use flate2::read::ZlibDecoder;
use flate2::write::ZlibEncoder;
use waymask::base::words::{OverheadKind, ValueFrom};
use waymask::physics::scene::overheads::overhead::Overhead;
use waymask::physics::scene::overheads::prisms;
use waymask::physics::sky::mask::{Mask, SkyGrid};
use waymask::physics::sky::pack;

use crate::target::{Outcome, Target, outcome};

pub const TARGETS: &[Target] = &[
    Target::new(
        "masks",
        || mask_seeds().into_iter().map(|mask| unzipped(&mask)).collect(),
        |_| Box::new(|input| read_masks(&zipped(input))),
    )
    .most_mb(200),
    Target::new("masks_packed", mask_seeds, |_| Box::new(read_masks)).most_mb(200),
    Target::new("overheads", overhead_seeds, |_| Box::new(read_overheads)),
];

fn mask_seeds() -> Vec<Vec<u8>> {
    let grid = SkyGrid { floor_deg: 20.0 };
    let mut mask = Mask::open(grid);
    mask.terrain_deg[3] = 31.0;
    mask.solid_deg[9] = 60.0;
    mask.canopy[7] = 200;
    let some = [vec![], vec![Mask::open(grid)], vec![mask.clone(), Mask::open(grid), mask]];
    some.iter().map(|masks| pack::pack(masks, grid).expect("masks are packed")).collect()
}

fn unzipped(packed: &[u8]) -> Vec<u8> {
    let mut plain = Vec::new();
    ZlibDecoder::new(&packed[1..]).read_to_end(&mut plain).expect("what was packed is unpacked");
    plain
}

fn zipped(plain: &[u8]) -> Vec<u8> {
    let mut zlib = ZlibEncoder::new(vec![2], Compression::fast());
    zlib.write_all(plain).and_then(|()| zlib.finish()).expect("bytes are packed")
}

fn read_masks(input: &[u8]) -> Outcome {
    let read = pack::unpack(input);
    if let Ok((grid, masks)) = &read {
        let packed = pack::pack(masks, *grid).expect("what was unpacked is packed");
        let (same_grid, back) = pack::unpack(&packed).expect("what was packed is unpacked");
        assert_eq!((same_grid.floor_deg, &back), (grid.floor_deg, masks));
        assert_eq!(pack::pack(&back, same_grid).expect("packed"), packed);
        return format!("read {}", masks.len().min(3));
    }
    outcome(&read)
}

fn overhead_seeds() -> Vec<Vec<u8>> {
    let one = Overhead {
        kind: OverheadKind::RoadDeck,
        osm_id: 7,
        start_m: 3.0,
        end_m: 17.5,
        heading_start_deg: 359.9,
        heading_end_deg: 0.1,
        skew_deg: -12.0,
        left_m: f64::INFINITY,
        right_m: 4.0,
        left_closed: true,
        right_closed: false,
        clearance_m: 2.9,
        thickness_m: 1.6,
        underside_above_road_m: 4.9,
        underside_from: ValueFrom::Tag,
        deck_width_m: 12.0,
    };
    vec![prisms::pack(&[]), prisms::pack(std::slice::from_ref(&one)), prisms::pack(&[one.clone(), one])]
}

fn read_overheads(input: &[u8]) -> Outcome {
    let read = prisms::unpack(input);
    if let Ok(found) = &read {
        assert_eq!(prisms::pack(found), input);
        return format!("read {}", found.len().min(3));
    }
    outcome(&read)
}
