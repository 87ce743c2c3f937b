//! The time zone of a place, by its name in the IANA database.
//!
//! Boundaries are those of timezone-boundary-builder (from OpenStreetMap, ODbL) with zones at sea, as the crate `tzf-rs` bundles
//! them: simplified, so that within some hundred metres of a border the neighbour's zone may be given.
use std::sync::LazyLock;

use tzf_rs::EmbeddedFinder;

use crate::base::foreign::foreign;
use crate::base::geodesy::Position;

/// Opened at the first question, in some milliseconds; nothing if the data of the crate cannot be opened.
static FINDER: LazyLock<Option<EmbeddedFinder>> = LazyLock::new(|| foreign("time zones", EmbeddedFinder::new).ok());

/// The zone of a place: `Europe/Andorra`, or at sea `Etc/GMT+2`. Nothing where none is known.
pub fn zone_name(at: Position) -> Option<&'static str> {
    let finder = FINDER.as_ref()?;
    let name = foreign("time zones", || finder.get_tz_name(at.lon_deg(), at.lat_deg())).ok()?;
    (!name.is_empty()).then_some(name)
}

/// Whether a zone is one of the sea: an hour for fifteen degrees of longitude, which no country has made law.
pub fn is_nautical(name: &str) -> bool {
    name.starts_with("Etc/GMT")
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::tz::TimeZone;

    /// Coordinates of the principal place of a zone, and its name: from `zone1970.tab` and `zone.tab` of the IANA time zone
    /// database, to the minute or second of arc as printed there. Of all 418 rows of the `zone.tab` of Debian's tzdata 416 agree: zones
    /// overlap in Urumqi, and the minute printed for Monaco lies in France.
    const PRINCIPAL: &[(&str, &str)] = &[
        ("+4230+00131", "Europe/Andorra"),
        ("+2518+05518", "Asia/Dubai"),
        ("+3431+06912", "Asia/Kabul"),
        ("-3436-05827", "America/Argentina/Buenos_Aires"),
        ("-3352+15113", "Australia/Sydney"),
        ("-3455+13835", "Australia/Adelaide"),
        ("-3157+11551", "Australia/Perth"),
        ("-3133+15905", "Australia/Lord_Howe"),
        ("+4813+01620", "Europe/Vienna"),
        ("+5050+00420", "Europe/Brussels"),
        ("-2332-04637", "America/Sao_Paulo"),
        ("-0308-06001", "America/Manaus"),
        ("+4734-05243", "America/St_Johns"),
        ("+4339-07923", "America/Toronto"),
        ("+4916-12307", "America/Vancouver"),
        ("+4723+00832", "Europe/Zurich"),
        ("-3327-07040", "America/Santiago"),
        ("-2709-10926", "Pacific/Easter"),
        ("+3114+12128", "Asia/Shanghai"),
        ("+0436-07405", "America/Bogota"),
        ("+5005+01426", "Europe/Prague"),
        ("+5230+01322", "Europe/Berlin"),
        ("+3003+03115", "Africa/Cairo"),
        ("+4024-00341", "Europe/Madrid"),
        ("+2806-01524", "Atlantic/Canary"),
        ("+6010+02458", "Europe/Helsinki"),
        ("+4852+00220", "Europe/Paris"),
        ("+513030-0000731", "Europe/London"),
        ("+3758+02343", "Europe/Athens"),
        ("+5320-00615", "Europe/Dublin"),
        ("+2232+08822", "Asia/Kolkata"),
        ("+6409-02151", "Atlantic/Reykjavik"),
        ("+4154+01229", "Europe/Rome"),
        ("+353916+1394441", "Asia/Tokyo"),
        ("+2743+08519", "Asia/Kathmandu"),
        ("-3652+17446", "Pacific/Auckland"),
        ("-4357-17633", "Pacific/Chatham"),
        ("+3843-00908", "Europe/Lisbon"),
        ("+3744-02540", "Atlantic/Azores"),
        ("+554521+0373704", "Europe/Moscow"),
        ("+404251-0740023", "America/New_York"),
        ("+394421-1045903", "America/Denver"),
        ("+332654-1120424", "America/Phoenix"),
        ("+340308-1181434", "America/Los_Angeles"),
        ("+211825-1575130", "Pacific/Honolulu"),
        ("-2615+02800", "Africa/Johannesburg"),
    ];

    /// Degrees of `+DDMM`, `+DDDMM` and the same with seconds.
    fn degrees(text: &str) -> f64 {
        let digits = &text[1..];
        let (whole, rest) = digits.split_at(if digits.len().is_multiple_of(2) { 2 } else { 3 });
        let part = |at: usize| rest.get(at..at + 2).map_or(0.0, |d| d.parse::<f64>().unwrap());
        let value = whole.parse::<f64>().unwrap() + part(0) / 60.0 + part(2) / 3_600.0;
        if text.starts_with('-') { -value } else { value }
    }

    #[test]
    fn principal_places_of_the_iana_database_have_their_zones() {
        assert!(PRINCIPAL.len() >= 30);
        for (at, name) in PRINCIPAL {
            let cut = at[1..].find(['+', '-']).unwrap() + 1;
            let place = Position::from_deg(degrees(&at[cut..]), degrees(&at[..cut]));
            assert_eq!(zone_name(place), Some(*name), "{at}");
            assert!(TimeZone::get(name).is_ok(), "{name}");
        }
    }

    #[test]
    fn at_sea_zones_go_by_longitude() {
        for (lat, lon, name) in [(47.0, -28.0, "Etc/GMT+2"), (0.0, 0.0, "Etc/GMT"), (-40.0, 100.0, "Etc/GMT-7")] {
            let zone = zone_name(Position::from_deg(lon, lat)).unwrap();
            assert!(zone == name && is_nautical(zone) && TimeZone::get(zone).is_ok(), "{zone}");
        }
        assert!(!is_nautical("Europe/Andorra"));
    }

    #[test]
    fn every_place_on_earth_has_a_zone_that_the_program_knows() {
        for (lat, lon) in (-18..=18).flat_map(|lat| (-36..=36).map(move |lon| (5 * lat, 5 * lon))) {
            let zone = zone_name(Position::from_deg(f64::from(lon), f64::from(lat)));
            assert!(zone.is_some_and(|zone| TimeZone::get(zone).is_ok()), "{lat},{lon}: {zone:?}");
        }
    }
}
