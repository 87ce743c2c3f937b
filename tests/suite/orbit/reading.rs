//! Element files in every format, whole and broken.
use proptest::prelude::*;
use waymask::base::defect::Defect;
use waymask::physics::orbit::elements::{ElementSets, ElementsFormat, MeanElements, read};

use crate::elements_writer::*;
use crate::need;

fn two() -> Vec<MeanElements> {
    let mut sets = Pattern::new(560.0, 53.0, 1, 2).elements(44_713, time("2026-06-30T01:02:03.25Z"));
    sets[0].bstar = -0.000_123_45;
    sets[1].half_motion_rate_rev_day2 = 0.000_012_5;
    sets[1].node_deg = 271.25;
    sets
}

fn good(text: &str) -> ElementSets {
    read(text.as_bytes()).unwrap_or_else(|e| panic!("{}: {}", e.fact, e.next_step))
}

/// The one example kept of a defect.
fn example(sets: &ElementSets, defect: Defect) -> String {
    assert_eq!(sets.defects.count(defect), 1, "{:?}", sets.defects);
    sets.defects.iter().find(|(d, _)| *d == defect).unwrap().1.examples[0].clone()
}

fn refusal(bytes: &[u8]) -> String {
    read(bytes).expect_err("read something").fact
}

#[test]
fn every_encoding_of_a_message_gives_the_same_elements() {
    let sets = two();
    let messages: Vec<Fields> = sets.iter().map(fields).collect();
    for (text, format) in [
        (json(&messages, false), ElementsFormat::OmmJson),
        (json(&messages, true), ElementsFormat::OmmJson),
        (xml(&messages), ElementsFormat::OmmXml),
        (kvn(&messages), ElementsFormat::OmmKvn),
        (csv(&messages), ElementsFormat::OmmCsv),
    ] {
        for text in [text.clone(), text.replace('\n', "\r\n"), format!("\u{feff}{text}")] {
            let read = good(&text);
            assert_eq!(read.format, format);
            assert_eq!(read.objects, sets, "{format}");
            assert!(read.defects.is_empty());
        }
    }
    // One object without a list around it, and one object after another.
    let one = json(&messages[..1], false);
    let bare = &one[1..one.len() - 1];
    assert_eq!(good(bare).objects, sets[..1]);
    assert_eq!(good(&format!("{bare}\n{}", json(&messages[1..], true))).objects, sets);
    let lone = xml(&messages[..1]).replace("<ndm>", "").replace("</ndm>", "");
    assert_eq!(good(&lone).objects, sets[..1]);
}

#[test]
fn messages_of_other_kinds_among_ours_are_counted() {
    let sets = two();
    let text = xml(&sets.iter().map(fields).collect::<Vec<_>>());
    let other = "<oem><header><ORIGINATOR>x</ORIGINATOR></header></oem><COMMENT>no message</COMMENT></ndm>";
    let read = good(&text.replace("</ndm>", other));
    assert_eq!(read.objects, sets);
    assert_eq!(example(&read, Defect::BadElements), "other message 1: <oem> is not an <omm>");
}

#[test]
fn published_samples_agree() {
    let (Some(csv), Some(xml), Some(json)) =
        (need::data("orbit/sample_omm.csv"), need::data("orbit/sample_omm.xml"), need::data("orbit/sample_omm.json"))
    else {
        return;
    };
    let [csv, xml, json] = [csv, xml, json].map(|path| std::fs::read(path).unwrap());
    let one = |bytes: &[u8]| {
        let sets = read(bytes).unwrap();
        assert_eq!(sets.objects.len(), 1);
        sets.objects[0].clone()
    };
    let (from_csv, from_xml, from_json) = (one(&csv), one(&xml), one(&json));
    assert_eq!(from_csv, from_xml);
    assert_eq!(from_csv.epoch, time("2020-10-13T04:52:48.472320Z"));
    assert_eq!((from_csv.catalogue_number, from_csv.name.as_str()), (5, "VANGUARD 1"));
    assert_eq!((from_csv.mean_motion_rev_day, from_csv.bstar), (10.848_691_64, -0.224_83e-4));
    // The JSON sample is the same object at a later epoch. Said again in the other encodings, it is equal too.
    assert_eq!((from_json.catalogue_number, from_json.epoch), (5, time("2025-02-14T14:36:48.662784Z")));
    let again = [fields(&from_json)];
    let others = [crate::elements_writer::xml(&again), crate::elements_writer::csv(&again), kvn(&again)];
    others.iter().for_each(|text| assert_eq!(good(text).objects, std::slice::from_ref(&from_json)));
    // And of one object in two files only the later set is kept.
    let both =
        format!("{}\n{}", String::from_utf8_lossy(&json), crate::elements_writer::json(&[fields(&from_csv)], true));
    let kept = good(&both);
    assert_eq!((kept.objects, kept.superseded), (vec![from_json], 1));
}

#[test]
fn two_line_sets_with_and_without_names() {
    // Angles of four and mean motions of eight decimals: what the columns hold, exactly.
    let close = |got: &MeanElements, want: &MeanElements| {
        assert_eq!(got.catalogue_number, want.catalogue_number);
        assert!((got.mean_motion_rev_day - want.mean_motion_rev_day).abs() <= 0.5e-8);
        assert!((got.anomaly_deg - want.anomaly_deg).abs() <= 0.5e-4);
        assert_eq!(
            (got.eccentricity, got.inclination_deg, got.node_deg),
            (want.eccentricity, want.inclination_deg, want.node_deg)
        );
        assert!((got.bstar - want.bstar).abs() < 1e-12);
        assert!((got.half_motion_rate_rev_day2 - want.half_motion_rate_rev_day2).abs() < 1e-12);
        // Eight decimals of a day.
        assert!(got.epoch.duration_since(want.epoch).as_secs_f64().abs() < 0.001);
    };
    let sets = two();
    let bare = two_line_file(&sets);
    let named: String = sets.iter().map(|s| format!("{}\n{}", s.name, two_lines(s))).collect();
    let zero: String = sets.iter().map(|s| format!("0 {}\n{}\n", s.name, two_lines(s))).collect();
    for (text, has_names) in [(&bare, false), (&named, true), (&zero, true)] {
        for text in [text.clone(), text.replace('\n', "\r\n"), text.replace('\n', "   \n")] {
            let read = good(&text);
            assert_eq!((read.format, read.objects.len()), (ElementsFormat::TwoLine, 2));
            assert!(read.defects.is_empty(), "{:?}", read.defects);
            for (got, want) in read.objects.iter().zip(&sets) {
                close(got, want);
                assert_eq!(got.name, if has_names { want.name.as_str() } else { "" });
            }
        }
    }
    // A name that begins like a first line, as there are.
    let odd = good(&format!("1 KESTREL-B\n{}2 GULLS\n{}", two_lines(&sets[0]), two_lines(&sets[1])));
    assert_eq!(odd.objects.iter().map(|o| o.name.as_str()).collect::<Vec<_>>(), ["1 KESTREL-B", "2 GULLS"]);
    assert!(odd.defects.is_empty());
}

#[test]
fn catalogue_numbers_beyond_five_digits() {
    // Alpha-5: a letter (no I, no O) stands for 10 to 33; its last is Z9999 = 339999.
    for number in [5, 99_999, 100_000, 148_493, 182_931, 239_999, 270_000, 339_999] {
        let set = circular(number, 560.0, 53.0, time("2026-06-30T00:00:00Z"));
        assert_eq!(good(&two_lines(&set)).objects[0].catalogue_number, number);
    }
    assert!(two_lines(&circular(100_000, 560.0, 53.0, time("2026-06-30T00:00:00Z"))).starts_with("1 A0000U"));
    let set = circular(799_500_123, 560.0, 53.0, time("2026-06-30T00:00:00Z"));
    for as_text in [true, false] {
        assert_eq!(good(&json(&[fields(&set)], as_text)).objects, std::slice::from_ref(&set));
    }
}

#[test]
fn one_bad_set_among_good_ones_is_counted_and_named() {
    let sets = two();
    let text = two_line_file(&sets);
    // Any digit changed: the checksum tells.
    let wrong_sum = text.replacen("53.0000", "54.0000", 1);
    let read = good(&wrong_sum);
    assert_eq!(read.objects.len(), 1);
    let example_text = example(&read, Defect::BadElements);
    assert!(
        example_text.contains("44713") && example_text.contains("line 1") && example_text.contains("hecksum"),
        "{example_text}"
    );
    for (broken, said) in [
        (text.replacen("\n2 44713", "\n2 44799", 1), "mismatch"),
        (text.lines().skip(1).collect::<Vec<_>>().join("\n"), "first line is missing"),
        (text.lines().take(3).collect::<Vec<_>>().join("\n"), "second line is missing"),
        (format!("{}\n{}", &text[..66], text[69..].trim_start_matches(|c| c != '\n').trim_start()), "69 columns"),
        (text.replacen("26001A", "26\u{e9}01A", 1), "columns"),
    ] {
        let read = good(&broken);
        assert_eq!(read.objects.len(), 1, "{broken}");
        assert!(example(&read, Defect::BadElements).contains(said), "{:?}", read.defects);
    }
}

fn changed(keyword: &str, value: Option<&str>) -> Vec<Fields> {
    let mut messages: Vec<Fields> = two().iter().map(fields).collect();
    match value {
        Some(value) => messages[1].iter_mut().filter(|(k, _)| *k == keyword).for_each(|f| f.1 = value.to_owned()),
        None => messages[1].retain(|(k, _)| *k != keyword),
    }
    messages
}

#[test]
fn bad_messages_are_left_out_with_the_reason() {
    for (keyword, value, said) in [
        ("ECCENTRICITY", Some("1.0"), "eccentricity 1 is out of range"),
        ("ECCENTRICITY", Some("-0.1"), "out of range"),
        ("INCLINATION", Some("190"), "inclination 190"),
        ("INCLINATION", Some("nan"), "out of range"),
        ("MEAN_MOTION", Some("0"), "mean motion 0"),
        ("MEAN_MOTION", Some("inf"), "out of range"),
        ("MEAN_MOTION", None, "MEAN_MOTION is missing"),
        ("BSTAR", Some("none"), "BSTAR = `none` is not a number"),
        ("EPOCH", Some("2026-02-30T00:00:00"), "EPOCH"),
        ("EPOCH", Some("2026-06-30T00:00:00+02:00"), "EPOCH"),
        ("EPOCH", Some("yesterday"), "EPOCH"),
        ("NORAD_CAT_ID", Some("-7"), "NORAD_CAT_ID"),
        ("NORAD_CAT_ID", None, "NORAD_CAT_ID is missing"),
    ] {
        let messages = changed(keyword, value);
        for text in [json(&messages, true), xml(&messages), kvn(&messages)] {
            let read = good(&text);
            assert_eq!(read.objects, two()[..1]);
            let told = example(&read, Defect::BadElements);
            assert!(told.contains(said) && told.contains("PATTERN-44714"), "{told}");
        }
    }
}

#[test]
fn elements_of_another_theory_are_refused() {
    for (keyword, value) in [
        ("EPHEMERIS_TYPE", "4"),
        ("MEAN_ELEMENT_THEORY", "SGP4-XP"),
        ("MEAN_ELEMENT_THEORY", "DSST"),
        ("REF_FRAME", "EME2000"),
        ("TIME_SYSTEM", "TDB"),
        ("CENTER_NAME", "MARS"),
    ] {
        let messages = changed(keyword, Some(value));
        for text in [json(&messages, false), xml(&messages), kvn(&messages), csv(&messages)] {
            let read = good(&text);
            assert_eq!(read.objects, two()[..1]);
            assert!(example(&read, Defect::OtherTheory).ends_with(&format!("{keyword} is {value}")));
        }
    }
    // Said nothing, or in other words for the same.
    for (keyword, value) in [
        ("MEAN_ELEMENT_THEORY", Some("sgp/sgp4")),
        ("EPHEMERIS_TYPE", None),
        ("EPHEMERIS_TYPE", Some("2")),
        ("REF_FRAME", None),
    ] {
        assert_eq!(good(&json(&changed(keyword, value), true)).objects, two());
    }
    // Column 63 of the first line.
    let sets = two();
    let lines = two_lines(&sets[1]);
    let (first, second) = lines.split_once('\n').unwrap();
    let first = format!("{}4{}", &first[..62], &first[63..68]);
    let read = good(&format!("{}{first}{}\n{second}", two_lines(&sets[0]), checksum(&first)));
    assert_eq!(read.objects.len(), 1);
    assert!(example(&read, Defect::OtherTheory).contains("ephemeris type is 4"));
}

#[test]
fn times_in_both_calendars() {
    let want = time("2026-06-30T01:02:03.25Z");
    for text in ["2026-06-30T01:02:03.25Z", "2026-181T01:02:03.25", "2026-06-30 01:02:03.250000000999"] {
        assert_eq!(good(&json(&changed("EPOCH", Some(text)), true)).objects[1].epoch, want, "{text}");
    }
    // A leap second is the second before it.
    let leap = good(&json(&changed("EPOCH", Some("2016-12-31T23:59:60.5")), true));
    assert_eq!(leap.objects[1].epoch, time("2016-12-31T23:59:59.5Z"));
}

#[test]
fn of_several_sets_of_an_object_the_latest_is_kept() {
    let old = two();
    let mut new = old.clone();
    new[0].epoch = time("2026-07-01T00:00:00Z");
    for order in [[&old, &new], [&new, &old]] {
        let messages: Vec<Fields> = order.into_iter().flatten().map(fields).collect();
        let read = good(&json(&messages, false));
        assert_eq!((read.objects, read.superseded), (vec![new[0].clone(), old[1].clone()], 2));
        assert!(read.defects.is_empty());
    }
}

#[test]
fn files_that_are_something_else_are_named_for_it() {
    assert!(refusal(b"").contains("empty"));
    assert!(refusal(b" \r\n\t").contains("empty"));
    assert!(refusal(&[0x1f, 0x8b, 8, 0]).contains("compressed"));
    assert!(refusal(b"PK\x03\x04rest").contains("compressed"));
    assert!(refusal(b"\xff\xfe{\0}\0").contains("zero bytes"));
    assert!(refusal(b"name,age\nann,4\n").contains("holds no orbital elements"));
    assert!(refusal(b"<!DOCTYPE html><html><body>503</body></html>").contains("XML"));
    assert!(refusal(b"<html><body/></html>").contains("<html>"));
    let json = refusal(b"[{\"OBJECT_NAME\": \"X\",\n \"EPOCH\": ");
    assert!(json.contains("broken JSON") && json.contains("line 2"), "{json}");
    assert!(refusal(b"{}").contains("no object in it can be used"));
    assert!(refusal(b"[]").contains("holds no object"));
    assert!(refusal(b"[1, 2]").contains("entry 1: is not a JSON object"));
    let unusable = refusal(json_of_xp().as_bytes());
    assert!(unusable.contains("no object in it can be used") && unusable.contains("EPHEMERIS_TYPE is 4"), "{unusable}");
    assert!(refusal(b"CCSDS_OPM_VERS = 2.0\nOBJECT_NAME = X\n").contains("CCSDS_OPM_VERS"));
    // A truncated download of XML is broken as a whole; deep nesting and entities do no harm.
    let text = xml(&[fields(&two()[0])]);
    assert!(refusal(&text.as_bytes()[..text.len() - 30]).contains("broken XML"));
    assert!(read("<a>".repeat(50_000).as_bytes()).is_err());
    assert!(read("[".repeat(50_000).as_bytes()).is_err());
    let bomb = "<!DOCTYPE a [<!ENTITY b \"bb\"><!ENTITY c \"&b;&b;\">]><omm>&c;</omm>";
    assert!(refusal(bomb.as_bytes()).contains("XML"));
}

fn json_of_xp() -> String {
    let mut fields = fields(&two()[0]);
    fields.iter_mut().filter(|(k, _)| *k == "EPHEMERIS_TYPE").for_each(|f| f.1 = "4".into());
    json(&[fields], false)
}

/// A good file of any format.
fn any_file() -> impl Strategy<Value = Vec<u8>> {
    let messages: Vec<Fields> = two().iter().map(fields).collect();
    let files = vec![json(&messages, false), xml(&messages), kvn(&messages), csv(&messages), two_line_file(&two())];
    proptest::sample::select(files).prop_map(String::into_bytes)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(512))]

    #[test]
    fn no_bytes_make_the_readers_panic(bytes in proptest::collection::vec(any::<u8>(), 0..300)) {
        let _ = read(&bytes);
    }

    #[test]
    fn no_damage_makes_the_readers_panic_or_invents_objects(
        mut bytes in any_file(),
        hits in proptest::collection::vec((any::<proptest::sample::Index>(), any::<u8>()), 1..6),
        cut in proptest::option::of(any::<proptest::sample::Index>()),
    ) {
        for (at, byte) in hits {
            let at = at.index(bytes.len());
            bytes[at] = byte;
        }
        if let Some(cut) = cut {
            bytes.truncate(cut.index(bytes.len()));
        }
        if let Ok(sets) = read(&bytes) {
            prop_assert!(sets.objects.len() <= 2);
            for set in sets.objects {
                prop_assert!((0.0..1.0).contains(&set.eccentricity) && set.mean_motion_rev_day > 0.0);
                // Whatever was read can at least be tried.
                if let Ok(satellite) = waymask::physics::orbit::elements::satellite::Satellite::new(set) {
                    let _ = satellite.teme(1_440.0);
                }
            }
        }
    }

    #[test]
    fn text_between_good_lines_never_panics(lines in proptest::collection::vec("[0-9A-Z ={}<>,.\\[\\]\"-]{0,72}", 0..8)) {
        let mut text = lines.join("\n");
        let _ = read(text.as_bytes());
        text.insert_str(0, "CCSDS_OMM_VERS = 3.0\n");
        let _ = read(text.as_bytes());
        let _ = read(format!("{}\n{text}", two_line_file(&two())).as_bytes());
    }
}
