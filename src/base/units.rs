//! Values as people type them into map tags: lengths, heights, speeds and counts.
//!
//! In: the text of one tag. Out: metres, km/h or plain numbers, or the reason there is none.
//! Nothing here turns an unreadable value into zero, and nothing knows which tag it reads.

/// Metres in a foot (international foot, exact).
pub(super) const FOOT_M: f64 = 0.3048;
/// Metres in an inch (exact).
pub(super) const INCH_M: f64 = 0.0254;
/// Metres in a statute mile (exact).
pub(super) const MILE_M: f64 = 1_609.344;
/// Metres in a nautical mile (exact).
const NAUTICAL_MILE_M: f64 = 1_852.0;

/// Why a value gives no number.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BadValue {
    /// Empty, or not in any known form.
    Unreadable,
    /// A number, but far from anything that exists (or negative where that means nothing).
    OutOfRange,
}

/// A number read from a tag.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reading<T> {
    /// The value; the smallest one if several were typed.
    pub value: T,
    /// Whether several values (`2;3`, `10-15`) stood where one is expected.
    pub several: bool,
}

/// A speed limit as typed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum TypedSpeed<'a> {
    /// A number, km/h.
    Kmh(f64),
    /// `none`: no limit.
    Unlimited,
    /// `walk`: walking pace.
    Walk,
    /// The zone part of `CC:zone`, as typed (`rural` of `FR:rural`).
    Zone(&'a str),
    /// `signals`, `variable`, `implicit` and the like: there is a limit, the tag does not hold it.
    Elsewhere,
}

/// A length in metres from texts such as `3.5`, `3,5 m`, `14 ft`, `12'6"`, `80 cm`.
///
/// A single comma is a decimal comma. Values outside `range_m` (metres, inclusive) are
/// [`BadValue::OutOfRange`].
///
/// ```
/// let read = waymask::base::units::length_m("14 ft", 0.0..=30.0).map(|r| r.value);
/// assert_eq!(read, Ok(14.0 * 0.3048));
/// ```
pub fn length_m(text: &str, range_m: std::ops::RangeInclusive<f64>) -> Result<Reading<f64>, BadValue> {
    smallest(text, |one| in_range(one_length_m(one, true)?, &range_m))
}

/// A posted clearance in metres; `None` where the tag says that no number is posted (`default`, `none`).
///
/// Stricter than [`length_m`]: a comma is not accepted, because signs in countries that write `3,8`
/// and in those that write `3'8"` cannot be told apart, and a clearance misread is worse than none.
pub fn maxheight_m(text: &str, range_m: std::ops::RangeInclusive<f64>) -> Result<Option<Reading<f64>>, BadValue> {
    const NO_NUMBER: [&str; 8] =
        ["default", "below_default", "none", "no_sign", "no_indications", "unsigned", "no", "unknown"];
    let lower = text.trim().to_ascii_lowercase();
    if NO_NUMBER.contains(&lower.as_str()) {
        return Ok(None);
    }
    smallest(text, |one| in_range(one_length_m(one, false)?, &range_m)).map(Some)
}

/// A speed from texts such as `50`, `30 mph`, `10 knots`, `none`, `walk`, `FR:rural`, `DE:zone:30`.
/// Numbers outside 1 to 300 km/h are [`BadValue::OutOfRange`].
pub fn speed(text: &str) -> Result<Reading<TypedSpeed<'_>>, BadValue> {
    let single = |value| Ok(Reading { value, several: false });
    match text.trim() {
        "none" | "unlimited" | "no" => return single(TypedSpeed::Unlimited),
        "walk" | "walking" | "foot" => return single(TypedSpeed::Walk),
        "signals" | "variable" | "implicit" | "default" | "unposted" | "unknown" => {
            return single(TypedSpeed::Elsewhere);
        }
        _ => {}
    }
    if let Some((country, zone)) = text.trim().split_once(':') {
        return zone_speed(country, zone).map(|value| Reading { value, several: false });
    }
    let kmh = smallest(text, |one| in_range(one_speed_kmh(one)?, &(1.0..=300.0)))?;
    Ok(Reading { value: TypedSpeed::Kmh(kmh.value), several: kmh.several })
}

/// A count such as `2`, `2;3` or `1.5`; values outside `range` are [`BadValue::OutOfRange`].
pub fn count(text: &str, range: std::ops::RangeInclusive<f64>) -> Result<Reading<f64>, BadValue> {
    smallest(text, |one| in_range(number(one.trim(), true)?, &range))
}

/// Reads one value, or the smallest of several separated by `;`, `|` or, between two numbers, `-`.
fn smallest(text: &str, read: impl Fn(&str) -> Result<f64, BadValue>) -> Result<Reading<f64>, BadValue> {
    let whole = read(text);
    if whole != Err(BadValue::Unreadable) {
        return whole.map(|value| Reading { value, several: false });
    }
    let separators: &[char] = if text.contains([';', '|']) { &[';', '|'] } else { &['-', '–'] };
    let parts: Vec<&str> = text.split(separators).map(str::trim).filter(|p| !p.is_empty()).collect();
    if parts.len() < 2 || text.trim().starts_with('-') {
        return Err(BadValue::Unreadable);
    }
    let mut least = f64::INFINITY;
    for part in parts {
        least = least.min(read(part)?);
    }
    Ok(Reading { value: least, several: true })
}

fn in_range(value: f64, range: &std::ops::RangeInclusive<f64>) -> Result<f64, BadValue> {
    if range.contains(&value) { Ok(value) } else { Err(BadValue::OutOfRange) }
}

/// A plain decimal number: digits, one point (or one comma where allowed), an optional minus.
/// Exponents, `inf` and `nan`, which the standard parser takes, are not numbers on a road sign.
fn number(text: &str, comma: bool) -> Result<f64, BadValue> {
    let plain = text.replace(',', ".");
    let allowed = |c: char| c.is_ascii_digit() || c == '.' || (c == ',' && comma);
    let digits = text.strip_prefix(['-', '+']).unwrap_or(text);
    if !digits.chars().all(allowed) || !digits.contains(|c: char| c.is_ascii_digit()) {
        return Err(BadValue::Unreadable);
    }
    plain.parse().map_err(|_| BadValue::Unreadable)
}

/// The number a text begins with, and the trimmed rest.
fn leading_number(text: &str, comma: bool) -> Result<(f64, &str), BadValue> {
    let text = text.trim();
    let is_number = |c: char| c.is_ascii_digit() || matches!(c, '.' | ',' | '-' | '+');
    let end = text.find(|c| !is_number(c)).unwrap_or(text.len());
    let (digits, rest) = text.split_at(end);
    Ok((number(digits, comma)?, rest.trim()))
}

/// One length. `12'6"` and `12 ft 6 in` have two parts; everything else a number and a unit.
fn one_length_m(text: &str, comma: bool) -> Result<f64, BadValue> {
    let text = text.trim().trim_start_matches('~').replace(['′', '’'], "'").replace(['″', '”'], "\"");
    let text = text.replace("''", "\"");
    let (value, rest) = leading_number(&text, comma)?;
    let unit_end = rest.find(|c: char| c.is_ascii_digit() || c.is_whitespace()).unwrap_or(rest.len());
    let (unit, more) = rest.split_at(unit_end);
    let unit = unit.trim_end_matches(['-', '.']).to_ascii_lowercase();
    let factor = match unit.as_str() {
        "" | "m" | "meter" | "meters" | "metre" | "metres" | "mtr" | "mts" => 1.0,
        "cm" => 0.01,
        "mm" => 0.001,
        "km" => 1_000.0,
        "mi" | "mile" | "miles" => MILE_M,
        "nmi" => NAUTICAL_MILE_M,
        "'" | "ft" | "foot" | "feet" => FOOT_M,
        "\"" | "in" | "inch" | "inches" => INCH_M,
        _ => return Err(BadValue::Unreadable),
    };
    if more.trim().is_empty() {
        return Ok(value * factor);
    }
    if factor != FOOT_M {
        return Err(BadValue::Unreadable);
    }
    let (inches, inch_unit) = leading_number(more.trim_start_matches([' ', '-']), comma)?;
    let known = matches!(inch_unit.to_ascii_lowercase().as_str(), "" | "\"" | "in" | "inch" | "inches");
    if !known || !(0.0..12.0).contains(&inches) {
        return Err(BadValue::Unreadable);
    }
    Ok(value * FOOT_M + inches * INCH_M)
}

/// One speed with a unit, km/h.
fn one_speed_kmh(text: &str) -> Result<f64, BadValue> {
    let (value, unit) = leading_number(text, true)?;
    match unit.to_ascii_lowercase().as_str() {
        "" | "km/h" | "kmh" | "kph" | "kmph" => Ok(value),
        "mph" => Ok(value * MILE_M / 1_000.0),
        "knots" | "knot" | "kn" | "kt" => Ok(value * NAUTICAL_MILE_M / 1_000.0),
        "m/s" => Ok(value * 3.6),
        _ => Err(BadValue::Unreadable),
    }
}

/// `CC:zone`, where the zone is a name or ends in a number (`DE:zone:30`, `GB:20mph`).
fn zone_speed<'a>(country: &str, zone: &'a str) -> Result<TypedSpeed<'a>, BadValue> {
    let country_like =
        country.len() >= 2 && country.len() <= 6 && country.chars().all(|c| c.is_ascii_alphabetic() || c == '-');
    if !country_like || zone.is_empty() {
        return Err(BadValue::Unreadable);
    }
    let tail = zone.strip_prefix("zone").unwrap_or(zone).trim_start_matches(':');
    match one_speed_kmh(tail) {
        Ok(kmh) => in_range(kmh, &(1.0..=300.0)).map(TypedSpeed::Kmh),
        Err(_) => Ok(TypedSpeed::Zone(zone)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const ANY: std::ops::RangeInclusive<f64> = 0.0..=1e6;
    /// Conversions are exact factors; only rounding of doubles remains.
    const EXACT: f64 = 1e-9;

    fn close(text: &str, expected_m: f64) {
        let read = length_m(text, ANY).map(|r| r.value);
        assert!(read.is_ok_and(|v| (v - expected_m).abs() < EXACT), "{text}: {read:?}");
    }

    #[test]
    fn feet_and_inches_are_exact() {
        // International foot 0.3048 m; forms from the OpenStreetMap wiki, Key:maxheight and Map features/Units.
        for (text, m) in [
            ("13'1\"", 3.9878),
            ("6'7\"", 2.0066),
            ("16'", 4.8768),
            ("14 ft", 4.2672),
            ("12'6\"", 3.81),
            ("12' 6\"", 3.81),
            ("12'-6\"", 3.81),
            ("12 ft 6 in", 3.81),
            ("12ft6in", 3.81),
            ("12′6″", 3.81),
            ("12'6''", 3.81),
            ("36\"", 0.9144),
            ("12'", 3.6576),
        ] {
            close(text, m);
            let posted = maxheight_m(text, ANY).ok().flatten().map(|r| r.value);
            assert!(posted.is_some_and(|v| (v - m).abs() < EXACT), "{text}: {posted:?}");
        }
    }

    #[test]
    fn metric_lengths_with_units_and_commas() {
        for (text, m) in [
            ("3.5", 3.5),
            ("3.5 m", 3.5),
            ("3,5 m", 3.5),
            ("3.5m", 3.5),
            ("~4", 4.0),
            (" 2 ", 2.0),
            (".5", 0.5),
            ("80 cm", 0.8),
            ("1.2 km", 1_200.0),
            ("0.25 mi", 402.336),
            ("2 metres", 2.0),
        ] {
            close(text, m);
        }
    }

    #[test]
    fn unreadable_lengths_are_never_zero() {
        for text in [
            "", " ", "narrow", "3.5.1", "1.200,5", "3 apples", "'", "m", "12'14\"", "1e3", "inf", "NaN", "5 m 3",
            "--2", ";",
        ] {
            assert_eq!(length_m(text, ANY), Err(BadValue::Unreadable), "{text}");
        }
        for text in ["-1", "-3 m"] {
            assert_eq!(length_m(text, ANY), Err(BadValue::OutOfRange), "{text}");
        }
        assert_eq!(length_m("900", 0.5..=200.0), Err(BadValue::OutOfRange));
        assert_eq!(length_m("5000 m", 0.1..=1_000.0), Err(BadValue::OutOfRange));
    }

    #[test]
    fn several_values_give_the_smallest_and_say_so() {
        let read = |text| length_m(text, ANY).map(|r| (r.value, r.several));
        assert_eq!(read("3;2.5"), Ok((2.5, true)));
        assert_eq!(read("10-15"), Ok((10.0, true)));
        assert_eq!(read("10 m - 15 m"), Ok((10.0, true)));
        assert_eq!(read("4"), Ok((4.0, false)));
        assert_eq!(read("3;wide"), Err(BadValue::Unreadable));
    }

    #[test]
    fn maxheight_words_and_commas_give_no_number() {
        // OpenStreetMap wiki, Key:maxheight: "3,8" is listed as a wrong value; the words mean "no number posted".
        for text in ["default", "none", "below_default", "no_sign"] {
            assert_eq!(maxheight_m(text, ANY), Ok(None), "{text}");
        }
        assert_eq!(maxheight_m("3,8", ANY), Err(BadValue::Unreadable));
        assert_eq!(maxheight_m("", ANY), Err(BadValue::Unreadable));
        assert_eq!(maxheight_m("3.8", ANY), Ok(Some(Reading { value: 3.8, several: false })));
    }

    #[test]
    fn speeds_in_every_unit() {
        // Statute mile 1609.344 m, nautical mile 1852 m: both exact.
        for (text, kmh) in [
            ("50", 50.0),
            ("30 mph", 48.280_32),
            ("30mph", 48.280_32),
            ("10 knots", 18.52),
            ("30 m/s", 108.0),
            ("80 km/h", 80.0),
            ("DE:zone:30", 30.0),
            ("DE:zone30", 30.0),
            ("GB:20 mph", 32.186_88),
        ] {
            match speed(text) {
                Ok(Reading { value: TypedSpeed::Kmh(v), several: false }) => {
                    assert!((v - kmh).abs() < EXACT, "{text}: {v}")
                }
                other => panic!("{text}: {other:?}"),
            }
        }
    }

    #[test]
    fn speeds_that_are_words() {
        let read = |text| speed(text).map(|r| r.value);
        assert_eq!(read("none"), Ok(TypedSpeed::Unlimited));
        assert_eq!(read("walk"), Ok(TypedSpeed::Walk));
        assert_eq!(read("signals"), Ok(TypedSpeed::Elsewhere));
        assert_eq!(read("FR:rural"), Ok(TypedSpeed::Zone("rural")));
        assert_eq!(speed("50;30"), Ok(Reading { value: TypedSpeed::Kmh(30.0), several: true }));
        for text in ["", "fast", "50 furlongs", ":rural", "12:rural", "FR:"] {
            assert_eq!(speed(text), Err(BadValue::Unreadable), "{text}");
        }
        for text in ["0", "-1", "5000"] {
            assert_eq!(speed(text), Err(BadValue::OutOfRange), "{text}");
        }
    }

    #[test]
    fn counts() {
        let read = |text| count(text, 1.0..=20.0);
        assert_eq!(read("2"), Ok(Reading { value: 2.0, several: false }));
        assert_eq!(read("2;3"), Ok(Reading { value: 2.0, several: true }));
        assert_eq!(read("-1"), Err(BadValue::OutOfRange));
        assert_eq!(read("60"), Err(BadValue::OutOfRange));
        assert_eq!(read(""), Err(BadValue::Unreadable));
        assert_eq!(read("two"), Err(BadValue::Unreadable));
    }

    proptest::proptest! {
        #[test]
        fn no_text_makes_a_reader_panic_or_leave_its_range(text in "\\PC{0,12}|[0-9;,.'\" mftin-]{0,12}") {
            if let Ok(read) = length_m(&text, 0.1..=50.0) {
                proptest::prop_assert!((0.1..=50.0).contains(&read.value));
            }
            let _ = maxheight_m(&text, 0.1..=50.0);
            let _ = speed(&text);
            let _ = count(&text, 0.0..=9.0);
        }

        #[test]
        fn metres_written_out_come_back(cm in 10_u32..100_000) {
            let m = f64::from(cm) / 100.0;
            let read = length_m(&format!("{m} m"), ANY).map(|r| r.value);
            proptest::prop_assert!(read.is_ok_and(|v| (v - m).abs() < EXACT));
        }
    }
}
