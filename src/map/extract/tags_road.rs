//! Which ways a vehicle may drive, and what their tags say.
//!
//! Tag meanings: OpenStreetMap wiki, one page per key. Sides are relative to the way's direction.
use super::model::{Oneway, Road, Sides, SpeedLimit, TunnelKind, Zone};
use super::pbf::Tags;
use super::tags::{Issues, TagReader, WIDTH_M, is_set, vehicle_access};
use crate::base::defect::Defect;
use crate::base::units::{self, BadValue, TypedSpeed};
use crate::base::words::{DrivingSide, RoadClass};

/// Class of a `highway` value that vehicles drive, and whether it is a link.
pub(crate) fn highway_class(value: &str) -> Option<(RoadClass, bool)> {
    let (base, link) = value.strip_suffix("_link").map_or((value, false), |b| (b, true));
    let class = match base {
        "motorway" => RoadClass::Motorway,
        "trunk" => RoadClass::Trunk,
        "primary" => RoadClass::Primary,
        "secondary" => RoadClass::Secondary,
        "tertiary" => RoadClass::Tertiary,
        "unclassified" | "road" if !link => RoadClass::Unclassified,
        "residential" if !link => RoadClass::Residential,
        "living_street" if !link => RoadClass::LivingStreet,
        "service" if !link => RoadClass::Service,
        "track" if !link => RoadClass::Track,
        _ => return None,
    };
    Some((class, link))
}

/// Class by all tags: roads, vehicle ferries and car shuttle trains. Squares (`area=yes`) are not roads.
fn drivable_class(tags: &Tags) -> Option<(RoadClass, bool)> {
    if let Some(highway) = tags.get("highway") {
        return highway_class(highway).filter(|_| !is_set(tags, "area"));
    }
    match tags.get("route") {
        Some("ferry") => return Some((RoadClass::Ferry, false)),
        Some("shuttle_train") => return Some((RoadClass::ShuttleTrain, false)),
        _ => {}
    }
    let rail = matches!(tags.get("railway"), Some("rail" | "narrow_gauge" | "light_rail"));
    let carries_cars = ["motor_vehicle", "motorcar"].iter().any(|k| is_set(tags, k));
    (rail && carries_cars).then_some((RoadClass::ShuttleTrain, false))
}

/// The road a way's tags describe, without its nodes and id; `None` where no vehicle may drive.
pub fn parse(tags: &Tags, issues: &mut Issues) -> Option<Road> {
    let (class, link) = drivable_class(tags)?;
    let access = vehicle_access(tags)?;
    let roundabout = matches!(tags.get("junction"), Some("roundabout" | "circular"));
    let mut read = TagReader::new(tags, issues);
    let maxspeed = speed_limit(&mut read, "maxspeed").or_else(|| zone_tag(tags));
    Some(Road {
        id: 0,
        nodes: Vec::new(),
        class,
        link,
        oneway: oneway(tags, roundabout || (class == RoadClass::Motorway && !link)),
        roundabout,
        lanes: read.lanes("lanes"),
        lanes_forward: read.lanes("lanes:forward"),
        lanes_backward: read.lanes("lanes:backward"),
        width_m: read.length_m(&["width:carriageway", "width", "est_width"], WIDTH_M),
        maxspeed_forward: speed_limit(&mut read, "maxspeed:forward").or(maxspeed),
        maxspeed_backward: speed_limit(&mut read, "maxspeed:backward").or(maxspeed),
        surface: read.lower("surface"),
        tracktype: tracktype(tags),
        smoothness: read.lower("smoothness"),
        access,
        layer: read.layer(),
        bridge: is_set(tags, "bridge"),
        tunnel: tunnel(tags),
        covered: covered(tags),
        cutting: sides(tags, "cutting"),
        hollow_way: tags.is("cutting", "hollow_way"),
        embankment: sides(tags, "embankment"),
        tree_lined: sides(tags, "tree_lined"),
        maxheight_m: read.clearance_m(&["maxheight", "maxheight:forward", "maxheight:backward"]),
        maxheight_physical_m: read.clearance_m(&["maxheight:physical"]),
        lit: is_set(tags, "lit") && !tags.is("lit", "disused"),
        pavement: pavement(tags),
        driving_side: driving_side(tags),
        name: read.text("name"),
        reference: read.text("ref"),
    })
}

fn oneway(tags: &Tags, implied: bool) -> Oneway {
    match tags.get("oneway").map(str::trim) {
        Some("yes" | "true" | "1") => Oneway::Forward,
        Some("-1" | "reverse") => Oneway::Backward,
        // The direction changes by the hour: both get a rating.
        Some("no" | "false" | "0" | "reversible" | "alternating") => Oneway::Both,
        _ if implied => Oneway::Forward,
        _ => Oneway::Both,
    }
}

fn tunnel(tags: &Tags) -> Option<TunnelKind> {
    match tags.get("tunnel").map(str::trim) {
        // A culvert is under the road, the tag belongs to the waterway.
        None | Some("no" | "false" | "0" | "" | "culvert") => None,
        Some("building_passage") => Some(TunnelKind::Passage),
        Some("avalanche_protector") => Some(TunnelKind::Gallery {
            open_left: tags.is("avalanche_protector:left", "open") || tags.is("avalanche_protector", "open"),
            open_right: tags.is("avalanche_protector:right", "open") || tags.is("avalanche_protector", "open"),
        }),
        Some(_) => Some(TunnelKind::Tunnel),
    }
}

/// Whether a roof over the way or place is tagged.
pub fn covered(tags: &Tags) -> bool {
    matches!(tags.get("covered").map(str::trim), Some("yes" | "arcade" | "colonnade" | "roof" | "building_passage"))
}

/// Sides of `key`: `left`, `right`, `both`, and every other meaning of yes (`hollow_way`) as both.
/// `separate` says that the thing is mapped on its own.
fn sides(tags: &Tags, key: &str) -> Sides {
    match tags.get(key).map(str::trim) {
        None | Some("no" | "separate" | "false" | "0" | "") => Sides::default(),
        Some("left") => Sides { left: true, right: false },
        Some("right") => Sides { left: false, right: true },
        Some(_) => Sides { left: true, right: true },
    }
}

/// Whether there is a pavement on some side; one drawn on its own (`separate`) is one.
fn pavement(tags: &Tags) -> bool {
    let on = |key: &str| matches!(tags.get(key).map(str::trim), Some("yes" | "left" | "right" | "both" | "separate"));
    ["sidewalk", "sidewalk:both", "sidewalk:left", "sidewalk:right"].into_iter().any(on)
}

fn tracktype(tags: &Tags) -> Option<u8> {
    let digit = tags.get("tracktype")?.trim().strip_prefix("grade")?.parse().ok()?;
    (1..=5).contains(&digit).then_some(digit)
}

fn driving_side(tags: &Tags) -> Option<DrivingSide> {
    match tags.get("driving_side")?.trim() {
        "left" => Some(DrivingSide::Left),
        "right" => Some(DrivingSide::Right),
        _ => None,
    }
}

fn speed_limit(read: &mut TagReader, key: &str) -> Option<SpeedLimit> {
    let text = read.tags().get(key)?;
    let reading = units::speed(text).and_then(|r| {
        let value = limit_of(r.value)?;
        Ok(units::Reading { value, several: r.several })
    });
    read.note(Defect::BadSpeed, key, text, reading).flatten()
}

/// A limit in the model's terms; `None` where the tag says that the number is elsewhere.
fn limit_of(speed: TypedSpeed) -> Result<Option<SpeedLimit>, BadValue> {
    Ok(match speed {
        TypedSpeed::Kmh(kmh) => Some(SpeedLimit::Kmh(kmh as f32)),
        TypedSpeed::Unlimited => Some(SpeedLimit::Unlimited),
        TypedSpeed::Walk => Some(SpeedLimit::Walk),
        TypedSpeed::Elsewhere => None,
        TypedSpeed::Zone(zone) => Some(zone_limit(zone).ok_or(BadValue::Unreadable)?),
    })
}

/// The zone named in `CC:zone`. The British "national speed limit" zones are numbers
/// (60 mph single, 70 mph dual carriageway: The Highway Code, rule 124, table of speed limits).
fn zone_limit(zone: &str) -> Option<SpeedLimit> {
    Some(match zone.trim().to_ascii_lowercase().as_str() {
        "urban" => SpeedLimit::Zone(Zone::Urban),
        "rural" => SpeedLimit::Zone(Zone::Rural),
        "trunk" | "expressway" => SpeedLimit::Zone(Zone::Trunk),
        "motorway" => SpeedLimit::Zone(Zone::Motorway),
        "living_street" => SpeedLimit::Zone(Zone::LivingStreet),
        "walk" | "pedestrian_zone" => SpeedLimit::Walk,
        "none" => SpeedLimit::Unlimited,
        "nsl_single" => SpeedLimit::Kmh(96.560_64),
        "nsl_dual" => SpeedLimit::Kmh(112.654_08),
        _ => return None,
    })
}

/// A zone given where `maxspeed` is silent; sources such as `sign` are not zones, and not bad data either. A zone may be one
/// with a number (`DE:30`, `AT:zone:30`), but a bare number stands for a zone in `zone:maxspeed` only.
fn zone_tag(tags: &Tags) -> Option<SpeedLimit> {
    if tags.get("maxspeed").is_some() {
        return None;
    }
    ["zone:maxspeed", "maxspeed:type", "zone:traffic", "source:maxspeed"].iter().find_map(|key| {
        let text = tags.get(key)?;
        // Numbers of British zones are miles per hour, with or without saying so.
        let in_miles = text.trim_start().starts_with("GB:") && !text.contains("mph");
        match units::speed(text).ok()?.value {
            TypedSpeed::Zone(zone) => zone_limit(zone),
            TypedSpeed::Kmh(kmh) if (*key == "zone:maxspeed" || text.contains(':')) && !in_miles => {
                Some(SpeedLimit::Kmh(kmh as f32))
            }
            _ => None,
        }
    })
}
