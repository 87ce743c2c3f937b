//! Trees, buildings and barriers beside roads, by their tags.
//!
//! Tag meanings: OpenStreetMap wiki, one page per key. Geometry is filled in later.
use super::model::{Area, Barrier, BarrierKind, Building, BuildingKind, Canopy, CanopyShape, LeafCycle, LeafType};
use super::pbf::Tags;
use super::tags::{CROWN_M, HEIGHT_M, Issues, MIN_HEIGHT_M, STOREY_M, TagReader, is_set};
use super::tags_road::covered;
use crate::base::geodesy::Position;

/// Trees drawn as a way or relation.
pub fn canopy(tags: &Tags, issues: &mut Issues) -> Option<Canopy> {
    let shape = match (tags.get("natural"), tags.get("landuse"), tags.get("barrier")) {
        (Some("tree_row"), _, _) => CanopyShape::Row(Vec::new()),
        (Some("wood"), _, _) | (_, Some("forest"), _) => CanopyShape::Wood(Area::default()),
        (_, Some("orchard"), _) => CanopyShape::Orchard(Area::default()),
        (_, _, Some("hedge")) => CanopyShape::Hedge(Vec::new()),
        _ => return None,
    };
    Some(canopy_of(shape, tags, issues))
}

/// A single tree.
pub fn tree(tags: &Tags, at: Position, issues: &mut Issues) -> Option<Canopy> {
    tags.is("natural", "tree").then(|| canopy_of(CanopyShape::Tree(at), tags, issues))
}

fn canopy_of(shape: CanopyShape, tags: &Tags, issues: &mut Issues) -> Canopy {
    let mut read = TagReader::new(tags, issues);
    let (leaf_type, leaf_cycle) = leaves(tags);
    Canopy {
        id: 0,
        shape,
        leaf_type,
        leaf_cycle,
        height_m: read.length_m(&["height", "est_height"], HEIGHT_M),
        crown_diameter_m: read.length_m(&["diameter_crown"], CROWN_M),
    }
}

/// Leaf type and cycle. Older data says both in one `wood` tag (wiki: Key:wood, deprecated):
/// `coniferous`, `deciduous` (broad leaves that fall), `mixed`.
fn leaves(tags: &Tags) -> (LeafType, LeafCycle) {
    let old = tags.get("wood").map(str::trim);
    let leaf_type = match tags.get("leaf_type").map(str::trim) {
        Some("broadleaved") => LeafType::Broadleaved,
        Some("needleleaved") => LeafType::Needleleaved,
        Some("mixed") => LeafType::Mixed,
        Some("leafless") => LeafType::Leafless,
        _ => match old {
            Some("coniferous") => LeafType::Needleleaved,
            Some("deciduous") => LeafType::Broadleaved,
            Some("mixed") => LeafType::Mixed,
            _ => LeafType::Unknown,
        },
    };
    let leaf_cycle = match tags.get("leaf_cycle").map(str::trim) {
        Some("evergreen" | "semi_evergreen") => LeafCycle::Evergreen,
        Some("deciduous" | "semi_deciduous") => LeafCycle::Deciduous,
        Some("mixed") => LeafCycle::Mixed,
        _ if old == Some("deciduous") => LeafCycle::Deciduous,
        _ => LeafCycle::Unknown,
    };
    (leaf_type, leaf_cycle)
}

/// A building, building part or roof. Underground ones and bridges (`building=bridge`) do not count.
pub fn building(tags: &Tags, issues: &mut Issues) -> Option<Building> {
    let part = is_set(tags, "building:part");
    let whole = is_set(tags, "building") && !tags.is("building", "bridge");
    // The area of a fuel or bus station with `covered=yes` is the roof over pumps or bays.
    let vehicles = matches!(tags.get("amenity"), Some("fuel" | "bus_station"));
    let station_roof = vehicles && covered(tags) && !whole && !part;
    let proposed = matches!(tags.get("building"), Some("proposed" | "planned"));
    if !(part || whole || station_roof) || proposed || tags.is("location", "underground") {
        return None;
    }
    let kind = if whole { tags.get("building") } else { tags.get("building:part") };
    let mut read = TagReader::new(tags, issues);
    Some(Building {
        id: 0,
        kind: kind.map_or(BuildingKind::Other, |k| BuildingKind::of(k.trim())),
        area: Area::default(),
        // An outline that is a part as well says itself what stands there: other parts do not replace it.
        part,
        roof_only: station_roof
            || tags.is("wall", "no")
            || matches!(kind.map(str::trim), Some("roof" | "carport" | "canopy")),
        height_m: read.length_m(&["height", "est_height"], HEIGHT_M),
        min_height_m: min_height_m(&mut read),
        levels: read.levels("building:levels"),
        roof_levels: read.levels("roof:levels"),
        roof_height_m: read.length_m(&["roof:height"], MIN_HEIGHT_M),
        layer: read.layer(),
    })
}

/// `min_height`, else `building:min_level` storeys, metres.
pub fn min_height_m(read: &mut TagReader) -> Option<f32> {
    read.length_m(&["min_height"], MIN_HEIGHT_M).or_else(|| read.levels("building:min_level").map(|l| l * STOREY_M))
}

/// Whether the object is a road, a railway or a waterway itself.
fn carries(tags: &Tags) -> bool {
    ["highway", "railway", "waterway"].iter().any(|key| is_set(tags, key))
}

/// A wall, noise barrier, cliff or bank.
pub fn barrier(tags: &Tags, issues: &mut Issues) -> Option<Barrier> {
    let kind = match (tags.get("barrier"), tags.get("natural"), tags.get("man_made")) {
        // What retains is one-sided even where it is tagged as a wall.
        (Some("wall"), _, _) if tags.is("wall", "retaining_wall") => BarrierKind::RetainingWall,
        (Some("wall"), _, _) if tags.is("wall", "noise_barrier") => BarrierKind::NoiseBarrier,
        (Some("noise_barrier"), _, _) => BarrierKind::NoiseBarrier,
        (Some("wall" | "city_wall"), _, _) => BarrierKind::Wall,
        (Some("retaining_wall"), _, _) => BarrierKind::RetainingWall,
        (_, Some("cliff"), _) => BarrierKind::Cliff,
        (_, Some("earth_bank"), _) => BarrierKind::Bank,
        // On the road itself the same tags say that the road is banked, not where the edge of the bank runs.
        (_, _, Some("embankment" | "cutting")) if !carries(tags) => BarrierKind::Bank,
        _ => return None,
    };
    let height_m = TagReader::new(tags, issues).length_m(&["height", "est_height"], HEIGHT_M);
    Some(Barrier { id: 0, kind, line: Vec::new(), height_m })
}
