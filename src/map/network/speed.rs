//! The speed a road is driven at, and where it came from.
//!
//! These are travel speeds on a free road: a slower drive makes every outage longer, so the layer
//! says which speed was used. Where no tag gives a limit it is the usual speed of the class, less where the law of the
//! country allows less: a legal 100 km/h is too fast for a narrow road, and 90 too fast where 70 are allowed.
use super::model::Sourced;
use super::surface::unpaved;
use crate::base::words::{RoadClass, ValueFrom};
use crate::map::extract::model::{Oneway, Road, SpeedLimit, Zone};
use crate::map::place::speeds::LegalSpeeds;
use crate::profile::Vehicle;

/// Walking pace as a speed limit, km/h.
const WALK_KMH: f32 = 7.0;
/// Driven where there is no limit, km/h, before the profile's top speed (common practice, no source).
const UNLIMITED_KMH: f32 = 130.0;
/// Through built-up places whose country is not in the table, km/h (assumed: the limit of most countries that are).
const BUILT_UP_KMH: f32 = 50.0;
/// The slowest road, km/h.
const SLOWEST_KMH: f32 = 5.0;

/// What decides the speed of a road besides its tags.
#[derive(Debug, Clone, Copy)]
pub struct Setting<'a> {
    /// Legal speeds there.
    pub legal: Option<LegalSpeeds>,
    /// Whether the place is built-up, where that is known.
    pub built_up: Option<bool>,
    /// Radius of a roundabout, metres.
    pub radius_m: Option<f64>,
    /// The vehicle.
    pub vehicle: &'a Vehicle,
}

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

/// Usual legal speed of a zone, km/h, where the country has none in the table (assumed).
fn zone_kmh(zone: Zone, legal: Option<LegalSpeeds>) -> f32 {
    let (published, usual) = match zone {
        Zone::Urban => (legal.and_then(|l| l.urban_kmh), BUILT_UP_KMH),
        Zone::Rural => (legal.and_then(|l| l.rural_kmh), 90.0),
        Zone::Trunk => (legal.and_then(|l| l.outside_kmh(RoadClass::Trunk)), 110.0),
        Zone::Motorway => (legal.and_then(|l| l.motorway_kmh), UNLIMITED_KMH),
        Zone::LivingStreet => (None, 10.0),
    };
    published.unwrap_or(usual).min(UNLIMITED_KMH)
}

/// Whether a tag says that the surface is firm.
fn is_firm(road: &Road) -> bool {
    let unpaved = unpaved(road);
    !unpaved.value && unpaved.from == ValueFrom::Tag
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
    let by_track = road.tracktype.and_then(|grade| match grade {
        1 => None,
        2 => Some(25.0),
        3 => Some(20.0),
        4 => Some(15.0),
        _ => Some(10.0),
    });
    let by_smoothness = road.smoothness.as_deref().and_then(|s| match s {
        "bad" => Some(40.0),
        "very_bad" => Some(20.0),
        "horrible" | "very_horrible" | "impassable" => Some(8.0),
        _ => None,
    });
    let by_track = if road.class == RoadClass::Track && !is_firm(road) { by_track } else { None };
    [by_surface, by_track, by_smoothness].into_iter().flatten().reduce(f32::min)
}

/// Whether the limit of built-up places holds on a road: not on motorways, and not on dual carriageways of trunk roads,
/// which are signed faster in most towns (assumed).
fn takes_urban_limit(road: &Road) -> bool {
    let fast = match road.class {
        RoadClass::Motorway => true,
        RoadClass::Trunk => road.oneway != Oneway::Both,
        class => class.is_boarded(),
    };
    !fast
}

/// Speed at which a curve asks for a lateral acceleration, km/h: `v^2 = a r`.
pub(crate) fn curve_kmh(radius_m: f64, lateral_mps2: f64) -> f64 {
    3.6 * (lateral_mps2 * radius_m).sqrt()
}

/// Speed of a road without a limit, km/h: that of its class, or less.
fn usual_kmh(road: &Road, setting: &Setting) -> Sourced<f32> {
    let firm_track = road.class == RoadClass::Track && is_firm(road);
    let class_kmh = if firm_track { setting.vehicle.paved_track_kmh as f32 } else { class_kmh(road.class, road.link) };
    let mut speed = Sourced { value: class_kmh, from: ValueFrom::Default };
    let mut at_most = |kmh: Option<f32>, from| {
        if let Some(value) = kmh.filter(|kmh| *kmh < speed.value) {
            speed = Sourced { value, from };
        }
    };
    if !road.class.is_boarded() {
        at_most(setting.legal.and_then(|l| l.outside_kmh(road.class)), ValueFrom::Country);
    }
    if setting.built_up == Some(true) && takes_urban_limit(road) {
        match setting.legal.and_then(|l| l.urban_kmh) {
            Some(urban_kmh) => at_most(Some(urban_kmh), ValueFrom::BuiltUp),
            None => at_most(Some(BUILT_UP_KMH), ValueFrom::BuiltUpAssumed),
        }
    }
    at_most(setting.radius_m.map(|r| curve_kmh(r, setting.vehicle.lateral_mps2) as f32), ValueFrom::Radius);
    speed
}

/// Speed of a road under a limit, km/h.
pub fn speed_kmh(road: &Road, limit: Option<SpeedLimit>, setting: &Setting) -> Sourced<f32> {
    let mut speed = match limit {
        Some(SpeedLimit::Kmh(v)) => Sourced { value: v, from: ValueFrom::Tag },
        Some(SpeedLimit::Unlimited) => Sourced { value: UNLIMITED_KMH, from: ValueFrom::Tag },
        Some(SpeedLimit::Walk) => Sourced { value: WALK_KMH, from: ValueFrom::Tag },
        Some(SpeedLimit::Zone(z)) => Sourced { value: zone_kmh(z, setting.legal), from: ValueFrom::Country },
        None => usual_kmh(road, setting),
    };
    if let Some(cap) = surface_cap_kmh(road).filter(|cap| *cap < speed.value) {
        speed = Sourced { value: cap, from: ValueFrom::Default };
    }
    speed.value = speed.value.max(SLOWEST_KMH);
    speed
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::geodesy::Position;
    use crate::map::network::test_roads::road;
    use crate::map::place::places::Places;
    use crate::profile::Profile;

    fn anywhere(vehicle: &Vehicle) -> Setting<'_> {
        Setting { legal: None, built_up: None, radius_m: None, vehicle }
    }

    /// Speed and source of an untagged road in a country (by a place in it), built-up or not.
    fn untagged(class: RoadClass, (lat, lon): (f64, f64), built_up: Option<bool>) -> (f32, ValueFrom) {
        let vehicle = Profile::default().vehicle;
        let legal = Places::embedded().unwrap().locale(Position::from_deg(lon, lat)).speeds;
        let s = speed_kmh(&road(1, class), None, &Setting { legal, built_up, ..anywhere(&vehicle) });
        (s.value.round(), s.from)
    }

    #[test]
    fn a_tag_wins_and_says_so() {
        let vehicle = Profile::default().vehicle;
        let built_up = Setting { built_up: Some(true), radius_m: Some(10.0), ..anywhere(&vehicle) };
        let r = road(1, RoadClass::Primary);
        let s = speed_kmh(&r, Some(SpeedLimit::Kmh(60.0)), &built_up);
        assert_eq!((s.value, s.from), (60.0, ValueFrom::Tag));
        assert_eq!(speed_kmh(&r, None, &anywhere(&vehicle)).from, ValueFrom::Default);
        let zone = speed_kmh(&r, Some(SpeedLimit::Zone(Zone::Rural)), &built_up);
        assert_eq!((zone.value, zone.from), (90.0, ValueFrom::Country));
    }

    #[test]
    fn a_rough_surface_slows_down() {
        let vehicle = Profile::default().vehicle;
        let mut r = road(1, RoadClass::Tertiary);
        r.surface = Some("gravel".into());
        assert_eq!(speed_kmh(&r, Some(SpeedLimit::Kmh(90.0)), &anywhere(&vehicle)).value, 45.0);
        r.class = RoadClass::Track;
        r.tracktype = Some(4);
        assert_eq!(speed_kmh(&r, None, &anywhere(&vehicle)).value, 15.0);
    }

    #[test]
    fn a_primary_road_takes_the_limit_of_its_country_in_built_up_places() {
        let (lyon, leeds, stockholm, ocean) = ((45.76, 4.84), (53.80, -1.55), (59.33, 18.06), (47.0, -28.0));
        // France 50 and 80, Great Britain 30 mph, Sweden 70 outside (the wiki page named at the table).
        assert_eq!(untagged(RoadClass::Primary, lyon, Some(true)), (50.0, ValueFrom::BuiltUp));
        assert_eq!(untagged(RoadClass::Primary, lyon, Some(false)), (80.0, ValueFrom::Default));
        assert_eq!(untagged(RoadClass::Primary, leeds, Some(true)), (48.0, ValueFrom::BuiltUp));
        assert_eq!(untagged(RoadClass::Primary, stockholm, Some(false)), (70.0, ValueFrom::Country));
        assert_eq!(untagged(RoadClass::Primary, ocean, Some(true)), (50.0, ValueFrom::BuiltUpAssumed));
        assert_eq!(untagged(RoadClass::Primary, ocean, None), (80.0, ValueFrom::Default));
        assert_eq!(untagged(RoadClass::Residential, lyon, Some(true)), (30.0, ValueFrom::Default));
        assert_eq!(untagged(RoadClass::Motorway, lyon, Some(true)), (110.0, ValueFrom::Default));
        assert_eq!(untagged(RoadClass::Ferry, stockholm, Some(true)), (25.0, ValueFrom::Default));
    }

    #[test]
    fn paved_tracks_are_driven_as_small_roads() {
        let vehicle = Profile::default().vehicle;
        let of = |surface: Option<&str>, tracktype| {
            let r = Road { surface: surface.map(Into::into), tracktype, ..road(1, RoadClass::Track) };
            speed_kmh(&r, None, &anywhere(&vehicle)).value
        };
        for (surface, tracktype) in [(Some("asphalt"), None), (Some("concrete"), Some(1)), (None, Some(1))] {
            assert_eq!(of(surface, tracktype), 40.0, "{surface:?} {tracktype:?}");
        }
        assert_eq!(of(Some("paved"), Some(3)), 40.0, "the surface says more than the grade");
        for (surface, tracktype) in [(None, None), (None, Some(2)), (Some("gravel"), Some(1))] {
            assert_eq!(of(surface, tracktype), 15.0, "{surface:?} {tracktype:?}");
        }
    }

    #[test]
    fn a_roundabout_is_driven_by_its_radius_and_never_faster_than_its_class() {
        let mut vehicle = Profile::default().vehicle;
        vehicle.lateral_mps2 = 2.0;
        let of = |class, radius_m| {
            let s = speed_kmh(&road(1, class), None, &Setting { radius_m: Some(radius_m), ..anywhere(&vehicle) });
            (s.value, s.from)
        };
        // v = sqrt(2 x 18) = 6 m/s = 21.6 km/h; sqrt(2 x 50) = 10 m/s = 36 km/h.
        assert_eq!(of(RoadClass::Primary, 18.0), (21.6, ValueFrom::Radius));
        assert_eq!(of(RoadClass::Primary, 50.0), (36.0, ValueFrom::Radius));
        assert_eq!(of(RoadClass::Residential, 50.0), (30.0, ValueFrom::Default));
    }
}
