//! Values as people type them: lengths, boxes, shares.
use std::ops::RangeInclusive;

use crate::base::units::length_m;
use crate::layer::Bounds;

/// Reads lengths within a range, metres: `200m`, `2km`, `1.5 km`, `500ft`, `0.5 mi`; a plain number is metres. For every
/// option that takes a distance.
pub fn length(range_m: RangeInclusive<f64>) -> impl Fn(&str) -> Result<f64, String> + Clone + Send + Sync + 'static {
    move |text| {
        let read = length_m(text, range_m.clone()).ok().filter(|r| !r.several);
        read.map(|r| r.value).ok_or_else(|| {
            let (low, high) = (shown(*range_m.start()), shown(*range_m.end()));
            format!("give a length from {low} to {high}; a plain number is metres, other units are km, ft and mi")
        })
    }
}

/// `20 km`, `0.5 m`.
fn shown(length_m: f64) -> String {
    if length_m >= 1_000.0 { format!("{} km", length_m / 1e3) } else { format!("{length_m} m") }
}

/// Reads minutes within a range.
pub fn minutes(range: RangeInclusive<f64>) -> impl Fn(&str) -> Result<f64, String> + Clone + Send + Sync + 'static {
    move |text| {
        let parsed = text.parse().ok().filter(|m| range.contains(m));
        parsed.ok_or_else(|| format!("give minutes from {} to {}", range.start(), range.end()))
    }
}

/// A share.
pub fn share(text: &str) -> Result<f64, String> {
    text.parse().ok().filter(|s| (0.0..=1.0).contains(s)).ok_or_else(|| "give a share from 0 to 1".into())
}

/// How much one thing counts beside another.
pub fn weight(text: &str) -> Result<f64, String> {
    text.parse().ok().filter(|w| (0.0..=1_000.0).contains(w)).ok_or_else(|| "give a number from 0 to 1000".into())
}

/// A box: south, west, north and east, degrees.
pub fn bounds(text: &str) -> Result<Bounds, String> {
    let sides: Vec<f64> = text.split(',').filter_map(|side| side.trim().parse().ok()).collect();
    match sides.as_slice() {
        [s, w, n, e] if s <= n && w <= e && (-90.0..=90.0).contains(s) && *n <= 90.0 && *w >= -180.0 && *e <= 180.0 => {
            Ok(Bounds::from_deg(*w, *s, *e, *n))
        }
        _ => Err("give south, west, north and east in degrees, such as 42.4,1.4,42.7,1.8".into()),
    }
}

/// Sides of a box that may lie across 180 degrees: south, west, north and east, degrees.
pub fn box_sides(text: &str) -> Result<[f64; 4], String> {
    let sides: Vec<f64> = text.split(',').filter_map(|side| side.trim().parse().ok()).collect();
    let told = "give south, west, north and east in degrees, such as 42.4,1.4,42.7,1.8";
    sides.try_into().map_err(|_| told.to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    proptest::proptest! {
        #[test]
        fn whatever_is_typed_is_read_or_refused_with_words(text in ".{0,30}|[-0-9.,e+ ]{0,20}") {
            let said = [
                bounds(&text).err(),
                share(&text).err(),
                weight(&text).err(),
                length(0.0..=1.0)(&text).err(),
                minutes(0.0..=1.0)(&text).err(),
                crate::cli::times::day_or_time(&text).err(),
                crate::cli::times::moment(&text, &jiff::tz::TimeZone::UTC).err(),
                crate::cli::times::zone(&text).err(),
            ];
            proptest::prop_assert!(said.iter().flatten().all(|fact| !fact.is_empty()));
        }
    }

    #[test]
    fn lengths_have_units_and_ranges() {
        let read = length(0.0..=100_000.0);
        for (text, metres) in [
            ("500", 500.0),
            ("500m", 500.0),
            ("2.5km", 2_500.0),
            ("2.5 km", 2_500.0),
            ("1,5 km", 1_500.0),
            ("100km", 100_000.0),
            ("10 ft", 3.048),
            ("5 miles", 8_046.72),
        ] {
            assert!(read(text).is_ok_and(|m| (m - metres).abs() < 1e-9), "{text}: {:?}", read(text));
        }
        for text in ["", "km", "-1", "NaN", "inf", "1e3", "200km", "far", "100;200", "100-200", "3 parsecs"] {
            let error = read(text).unwrap_err();
            assert!(error.contains("from 0 m to 100 km"), "{text}: {error}");
        }
        assert!(length(0.5..=10.0)("0.4").unwrap_err().contains("from 0.5 m to 10 m"));
        assert_eq!((length(0.5..=10.0)("10'0\"").is_ok(), length(1.0..=5_000.0)("5001").is_ok()), (true, false));
    }

    #[test]
    fn minutes_and_shares_have_ranges() {
        assert_eq!((minutes(1.0..=1_440.0)("15"), share("0.5")), (Ok(15.0), Ok(0.5)));
        assert!(minutes(1.0..=1_440.0)("0").unwrap_err().contains("from 1 to 1440"));
        assert!(share("1.1").is_err() && share("NaN").is_err());
        assert_eq!((weight("0"), weight("2.5"), weight("1000")), (Ok(0.0), Ok(2.5), Ok(1_000.0)));
        assert!(["-0.1", "1001", "NaN", "inf", ""].iter().all(|w| weight(w).is_err()));
    }

    #[test]
    fn boxes_are_on_earth() {
        assert_eq!(bounds("42.4,1.4,42.7,1.8"), Ok(Bounds::from_deg(1.4, 42.4, 1.8, 42.7)));
        assert!(["42.7,1.4,42.4,1.8", "1,2,3", "a,b,c,d", "0,0,0,181"].iter().all(|t| bounds(t).is_err()));
    }
}
