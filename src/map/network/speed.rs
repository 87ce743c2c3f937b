//! The speed a road is driven at, and where it came from.
//!
//! These are travel speeds on a free road: a slower drive makes every outage longer, so the layer
//! says which speed was used.
use super::model::Sourced;
use crate::base::words::{RoadClass, ValueFrom};
use crate::map::extract::model::{Road, SpeedLimit, Zone};

/// Walking pace as a speed limit, km/h.
const WALK_KMH: f32 = 7.0;
/// Driven where there is no limit, km/h, before the profile's top speed (common practice, no source).
const UNLIMITED_KMH: f32 = 130.0;

/// Speed of a class without a tag, km/h (assumed).
fn class_kmh(class: RoadClass, link: bool) -> f32 {
    use RoadClass::*;
    match (class, link) {
        (Motorway, false) => 110.0,
        (Motorway, true) => 60.0,
        (Trunk, false) => 90.0,
        (Trunk, true) => 50.0,
        (Primary, false) => 80.0,
        (Secondary, false) => 70.0,
        (Tertiary, false) => 60.0,
        (Primary | Secondary | Tertiary, true) => 45.0,
        (Unclassified, _) => 50.0,
        (Residential, _) => 30.0,
        (LivingStreet, _) => 10.0,
        (Service | Track, _) => 15.0,
        (Ferry, _) => 25.0,
        (ShuttleTrain, _) => 60.0,
    }
}

/// Usual legal speed of a zone, km/h; countries differ, so it is marked as a country default (from memory).
fn zone_kmh(zone: Zone) -> f32 {
    match zone {
        Zone::Urban => 50.0,
        Zone::Rural => 90.0,
        Zone::Trunk => 110.0,
        Zone::Motorway => 130.0,
        Zone::LivingStreet => 10.0,
    }
}

/// Fastest speed the surface allows a camper or van, km/h (assumed); `None` where it sets no limit.
fn surface_cap_kmh(road: &Road) -> Option<f32> {
    let by_surface = road.surface.as_deref().and_then(|s| match s {
        "asphalt" | "concrete" | "paved" | "chipseal" | "concrete:plates" => None,
        "paving_stones" | "sett" | "concrete:lanes" => Some(50.0),
        "cobblestone" | "unhewn_cobblestone" => Some(30.0),
        "compacted" | "fine_gravel" => Some(60.0),
        "unpaved" | "gravel" | "pebblestone" => Some(45.0),
        "ground" | "dirt" | "earth" | "grass" | "grass_paver" => Some(25.0),
        "mud" | "sand" | "rock" | "stone" | "wood" => Some(15.0),
        _ => None,
    });
    let by_track = road.tracktype.map(|grade| match grade {
        1 => 35.0,
        2 => 25.0,
        3 => 20.0,
        4 => 15.0,
        _ => 10.0,
    });
    let by_smoothness = road.smoothness.as_deref().and_then(|s| match s {
        "bad" => Some(40.0),
        "very_bad" => Some(20.0),
        "horrible" | "very_horrible" | "impassable" => Some(8.0),
        _ => None,
    });
    let by_track = if road.class == RoadClass::Track { by_track } else { None };
    [by_surface, by_track, by_smoothness].into_iter().flatten().reduce(f32::min)
}

/// Speed of a road under a limit, km/h.
pub fn speed_kmh(road: &Road, limit: Option<SpeedLimit>) -> Sourced<f32> {
    let mut speed = match limit {
        Some(SpeedLimit::Kmh(v)) => Sourced { value: v, from: ValueFrom::Tag },
        Some(SpeedLimit::Unlimited) => Sourced { value: UNLIMITED_KMH, from: ValueFrom::Tag },
        Some(SpeedLimit::Walk) => Sourced { value: WALK_KMH, from: ValueFrom::Tag },
        Some(SpeedLimit::Zone(z)) => Sourced { value: zone_kmh(z), from: ValueFrom::Country },
        None => Sourced { value: class_kmh(road.class, road.link), from: ValueFrom::Default },
    };
    if let Some(cap) = surface_cap_kmh(road).filter(|cap| *cap < speed.value) {
        speed = Sourced { value: cap, from: ValueFrom::Default };
    }
    speed.value = speed.value.max(5.0);
    speed
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::map::network::test_roads::road;

    #[test]
    fn a_tag_wins_and_says_so() {
        let r = road(1, RoadClass::Primary);
        let s = speed_kmh(&r, Some(SpeedLimit::Kmh(60.0)));
        assert_eq!((s.value, s.from), (60.0, ValueFrom::Tag));
        assert_eq!(speed_kmh(&r, None).from, ValueFrom::Default);
        assert_eq!(speed_kmh(&r, Some(SpeedLimit::Zone(Zone::Rural))).from, ValueFrom::Country);
    }

    #[test]
    fn a_rough_surface_slows_down() {
        let mut r = road(1, RoadClass::Tertiary);
        r.surface = Some("gravel".into());
        assert_eq!(speed_kmh(&r, Some(SpeedLimit::Kmh(90.0))).value, 45.0);
        r.class = RoadClass::Track;
        r.tracktype = Some(4);
        assert_eq!(speed_kmh(&r, None).value, 15.0);
    }
}
