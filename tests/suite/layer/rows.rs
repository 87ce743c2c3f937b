//! Synthetic rows: a grid of short roads near 42.5 N 1.5 E.
use std::path::{Path, PathBuf};

use waymask::base::geodesy::Position;
use waymask::base::words::{
    BlockerEvidence, Case, Cause, Evidence, GroundKind, GroundLineKind, Highway, InputRole, MapObject, Overhang,
    OverheadKind, PerDirection, PlaceKind, RatedBy, Rating, RoadAccess, Roofed, RoofedBy, StandsOn, StopAccess,
    StopKind, TerrainEvidence, ValueFrom,
};
use waymask::layer::model::{
    BuildRecord, Driven, EdgeRow, EndMaskRow, GroundLineRow, GroundRow, InputRecord, LaneRow, MaskRow, NodeRow,
    OutageRow, OverheadRow, PanelPlace, PlaceRow, RunRow, SegmentRow, StopRow, WayNode, WayNodesRow,
};
use waymask::layer::{Bounds, LayerWriter};

pub const CREDIT: &str = "(c) OpenStreetMap contributors, ODbL 1.0";

/// An edge of the way of a segment in a direction: ways have three segments, edges of even ids drive forward.
fn edge_of(segment_id: i64, forward: bool) -> i64 {
    let first = segment_id / 3 * 3;
    match (forward, first % 2 == 0) {
        (true, true) => first + 2,
        (true, false) | (false, true) => first + 1,
        (false, false) => first,
    }
}

/// A segment of which every column holds something.
pub fn segment(id: i64) -> SegmentRow {
    let rating = Rating::ALL[(id % 5) as usize];
    let (column, line) = ((id % 400) as i32, (id / 400) as i32);
    let at = |step: i32| Position {
        lon_e7: 15_000_000 + column * 30_000 + step * 6_001,
        lat_e7: 425_000_000 + line * 20_000 + (step % 3) * 1_501,
    };
    SegmentRow {
        segment_id: id,
        way_id: 1_000_000_000_000 + id / 3,
        part: (id % 3) as u32,
        name: Some(format!("Road {id}")),
        reference: (id % 4 == 0).then(|| format!("R {id}")),
        highway: Highway::PrimaryLink,
        lanes: 2,
        lanes_from: ValueFrom::Tag,
        width_m: 7.25,
        width_from: ValueFrom::Default,
        speed_kmh: 80.5,
        speed_from: ValueFrom::Country,
        keeps: waymask::base::words::DrivingSide::Left,
        keeps_from: waymask::base::words::SideFrom::Country,
        country: (id % 3 > 0).then(|| "GB".to_owned()),
        length_m: 249.99,
        rating,
        rated_by: if rating == Rating::Steady { RatedBy::None } else { RatedBy::ALL[(id % 2) as usize] },
        driven: PerDirection {
            forward: Some(Driven {
                edge: edge_of(id, true),
                rating,
                rating_best: Rating::Steady,
                rating_worst: (id % 3 > 0).then_some(Rating::Dark),
                outage_share_best: 0.0123,
                outage_share_worst: (id % 3 > 0).then_some(0.5),
                time_s: 11.125,
                outage_s: 0.347,
                outage_p95_s: 3.125,
                beyond_blips: 1.25,
                beyond_gaps: 0.003_906,
                beyond_drops: 0.0,
                running_blips: 0.5,
                running_gaps: 0.25,
                running_drops: 0.0,
                main_cause: Cause::Deck,
            }),
            backward: (id % 2 == 0).then(|| Driven {
                edge: edge_of(id, false),
                rating_worst: (id % 3 > 0).then_some(Rating::Dark),
                outage_share_worst: (id % 3 > 0).then_some(0.25),
                time_s: 12.5,
                main_cause: Cause::Terrain,
                ..Driven::default()
            }),
        },
        open_share: 0.8123,
        open_share_min: 0.4,
        rating_best: Rating::Steady,
        rating_worst: (id % 3 > 0).then_some(Rating::Dark),
        outage_share: 0.0312,
        outage_share_best: 0.0123,
        outage_share_worst: (id % 3 > 0).then_some(0.5),
        outages_per_10km: 12.25,
        outage_p50_s: 0.4,
        outage_p95_s: 3.125,
        longest_outage_s: 1.001,
        blocked_cover: 0.0,
        blocked_deck: 0.0101,
        blocked_building: 0.02,
        blocked_terrain: 0.05,
        blocked_canopy: 0.1076,
        main_cause: Cause::Canopy,
        maxheight_m: (id % 7 == 0).then_some(3.8),
        overhang: id % 6 == 0,
        evidence_terrain: TerrainEvidence::Raster,
        terrain_coarse_share: 0.25,
        terrain_unknown_share: 0.0,
        evidence_canopy: BlockerEvidence::Tag,
        evidence_building: BlockerEvidence::Unknown,
        overhang_reason: Overhang::None,
        evidence: if id % 3 > 0 { Evidence::Default } else { Evidence::Unknown },
        line: (0..6).map(at).collect(),
    }
}

pub fn edge(id: i64) -> EdgeRow {
    EdgeRow {
        edge_id: id,
        // Of the nodes that `write` writes; the last is that of the last edge.
        from_node: 9_000_000_000 + (id + 1) / 2,
        to_node: 9_000_000_000 + id,
        way_id: 1_000_000_000_000 + id / 3,
        forward: id % 2 == 0,
        length_m: 1234.56,
        time_s: 55.555,
        outage_s: 1.234,
        longest_outage_s: 0.75,
        rating: Rating::Drops,
        highway: Highway::MotorwayLink,
        access: RoadAccess::Destination,
        local: id % 2 == 0,
        unpaved: id % 2 == 1,
        unpaved_from: ValueFrom::Tag,
        maxheight_m: (id % 3 == 0).then_some(2.5),
    }
}

/// Ids as the map has them: far from any count of rows.
pub fn node(id: i64) -> NodeRow {
    NodeRow { node_id: 9_000_000_000 + id, at: segment(id).line[0] }
}

pub fn overhead(id: i64) -> OverheadRow {
    OverheadRow {
        overhead_id: id,
        segment_id: id,
        kind: OverheadKind::RailDeck,
        osm_id: -id,
        name: Some("Viaduct".into()),
        deck_width_m: 9.5,
        covered_m: 10.01,
        underside_m: 4.5,
        underside_from: ValueFrom::Tag,
        maxheight_m: Some(4.2),
        half_shadow_s: 0.512,
        at: segment(id).line[2],
    }
}

pub fn outage(id: i64) -> OutageRow {
    OutageRow {
        outage_id: id,
        stroke: (id / 7) as u32,
        step_from: 3,
        step_to: 3 + (id % 5) as u32,
        segment_from: id,
        segment_to: id + 4,
        forward: id % 2 == 0,
        cause: Cause::Cover,
        length_m: 812.5,
        time_s: 36.25,
        outages: 0.5,
        outage_s: 12.5,
        outage_p95_s: 31.75,
        line: segment(id).line,
    }
}

pub fn lane(segment_id: i64, forward: bool) -> LaneRow {
    LaneRow {
        lane_id: 2 * segment_id - i64::from(forward),
        segment_id,
        forward,
        stroke: (segment_id / 7) as u32,
        step: (segment_id % 7) as u32,
        road_kmh: 100.0 / 3.0,
        road_kmh_from: ValueFrom::Default,
        climb: (segment_id % 2 == 0).then_some(-0.0625 / 3.0),
        overheads: (segment_id % 3 == 0).then(|| vec![1, 2, 3]),
        outage_from: (segment_id % 5 == 0).then_some(2 * segment_id - i64::from(forward)),
    }
}

/// Ids of any size and sign; some lines begin or end where they were cut, some have two nodes at one place.
pub fn way_nodes(id: i64) -> WayNodesRow {
    let vertices = segment(id).line.len() as u32;
    let own = u32::from(id % 3 == 0)..vertices - u32::from(id % 4 == 0);
    let mut nodes: Vec<WayNode> =
        own.map(|vertex| WayNode { vertex, id: i64::MAX - 9 * id * i64::from(vertex) }).collect();
    if id % 5 == 0 {
        nodes.extend(nodes.last().map(|last| WayNode { id: -last.id, ..*last }));
    }
    WayNodesRow { segment_id: id, nodes }
}

pub fn run(id: i64) -> RunRow {
    RunRow { run_id: id, stroke: id as u32, nth: if id % 2 == 0 { 1 } else { -1 }, lane_id: 2 * id }
}

pub fn masks(segment_id: i64, forward: bool) -> MaskRow {
    let packed = (0..300).map(|i| (i * (segment_id + 1) % 256) as u8).collect();
    MaskRow { mask_id: 2 * segment_id - i64::from(forward), segment_id, forward, stations: 26, packed }
}

/// The masks of a lane at best and at worst.
pub fn end_masks(segment_id: i64, forward: bool) -> [EndMaskRow; 2] {
    let MaskRow { mask_id, stations, packed, .. } = masks(segment_id, forward);
    [Case::Best, Case::Worst].map(|at| {
        let end_mask_id = 2 * mask_id - i64::from(at == Case::Best);
        EndMaskRow { end_mask_id, segment_id, forward, at, stations, packed: packed.clone() }
    })
}

pub fn stop(id: i64) -> StopRow {
    let place = |distance_m, bearing_deg, open_share| PanelPlace { distance_m, bearing_deg, open_share };
    StopRow {
        stop_id: id,
        osm_type: MapObject::Relation,
        osm_id: 5_000_000_000 + id,
        kind: StopKind::CampPitch,
        name: Some(format!("Place {id}")),
        access: StopAccess::Customers,
        roofed: [Roofed::Yes, Roofed::No, Roofed::Yes, Roofed::Unknown][(id % 4) as usize],
        roofed_from: if id % 2 == 0 { RoofedBy::Tag } else { RoofedBy::None },
        stands_on: StandsOn::Aisle,
        open_share: 0.25,
        main_cause: Cause::Canopy,
        segment_id: id,
        road: "primary_link".into(),
        along_m: 12.25,
        road_distance_m: 33.5,
        best_distance_m: 12.0,
        best_bearing_deg: 270.0,
        best_open_share: 0.75,
        gain: 0.5,
        places: vec![place(0.0, 0.0, 0.25), place(12.0, 270.0, 0.75), place(45.5, 90.0, 0.9999)],
        masks: vec![2, 9, id as u8],
        at: segment(id).line[1],
    }
}

/// A place with a name, of every kind in turn.
pub fn place(id: i64) -> PlaceRow {
    let kind = PlaceKind::ALL[id as usize % PlaceKind::ALL.len()];
    let population = (id % 3 > 0).then_some(1_000 * id as u32);
    PlaceRow {
        place_id: id,
        osm_type: MapObject::Node,
        osm_id: 6_000_000_000 + id,
        name: format!("Ort {id}"),
        name_en: (id % 2 == 0).then(|| format!("Place {id}")),
        kind,
        population,
        rank: kind.rank(population),
        at: segment(id).line[0],
    }
}

/// Water that fills the box around a segment, every other with an island.
pub fn ground(id: i64) -> GroundRow {
    let Bounds { min, max } = Bounds::around(&segment(id).line).unwrap();
    let (wide, high) = (max.lon_e7 - min.lon_e7, max.lat_e7 - min.lat_e7);
    let at = |x: i32, y: i32| Position { lon_e7: min.lon_e7 + wide / 4 * x, lat_e7: min.lat_e7 + high / 4 * y };
    let edge = |x: i32, y: i32| Position {
        lon_e7: if x > 0 { max.lon_e7 } else { min.lon_e7 },
        lat_e7: if y > 0 { max.lat_e7 } else { min.lat_e7 },
    };
    let outer = vec![edge(0, 0), edge(1, 0), edge(1, 1), edge(0, 1), edge(0, 0)];
    let island = vec![at(1, 1), at(2, 3), at(3, 1), at(1, 1)];
    GroundRow {
        ground_id: id,
        kind: GroundKind::ALL[id as usize % GroundKind::ALL.len()],
        name: (id % 2 == 0).then(|| format!("Lake {id}")),
        rings: if id % 2 == 0 { vec![outer, island] } else { vec![outer] },
    }
}

pub fn ground_line(id: i64) -> GroundLineRow {
    GroundLineRow {
        ground_line_id: id,
        kind: GroundLineKind::ALL[id as usize % GroundLineKind::ALL.len()],
        name: (id % 2 == 0).then(|| format!("River {id}")),
        line: segment(id).line,
    }
}

pub fn record() -> BuildRecord {
    BuildRecord {
        waymask_version: "0.1.0".into(),
        schema_version: waymask::layer::SCHEMA_VERSION,
        mask_floor_deg: 25.0,
        inputs: vec![
            InputRecord {
                name: "map.osm.pbf".into(),
                role: InputRole::Extract,
                bytes: 123_456_789_012,
                sha256: "00ff".repeat(16),
                data_time: Some("2025-01-01T00:00:00Z".into()),
                attribution: Some(CREDIT.into()),
                raster: None,
            },
            InputRecord { name: "dem <1>.tif".into(), role: InputRole::Elevation, ..Default::default() },
        ],
        counts: [("roads".to_owned(), 50), ("masks".to_owned(), 100)].into(),
        km_by_rating: [("steady".to_owned(), 123.457)].into(),
        assumed: vec!["trees without height are 15 m".into()],
        ..Default::default()
    }
}

/// Writes `count` segments with an edge, a node, an overhead, a stop and two masks each.
pub fn write(path: &Path, overwrite: bool, count: i64) -> waymask::Result<()> {
    let mut writer = LayerWriter::create(path, overwrite)?;
    fill(&mut writer, count)?;
    writer.finish(&record())
}

pub fn fill(writer: &mut LayerWriter, count: i64) -> waymask::Result<()> {
    for id in 1..=count {
        writer.segment(&segment(id))?;
        writer.edge(&edge(id))?;
        writer.node(&node(id))?;
        writer.way_nodes(&way_nodes(id))?;
        writer.overhead(&overhead(id))?;
        writer.stop(&stop(id))?;
        writer.outage(&outage(id))?;
        writer.run(&run(id))?;
        writer.place(&place(id))?;
        writer.ground(&ground(id))?;
        writer.ground_line(&ground_line(id))?;
        writer.lane(&lane(id, true))?;
        writer.lane(&lane(id, false))?;
        writer.masks(&masks(id, true))?;
        writer.masks(&masks(id, false))?;
        end_masks(id, true).iter().chain(&end_masks(id, false)).try_for_each(|row| writer.end_masks(row))?;
    }
    Ok(())
}

/// A folder that is removed with the value, and a layer name in it.
pub fn folder() -> (tempfile::TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("layer.gpkg");
    (folder, path)
}

/// A direction whose range is known and wide.
pub fn known() -> Driven {
    let (rating_worst, outage_share_worst) = (Some(Rating::Dark), Some(1.0));
    Driven { rating_best: Rating::Steady, rating_worst, outage_share_worst, ..Driven::default() }
}

/// The same of a segment.
pub fn known_row() -> SegmentRow {
    let Driven { rating_best, rating_worst, outage_share_worst, .. } = known();
    SegmentRow { rating_best, rating_worst, outage_share_worst, evidence: Evidence::Default, ..SegmentRow::default() }
}
