use super::*;

fn at(text: &str) -> (f64, f64) {
    let found = read(text).unwrap_or_else(|e| panic!("{text}: {e}")).unwrap_or_else(|| panic!("{text}: none"));
    (found.lat_deg, found.lon_deg)
}

#[test]
fn the_usual_spellings_are_one_place() {
    for text in [
        "42.5,1.5",
        " 42.5, 1.5 ",
        "42.5 1.5",
        "42.5;1.5",
        "42,5 1,5",
        "42,5; 1,5",
        "42,5, 1,5",
        "+42.5,+1.5",
        "N42.5 E1.5",
        "n 42.5, e 1.5",
        "42.5N 1.5E",
        "42,5N 1,5E",
        "1.5E 42.5N",
        "E1°30' N42°30'",
        "42°30'N 1°30'E",
        "42°30′00″ N, 1°30′00″ E",
        "42º30’0” 1º30’0”",
        "42°30'0''N 1°30'0''E",
        "42 30 0 N, 1 30 0 E",
        "42 30 0 1 30 0",
        "42 30 1 30",
        "42°30' 1°30'",
        "42.5° 1.5°",
        "geo:42.5,1.5",
        "GEO:42.5,1.5;u=10",
        "geo:42.5,1.5,1200;crs=wgs84;u=10",
        "geo:42.5,1.5?z=11",
    ] {
        assert_eq!(at(text), (42.5, 1.5), "{text}");
    }
    assert_eq!(at("42°30'15.5\"N 1°30'E"), (42.0 + 30.0 / 60.0 + 15.5 / 3_600.0, 1.5));
    assert_eq!(at("42 30 15.5 N, 1 30 0 E"), at("42°30'15,5\"N 1°30'E"));
    assert_eq!(at("\u{2212}33.9,\u{2212}18.4"), (-33.9, -18.4));
    assert_eq!(at("33.9S 18.4W"), (-33.9, -18.4));
    assert_eq!(at("-0°30' 0°15'"), (-0.5, 0.25), "the sign is that of all of it");
    assert_eq!(at("42,5"), (42.0, 5.0), "a comma alone parts");
    assert_eq!(read("N42.5 E1.5").unwrap().map(|c| c.lettered), Some(true));
}

#[test]
fn names_are_no_coordinates() {
    for text in
        ["", "Ordino", "CG-2", "A 9", "E 45", "E45", "N13", "9", "2181", "St 2181", "Wether Harbour", "...", "-", ","]
    {
        assert_eq!(read(text), Ok(None), "{text}");
    }
}

#[test]
fn what_is_half_spelt_or_no_place_is_refused() {
    for (text, says) in [
        ("42.5,", "not a whole pair"),
        (",1.5", "not a whole pair"),
        ("42.5,1.5,3", "not a whole pair"),
        ("1 2 3", "not a whole pair"),
        ("42.5N 1.5", "not a whole pair"),
        ("42.5N, 1.5", "one letter of two"),
        ("42.5N 1.5S", "two latitudes"),
        ("-42.5N 1.5E", "both a sign and a letter"),
        ("42°60'N 1°30'E", "from 0 to less than 60"),
        ("42°-3'N 1°30'E", "from 0 to less than 60"),
        ("42.5°30'N 1°30'E", "not a whole pair"),
        ("42'30'N 1°30'E", "not a whole pair"),
        ("42,5,1,5", "commas could part"),
        ("91,0", "latitude 91 is not from -90 to 90 degrees; latitude comes first: did you mean `0,91`?"),
        ("0,181", "longitude 181"),
        ("200,200", "latitude 200"),
        ("95N 10E", "give latitude and longitude such as"),
        ("geo:42.5", "not a whole pair"),
        ("geo:42.5,1.5;crs=nad27", "nad27"),
        ("geo:inf,1", "not a whole pair"),
        ("geo:91,0", "did you mean"),
    ] {
        let said = read(text).expect_err(text);
        assert!(said.contains(says), "{text}: {said}");
    }
}

/// Degrees, minutes and hundredths of seconds of a coordinate in such.
fn sexagesimal(hundredths: i64) -> (i64, i64, f64) {
    let all = hundredths.abs();
    (all / 360_000, all / 6_000 % 60, (all % 6_000) as f64 / 100.0)
}

proptest::proptest! {
    /// Every spelling comes back as what it was written from.
    #[test]
    fn spellings_come_back(lat in -32_400_000_i64..=32_400_000, lon in -64_800_000_i64..=64_800_000) {
        let (lat_deg, lon_deg) = (lat as f64 / 360_000.0, lon as f64 / 360_000.0);
        let ((d, m, s), (od, om, os)) = (sexagesimal(lat), sexagesimal(lon));
        let (ns, ew) = (if lat < 0 { 'S' } else { 'N' }, if lon < 0 { 'W' } else { 'E' });
        let (minus, ominus) = (if lat < 0 { "\u{2212}" } else { "" }, if lon < 0 { "-" } else { "" });
        let texts = [
            format!("{lat_deg},{lon_deg}"),
            format!("{lat_deg:.9} {lon_deg:.9}"),
            format!("{lat_deg:.9} {lon_deg:.9}").replace('.', ","),
            format!("geo:{lat_deg:.9},{lon_deg:.9};u=5"),
            format!("{}{ns} {}{ew}", lat_deg.abs(), lon_deg.abs()),
            format!("{ew}{}, {ns}{}", lon_deg.abs(), lat_deg.abs()),
            format!("{d}°{m}'{s}\"{ns} {od}°{om}'{os}\"{ew}"),
            format!("{ns} {d} {m} {s}, {ew} {od} {om} {os}"),
            format!("{minus}{d}°{m}′{s}″ {ominus}{od}°{om}′{os}″"),
        ];
        for text in texts {
            let found = read(&text);
            let Ok(Some(c)) = found else { return Err(proptest::test_runner::TestCaseError::fail(format!("{text}: {found:?}"))) };
            proptest::prop_assert!((c.lat_deg - lat_deg).abs() < 1e-8 && (c.lon_deg - lon_deg).abs() < 1e-8, "{text}: {c:?}");
        }
    }

    /// Whatever is typed is read, refused with words, or left to be a name.
    #[test]
    fn nothing_breaks_it(text in "\\PC{0,30}|[-0-9.,;°'\"NSEWnsew ]{0,20}|geo:[-0-9.,;=a-z]{0,20}") {
        if let Ok(Some(c)) = read(&text) {
            proptest::prop_assert!((-90.0..=90.0).contains(&c.lat_deg) && (-180.0..=180.0).contains(&c.lon_deg));
        }
    }
}
