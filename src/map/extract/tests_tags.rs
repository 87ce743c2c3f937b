//! Tags to features, one rule at a time. Meanings: OpenStreetMap wiki, one page per key.
use super::features::{Feature, of_node, of_way};
use super::model::*;
use super::pbf::Tags;
use super::tags::Issues;
use super::{tags_barred, tags_deck, tags_road, tags_side, tags_stop};
use crate::base::defect::Defect;
use crate::base::geodesy::Position;
use crate::base::words::{RoadAccess, RoadClass, StopAccess, StopKind};

type Pairs = [(&'static str, &'static str)];

fn tags(pairs: &Pairs) -> Tags<'static> {
    Tags::new(pairs.to_vec())
}
fn road(pairs: &Pairs) -> Option<Road> {
    tags_road::parse(&tags(pairs), &mut Issues::default())
}
fn highway(more: &Pairs) -> Road {
    let all: Vec<_> = [("highway", "primary")].iter().chain(more).copied().collect();
    road(&all).expect("a primary is drivable")
}
fn deck(pairs: &Pairs, closed: bool) -> Option<Deck> {
    tags_deck::deck(&tags(pairs), closed, &mut Issues::default())
}
fn building(pairs: &Pairs) -> Option<Building> {
    tags_side::building(&tags(pairs), &mut Issues::default())
}

#[test]
fn what_is_drivable() {
    for value in ["motorway", "trunk_link", "tertiary", "road", "living_street", "service", "track"] {
        assert!(road(&[("highway", value)]).is_some(), "{value}");
    }
    for value in ["footway", "path", "cycleway", "construction", "proposed", "busway", "pedestrian", "service_link"] {
        assert!(road(&[("highway", value)]).is_none(), "{value}");
    }
    for no in [("area", "yes"), ("motor_vehicle", "no"), ("vehicle", "no"), ("access", "no")] {
        assert!(road(&[("highway", "service"), no]).is_none(), "{no:?}");
    }
    assert!(road(&[("highway", "service"), ("service", "parking_aisle")]).is_some());
    assert_eq!(highway(&[("access", "destination")]).access, RoadAccess::Destination);
    assert_eq!(road(&[("highway", "road")]).map(|r| r.class), Some(RoadClass::Unclassified));
}

#[test]
fn ferries_and_shuttle_trains_are_a_class_of_their_own() {
    let class = |pairs: &Pairs| road(pairs).map(|r| r.class);
    assert_eq!(class(&[("route", "ferry")]), Some(RoadClass::Ferry));
    assert_eq!(class(&[("route", "ferry"), ("motor_vehicle", "no")]), None);
    assert_eq!(class(&[("route", "shuttle_train")]), Some(RoadClass::ShuttleTrain));
    assert_eq!(class(&[("railway", "rail"), ("motor_vehicle", "yes")]), Some(RoadClass::ShuttleTrain));
    assert!(RoadClass::Ferry.is_boarded() && RoadClass::ShuttleTrain.is_boarded() && !RoadClass::Track.is_boarded());
    assert_eq!(class(&[("railway", "rail")]), None);
}

#[test]
fn direction_of_travel() {
    let oneway = |pairs: &Pairs| road(pairs).map(|r| r.oneway);
    assert_eq!(oneway(&[("highway", "motorway")]), Some(Oneway::Forward));
    assert_eq!(oneway(&[("highway", "motorway"), ("oneway", "no")]), Some(Oneway::Both));
    assert_eq!(oneway(&[("highway", "motorway_link")]), Some(Oneway::Both));
    assert_eq!(oneway(&[("highway", "service"), ("junction", "roundabout")]), Some(Oneway::Forward));
    for (value, expected) in [
        ("yes", Oneway::Forward),
        ("1", Oneway::Forward),
        ("-1", Oneway::Backward),
        ("reversible", Oneway::Both),
        ("alternating", Oneway::Both),
        ("no", Oneway::Both),
    ] {
        assert_eq!(highway(&[("oneway", value)]).oneway, expected, "{value}");
    }
}

#[test]
fn tunnels_galleries_and_covers() {
    assert_eq!(highway(&[("tunnel", "yes")]).tunnel, Some(TunnelKind::Tunnel));
    assert_eq!(highway(&[("tunnel", "building_passage")]).tunnel, Some(TunnelKind::Passage));
    let gallery = highway(&[("tunnel", "avalanche_protector"), ("avalanche_protector:left", "open")]).tunnel;
    assert_eq!(gallery, Some(TunnelKind::Gallery { open_left: true, open_right: false }));
    for value in ["no", "culvert"] {
        assert_eq!(highway(&[("tunnel", value)]).tunnel, None, "{value}");
    }
    assert!(highway(&[("covered", "arcade")]).covered && !highway(&[("covered", "no")]).covered);
    assert!(highway(&[("bridge", "viaduct")]).bridge && !highway(&[("bridge", "no")]).bridge);
}

#[test]
fn sides_follow_the_way() {
    let both = Sides { left: true, right: true };
    assert_eq!(highway(&[("cutting", "left")]).cutting, Sides { left: true, right: false });
    assert_eq!(highway(&[("embankment", "right")]).embankment, Sides { left: false, right: true });
    assert_eq!(highway(&[("cutting", "hollow_way")]).cutting, both);
    assert!(highway(&[("cutting", "hollow_way")]).hollow_way && !highway(&[("cutting", "yes")]).hollow_way);
    assert_eq!(highway(&[("tree_lined", "yes")]).tree_lined, both);
    assert_eq!(highway(&[("tree_lined", "separate")]).tree_lined, Sides::default());
}

#[test]
fn speed_limits_by_direction_and_zone() {
    let r = highway(&[("maxspeed", "80"), ("maxspeed:backward", "60")]);
    assert_eq!((r.maxspeed_forward, r.maxspeed_backward), (Some(SpeedLimit::Kmh(80.0)), Some(SpeedLimit::Kmh(60.0))));
    assert_eq!(highway(&[("maxspeed", "FR:rural")]).maxspeed_forward, Some(SpeedLimit::Zone(Zone::Rural)));
    assert_eq!(highway(&[("source:maxspeed", "DE:urban")]).maxspeed_forward, Some(SpeedLimit::Zone(Zone::Urban)));
    assert_eq!(highway(&[("source:maxspeed", "sign")]).maxspeed_forward, None);
    for (key, value) in [("zone:maxspeed", "DE:30"), ("zone:maxspeed", "30"), ("source:maxspeed", "AT:zone:30")] {
        assert_eq!(highway(&[(key, value)]).maxspeed_forward, Some(SpeedLimit::Kmh(30.0)), "{key}={value}");
    }
    for (key, value) in [("source:maxspeed", "30"), ("zone:maxspeed", "GB:20"), ("maxspeed:type", "sign")] {
        assert_eq!(highway(&[(key, value)]).maxspeed_forward, None, "{key}={value}");
    }
    assert_eq!(highway(&[("maxspeed", "none")]).maxspeed_forward, Some(SpeedLimit::Unlimited));
    assert_eq!(highway(&[("maxspeed", "signals")]).maxspeed_forward, None);
}

#[test]
fn values_not_understood_are_counted_and_never_zero() {
    let bad = &[
        ("highway", "primary"),
        ("lanes", "60"),
        ("width", "900"),
        ("maxspeed", "fast"),
        ("maxheight", "3,8"),
        ("layer", "ground"),
        ("lanes:forward", "2;3"),
        ("maxheight:physical", "default"),
    ];
    let mut issues = Issues::default();
    let r = tags_road::parse(&tags(bad), &mut issues).expect("still a road");
    assert_eq!((r.lanes, r.width_m, r.maxspeed_forward, r.maxheight_m, r.layer), (None, None, None, None, 0));
    assert_eq!(r.lanes_forward, Some(2));
    let mut kinds: Vec<_> = issues.iter().map(|(d, _)| d).collect();
    kinds.sort();
    assert_eq!(
        kinds,
        [
            Defect::BadLength,
            Defect::BadLength,
            Defect::BadSpeed,
            Defect::BadCount,
            Defect::BadCount,
            Defect::SeveralValues
        ]
    );
}

#[test]
fn widths_take_the_carriageway_first() {
    assert_eq!(highway(&[("width", "9"), ("width:carriageway", "6,5 m")]).width_m, Some(6.5));
    assert_eq!(highway(&[("est_width", "4")]).width_m, Some(4.0));
    assert_eq!(highway(&[("tracktype", "grade4")]).tracktype, Some(4));
    assert_eq!(highway(&[("tracktype", "grade9")]).tracktype, None);
}

#[test]
fn what_stands_over_roads() {
    let carries = |pairs: &Pairs| deck(pairs, false).map(|d| d.carries);
    let bridge = ("bridge", "yes");
    assert_eq!(carries(&[("highway", "footway"), bridge]), Some(DeckUse::Foot));
    assert_eq!(
        carries(&[("highway", "motorway_link"), bridge, ("access", "no")]),
        Some(DeckUse::Road(RoadClass::Motorway))
    );
    assert_eq!(carries(&[("railway", "rail"), bridge]), Some(DeckUse::Rail));
    assert_eq!(carries(&[("waterway", "canal"), ("bridge", "aqueduct")]), Some(DeckUse::Water));
    assert_eq!(carries(&[("man_made", "pipeline"), bridge]), Some(DeckUse::Pipe));
    assert_eq!(carries(&[("man_made", "goods_conveyor")]), Some(DeckUse::Pipe));
    assert_eq!(carries(&[("man_made", "gantry")]), Some(DeckUse::Gantry));
    for none in [
        &[("highway", "primary"), ("bridge", "no")][..],
        &[("highway", "proposed"), bridge],
        &[("railway", "razed"), bridge],
        &[("aerialway", "gondola"), bridge],
        &[("man_made", "pipeline"), ("location", "underground")],
        &[("man_made", "goods_conveyor"), ("location", "underground")],
        &[("highway", "primary")],
    ] {
        assert_eq!(carries(none), None, "{none:?}");
    }
}

#[test]
fn deck_outlines() {
    let outline = |pairs: &Pairs, closed| deck(pairs, closed).is_some_and(|d| matches!(d.shape, DeckShape::Outline(_)));
    assert!(outline(&[("man_made", "bridge")], true));
    assert!(outline(&[("highway", "pedestrian"), ("area", "yes"), ("bridge", "yes")], true));
    assert!(!outline(&[("highway", "primary"), ("bridge", "yes")], true), "a ring road on a bridge is a line");
    let d = deck(&[("building", "bridge"), ("building:min_level", "2")], true).expect("a deck");
    assert_eq!((d.carries, d.min_height_m), (DeckUse::Structure, Some(6.0)));
    let rail = deck(&[("railway", "rail"), ("bridge", "yes"), ("tracks", "2"), ("layer", "2")], false).expect("a deck");
    assert_eq!((rail.lanes, rail.layer), (Some(2), 2));
}

#[test]
fn buildings_parts_and_roofs() {
    let b = building(&[("building", "yes"), ("height", "12 m"), ("building:levels", "3"), ("roof:height", "2")])
        .expect("a building");
    assert_eq!(
        (b.height_m, b.levels, b.roof_height_m, b.part, b.roof_only),
        (Some(12.0), Some(3.0), Some(2.0), false, false)
    );
    assert!(
        building(&[("building:part", "yes"), ("min_height", "6")])
            .is_some_and(|b| b.part && b.min_height_m == Some(6.0))
    );
    assert!(building(&[("building", "carport")]).is_some_and(|b| b.roof_only));
    assert!(building(&[("building:part", "roof")]).is_some_and(|b| b.roof_only && b.part));
    // Outline and part in one: a viaduct park over the street, not to be replaced by its own pillars.
    assert!(building(&[("building", "yes"), ("building:part", "yes")]).is_some_and(|b| b.part && !b.roof_only));
    assert!(building(&[("building", "yes"), ("building:part", "roof")]).is_some_and(|b| !b.roof_only));
    for roof in [
        &[("amenity", "fuel"), ("covered", "yes")][..],
        &[("amenity", "bus_station"), ("covered", "yes")],
        &[("building", "canopy")],
        &[("building", "yes"), ("wall", "no")],
    ] {
        assert!(building(roof).is_some_and(|b| b.roof_only), "{roof:?}");
    }
    assert!(building(&[("building", "toll_booth")]).is_some_and(|b| !b.roof_only));
    for none in [
        &[("building", "no")][..],
        &[("building", "bridge")],
        &[("building", "yes"), ("location", "underground")],
        &[("amenity", "fuel")],
        &[("amenity", "bus_station")],
        &[("amenity", "shelter"), ("covered", "yes")],
    ] {
        assert_eq!(building(none), None, "{none:?}");
    }
}

#[test]
fn trees_and_their_leaves() {
    let canopy = |pairs: &Pairs| tags_side::canopy(&tags(pairs), &mut Issues::default());
    let larch = canopy(&[
        ("landuse", "forest"),
        ("leaf_type", "needleleaved"),
        ("leaf_cycle", "deciduous"),
        ("est_height", "25"),
    ])
    .expect("a wood");
    assert_eq!(
        (larch.leaf_type, larch.leaf_cycle, larch.height_m),
        (LeafType::Needleleaved, LeafCycle::Deciduous, Some(25.0))
    );
    let old = canopy(&[("natural", "wood"), ("wood", "deciduous")]).expect("a wood");
    assert_eq!((old.leaf_type, old.leaf_cycle), (LeafType::Broadleaved, LeafCycle::Deciduous));
    assert!(canopy(&[("barrier", "hedge")]).is_some_and(|c| matches!(c.shape, CanopyShape::Hedge(_))));
    assert!(canopy(&[("natural", "tree_row")]).is_some_and(|c| matches!(c.shape, CanopyShape::Row(_))));
    assert!(canopy(&[("landuse", "meadow")]).is_none());
    let at = Position { lon_e7: 1, lat_e7: 2 };
    let tree = of_node(9, at, &tags(&[("natural", "tree"), ("diameter_crown", "7")]), &mut Issues::default());
    match tree.as_slice() {
        [Feature::Canopy(c)] => {
            assert_eq!((c.id, &c.shape, c.crown_diameter_m), (9, &CanopyShape::Tree(at), Some(7.0)))
        }
        other => panic!("{other:?}"),
    }
}

#[test]
fn barriers() {
    let kind = |pairs: &Pairs| tags_side::barrier(&tags(pairs), &mut Issues::default()).map(|b| b.kind);
    assert_eq!(kind(&[("barrier", "wall")]), Some(BarrierKind::Wall));
    assert_eq!(kind(&[("barrier", "wall"), ("wall", "noise_barrier")]), Some(BarrierKind::NoiseBarrier));
    assert_eq!(kind(&[("barrier", "retaining_wall")]), Some(BarrierKind::RetainingWall));
    assert_eq!(kind(&[("natural", "cliff")]), Some(BarrierKind::Cliff));
    assert_eq!(kind(&[("barrier", "wall"), ("wall", "retaining_wall")]), Some(BarrierKind::RetainingWall));
    assert_eq!(kind(&[("natural", "earth_bank")]), Some(BarrierKind::Bank));
    assert_eq!(kind(&[("man_made", "embankment")]), Some(BarrierKind::Bank));
    assert_eq!(kind(&[("man_made", "embankment"), ("highway", "track")]), None);
    assert_eq!(kind(&[("barrier", "fence")]), None);
}

#[test]
fn stops() {
    let stop = |pairs: &Pairs| tags_stop::stop(&tags(pairs), &mut Issues::default());
    for (key, value, kind) in [
        ("amenity", "fuel", StopKind::Fuel),
        ("highway", "rest_area", StopKind::RestArea),
        ("highway", "services", StopKind::Services),
        ("tourism", "camp_site", StopKind::CampSite),
        ("tourism", "camp_pitch", StopKind::CampPitch),
        ("tourism", "caravan_site", StopKind::CaravanSite),
        ("tourism", "picnic_site", StopKind::PicnicSite),
        ("tourism", "viewpoint", StopKind::Viewpoint),
        ("amenity", "parking", StopKind::Parking),
    ] {
        assert_eq!(stop(&[(key, value)]).map(|s| s.kind), Some(kind));
    }
    assert!(
        stop(&[("amenity", "parking"), ("parking", "underground")]).is_some_and(|s| s.shelter == Shelter::Enclosed)
    );
    assert!(stop(&[("amenity", "fuel"), ("covered", "yes")]).is_some_and(|s| s.shelter == Shelter::Covered));
    assert!(stop(&[("amenity", "fuel"), ("covered", "no")]).is_some_and(|s| s.shelter == Shelter::Uncovered));
    assert!(stop(&[("amenity", "fuel"), ("parking", "underground")]).is_some_and(|s| s.shelter == Shelter::Untold));
    for (value, access) in [
        ("private", StopAccess::Private),
        ("customers;residents", StopAccess::Private),
        ("customers", StopAccess::Customers),
        ("permit", StopAccess::Customers),
        ("permissive", StopAccess::Open),
    ] {
        assert_eq!(stop(&[("amenity", "parking"), ("access", value)]).map(|s| s.access), Some(access), "{value}");
    }
    assert!(stop(&[("amenity", "parking"), ("access", "no")]).is_none());
}

#[test]
fn water_and_tracks_on_the_ground_are_barred() {
    let barred = |pairs: &Pairs| {
        let found = tags_barred::barred(&tags(pairs), &mut Issues::default())?;
        Some((found.by, matches!(found.shape, BarredShape::Area(_)), found.width_m))
    };
    let water = |area, width_m| Some((BarredBy::Water, area, width_m));
    assert_eq!(barred(&[("natural", "water")]), water(true, None));
    assert_eq!(barred(&[("waterway", "riverbank"), ("width", "8")]), water(true, None));
    assert_eq!(barred(&[("leisure", "swimming_pool")]), water(true, None));
    assert_eq!(barred(&[("waterway", "river"), ("width", "12 m")]), water(false, Some(12.0)));
    assert_eq!(barred(&[("natural", "coastline")]), Some((BarredBy::Coast, false, None)));
    assert_eq!(barred(&[("railway", "tram")]), Some((BarredBy::Rail, false, None)));
    for buried in [("tunnel", "culvert"), ("tunnel", "yes"), ("covered", "yes"), ("location", "underground")] {
        assert_eq!(barred(&[("waterway", "stream"), buried]), None);
        assert_eq!(barred(&[("railway", "rail"), buried]), None);
    }
    assert_eq!(barred(&[("railway", "abandoned")]), None);
    assert_eq!(barred(&[("waterway", "dam")]), None);
}

#[test]
fn one_way_can_be_several_things() {
    let all =
        of_way(&tags(&[("highway", "primary"), ("bridge", "yes"), ("barrier", "wall")]), false, &mut Issues::default());
    assert!(matches!(all.as_slice(), [Feature::Road(_), Feature::Barrier(_), Feature::Deck(_)]), "{all:?}");
}
