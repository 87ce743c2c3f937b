//! Every kind of error with its place, and that what is printed reads back.
use jiff::civil::Time;
use serde::{Deserialize, Serialize};

use super::Mark::{Assumed, CommonPractice, Published};
use super::{Conflict, Key, Keys, as_table, entry, list, named, number, text, time, whole, word};
use crate::base::error::Error;

/// A world of its own: the engine uses no room.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
struct Boat {
    hull: Hull,
    crew: Crew,
    mast: Vec<Mast>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
struct Hull {
    length_m: f64,
    paint: String,
    leaks: bool,
    anchors: Vec<Anchor>,
}

#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
struct Crew {
    count: u32,
    wakes: Option<Time>,
    watches: std::collections::BTreeMap<String, String>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Mast {
    name: String,
    height_m: f64,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Anchor {
    mass_kg: f64,
    #[serde(default)]
    chain_m: f64,
}

impl Default for Hull {
    fn default() -> Self {
        Self { length_m: 9.5, paint: "red".into(), leaks: false, anchors: Vec::new() }
    }
}
impl Default for Boat {
    fn default() -> Self {
        let mast = vec![Mast { name: "main".into(), height_m: 11.0 }, Mast { name: "mizzen".into(), height_m: 7.0 }];
        Self { hull: Hull::default(), crew: Crew { count: 3, ..Crew::default() }, mast }
    }
}

const fn flag(path: &'static str, meaning: &'static str) -> Key {
    Key { holds: super::Holds::Flag, ..text(path, Assumed, meaning) }
}

const KEYS: &[Key] = &[
    number("hull.length_m", Published, 2.0, 30.0, "m", "length over all").likely(8.0, 12.0),
    word("hull.paint", Assumed, &["red", "white", "black"], "colour").was("hull.tint"),
    flag("hull.leaks", "whether it leaks"),
    list("hull.anchors", Assumed, ANCHORS, 0, "what holds it"),
    whole("crew.count", CommonPractice, 1, 9, "", "people"),
    time("crew.wakes", Assumed, "when they wake").sample("\"06:30:00\""),
    named("crew.watches", Assumed, &["early", "late"], "who watches when").sample("{ \"Ann\" = \"late\" }"),
    list("mast", Assumed, MASTS, 1, "masts, from the bow"),
];
const ANCHORS: &[Key] = &[
    number("mass_kg", Assumed, 1.0, 90.0, "kg", "mass").required(),
    number("chain_m", Assumed, 0.0, 100.0, "m", "length of its chain"),
];
const MASTS: &[Key] = &[
    text("name", Assumed, "what it is called").required(),
    number("height_m", Assumed, 1.0, 40.0, "m", "height").required(),
];
const BOAT: Keys = Keys { parts: &[KEYS], shown_by: "`boat settings`" };

fn read(toml: &str) -> Result<Boat, Error> {
    BOAT.read(toml, "boat.toml")?.over(KEYS, &Boat::default())
}

/// The message has to begin with the place and to hold every other part.
fn refused(toml: &str, place: &str, parts: &[&str]) {
    let error = read(toml).unwrap_err();
    let said = error.to_string();
    assert!(said.starts_with(&format!("boat.toml, {place}")), "{toml}\n{said}");
    assert!(parts.iter().all(|part| said.contains(part)), "{toml}\n{said}");
    assert_eq!(error.exit_code(), 2, "{said}");
}

#[test]
fn what_is_left_out_keeps_its_value() {
    let boat = read("hull.length_m = 12\n[crew]\nwakes = \"05:00\"\nwatches = { Ann = \"late\" }\n").unwrap();
    assert_eq!((boat.hull.length_m, boat.hull.paint.as_str(), boat.crew.count), (12.0, "red", 3));
    assert_eq!((boat.crew.wakes, boat.crew.watches["Ann"].as_str()), (Some(Time::constant(5, 0, 0, 0)), "late"));
    assert_eq!(read("").unwrap(), Boat::default());
    // A list is replaced whole.
    assert_eq!(read("[[mast]]\nname = \"only\"\nheight_m = 9\n").unwrap().mast.len(), 1);
}

#[test]
fn an_unknown_key_is_told_its_line_and_the_nearest_known_one() {
    refused(
        "\n[hull]\nlenght_m = 3\n",
        "line 3: hull.lenght_m: is not a known key",
        &["Did you mean `hull.length_m`?"],
    );
    refused("# a boat\n[hul]\n", "line 2: hul: is not a known key", &["Did you mean `hull`?", "`boat settings`"]);
    refused("[crew]\ntint = 1\n", "line 2: crew.tint", &["Did you mean `hull.paint`?"]);
    refused("[crew]\nlength_m = 1\n", "line 2: crew.length_m", &["Did you mean `hull.length_m`?"]);
    refused("paint = \"red\"\n", "line 1: paint", &["Did you mean `hull.paint`?"]);
    refused("[crew]\nparrots = 1\n", "line 2: crew.parrots", &["Known here: count, wakes, watches;"]);
    refused("[cargo]\nx = 1\n", "line 1: cargo", &["Known here: hull, crew, mast;"]);
}

#[test]
fn a_number_out_of_range_is_told_what_is_allowed() {
    refused("[hull]\nlength_m = 31.5\n", "line 2: hull.length_m: 31.5 is out of range", &["Allowed: 2 to 30 m"]);
    refused("[hull]\nlength_m = nan\n", "line 2: hull.length_m: nan is out of range", &["2 to 30 m"]);
    refused("[hull]\nlength_m = 1e999\n", "line 2: hull.length_m: 1e999 is out of range", &[]);
    refused("[crew]\ncount = 0\n", "line 2: crew.count: 0 is out of range", &["Allowed: 1 to 9"]);
    refused("crew.count = 99999999999999999999\n", "line 1: crew.count", &["is out of range", "1 to 9"]);
}

#[test]
fn a_wrong_type_is_told_the_right_one() {
    for (toml, place, part) in [
        ("[hull]\nlength_m = \"long\"\n", "line 2: hull.length_m", "\"long\" is not a number"),
        ("[hull]\nlength_m = [1]\n", "line 2: hull.length_m", "a list is not a number"),
        ("[crew]\ncount = 2.0\n", "line 2: crew.count", "2.0 is not a whole number"),
        ("[hull]\nleaks = 1\n", "line 2: hull.leaks", "1 is not true or false"),
        ("[hull]\npaint = 3\n", "line 2: hull.paint", "red, white or black"),
        ("[crew]\nwakes = \"noon\"\n", "line 2: crew.wakes", "\"noon\" is not a time of the day in quotes"),
        ("[crew]\nwakes = 06:00:00\n", "line 2: crew.wakes", "06:00:00 is not a time of the day in quotes"),
        ("[crew.watches]\nAnn = 3\n", "line 2: crew.watches.Ann", "3 is not a word in quotes"),
        ("[hull.length_m]\nx = 1\n", "line 1: hull.length_m", "a section is not a number"),
        ("hull = 3\n", "line 1: hull", "is a section"),
        ("[[hull]]\nlength_m = 3\n", "line 1: hull", "is a section"),
        ("\nmast = 3\n", "line 2: mast", "3 is not a list of tables"),
    ] {
        refused(toml, place, &[part]);
    }
}

#[test]
fn an_unknown_word_is_told_the_known_ones() {
    refused(
        "[hull]\npaint = \"whyte\"\n",
        "line 2: hull.paint: `whyte` is not a known word",
        &["`white`", "red, white or black"],
    );
    refused("[hull]\npaint = \"mauve\"\n", "line 2: hull.paint", &["Allowed: red, white or black"]);
    refused(
        "[crew.watches]\nAnn = \"late\"\nBo = \"earli\"\n",
        "line 3: crew.watches.Bo",
        &["`early`", "each early or late"],
    );
}

#[test]
fn what_is_given_twice_or_is_not_toml_is_told_its_line() {
    refused("[hull]\nlength_m = 3\nlength_m = 4\n", "line 3: length_m: is given twice", &[]);
    refused("[hull]\npaint = \"red\"\n\n[crew]\n[hull]\n", "line 5: hull: is given twice", &[]);
    refused("<?xml version=\"1.0\"?>\n<gpx/>\n", "line 1: is not TOML", &["`boat settings` prints a file"]);
    refused("[hull]\n\nlength_m 3\n", "line 3: is not TOML", &[]);
}

#[test]
fn entries_of_lists_are_told_their_number_and_line() {
    let two = "[[hull.anchors]]\nmass_kg = 3\n\n[[hull.anchors]]\n";
    refused(
        &format!("{two}mass_kg = 300\n"),
        "line 5: hull.anchors.mass_kg (entry 2): 300 is out of range",
        &["1 to 90 kg"],
    );
    refused(&format!("{two}chain_m = 1\n"), "line 4: hull.anchors.mass_kg (entry 2): is missing", &["mass"]);
    refused(&format!("{two}mas_kg = 1\n"), "line 5: hull.anchors.mas_kg (entry 2)", &["Did you mean `mass_kg`?"]);
    refused(&format!("{two}colour = 1\n"), "line 5: hull.anchors.colour (entry 2)", &["Known here: mass_kg, chain_m;"]);
    refused(
        "[hull]\nanchors = [\n  { mass_kg = 1 },\n  { mass_kg = true },\n]\n",
        "line 4: hull.anchors.mass_kg (entry 2)",
        &[],
    );
    refused("[hull]\nanchors = [1]\n", "line 2: hull.anchors (entry 1): is not a table", &["[[hull.anchors]]"]);
    refused("\nmast = []\n", "line 2: mast: the list is too short", &["at least 1"]);
}

#[test]
fn the_first_fault_of_the_text_comes_first() {
    refused("[hull]\npaint = 3\n[crew]\ncount = 0\n", "line 2", &[]);
    refused("[crew]\ncount = 0\n[hull]\npaint = 3\n", "line 2: crew.count", &[]);
}

#[test]
fn one_value_as_typed_has_no_line() {
    let one = |typed: &str| BOAT.read_one(typed, "--set").and_then(|given| given.over(KEYS, &Boat::default()));
    assert_eq!(one("hull.paint = white").unwrap().hull.paint, "white");
    assert_eq!(one("hull.paint=\"white\"").unwrap().hull.paint, "white");
    assert_eq!(one("crew.count=4").unwrap().crew.count, 4);
    for (typed, said) in [
        ("crew.count=44", "--set: crew.count: 44 is out of range\n  Allowed: 1 to 9"),
        (
            "crew.cuont=4",
            "--set: crew.cuont: is not a known key\n  Did you mean `crew.count`? `boat settings` prints every key",
        ),
        ("crew.count", "--set: is not of the form section.key=value\n  Write it as in link.slot_s=30"),
    ] {
        assert_eq!(one(typed).unwrap_err().to_string(), said);
    }
}

#[test]
fn keys_that_contradict_each_other_are_told_at_the_one_that_is_given() {
    let given = BOAT.read("\n[crew]\ncount = 9\n\n[[mast]]\nname = \"a\"\nheight_m = 2\n", "boat.toml").unwrap();
    let conflict = |keys: &[&str]| {
        let keys = keys.iter().map(|key| (*key).to_owned()).collect();
        Some(Conflict { keys, fact: "do not fit".into(), allowed: "fit them".into() })
    };
    let said = |keys: &[&str]| given.check(conflict(keys)).unwrap_err().to_string();
    assert_eq!(said(&["hull.length_m", "crew.count"]), "boat.toml, line 3: crew.count: do not fit\n  Fit them");
    assert_eq!(said(&[&entry("mast", 1)]), "boat.toml, line 5: mast (entry 1): do not fit\n  Fit them");
    assert_eq!(said(&["hull.length_m"]), "boat.toml: hull.length_m: do not fit\n  Fit them");
    given.check(None).unwrap();
}

#[test]
fn what_is_printed_reads_back_as_the_same_values() {
    let anchors = vec![Anchor { mass_kg: 12.0, chain_m: 30.0 }, Anchor { mass_kg: 3.0, chain_m: 0.0 }];
    let mut full = Boat::default();
    full.hull.anchors = anchors;
    full.crew.wakes = Some(Time::constant(5, 30, 0, 0));
    full.crew.watches.insert("Ann \"A\"".into(), "late".into());
    for boat in [Boat::default(), full] {
        let printed = BOAT.print("A boat.\nTwo lines.", &as_table(&boat).unwrap(), &|key| key.mark.name().to_owned());
        assert_eq!(read(&printed).unwrap(), boat, "{printed}");
    }
}

#[test]
fn the_example_tells_meaning_mark_range_unit_and_likely_values() {
    let printed = BOAT.print("A boat.", &as_table(&Boat::default()).unwrap(), &|key| key.mark.name().to_owned());
    let wanted = "# A boat.\n\n[hull]\n# length over all (published; 2 to 30 m; likely 8 to 12)\nlength_m = 9.5\n\
                  # colour (assumed; red, white or black)\npaint = \"red\"\n# whether it leaks (assumed; true or false)\n\
                  leaks = false\n# what holds it (assumed)\nanchors = []\n# an entry, [[hull.anchors]], holds\n\
                  #   mass_kg: mass (assumed; 1 to 90 kg)\n#   chain_m: length of its chain (assumed; 0 to 100 m)\n\n[crew]\n\
                  # people (common practice, no source; 1 to 9)\ncount = 3\n\
                  # when they wake (assumed; hours and minutes in quotes)\n# wakes = \"06:30:00\"\n\
                  # who watches when (assumed; each early or late)\n# watches = { \"Ann\" = \"late\" }\n\n\
                  # masts, from the bow (assumed)\n[[mast]]\n# what it is called (assumed)\nname = \"main\"\n\
                  # height (assumed; 1 to 40 m)\nheight_m = 11.0\n[[mast]]\nname = \"mizzen\"\nheight_m = 7.0\n";
    assert_eq!(printed, wanted);
}

#[test]
fn an_empty_list_outside_all_sections_does_not_fall_into_the_section_above() {
    let boat = Boat { mast: Vec::new(), ..Boat::default() };
    let printed = BOAT.print("A boat.", &as_table(&boat).unwrap(), &|key| key.mark.name().to_owned());
    assert!(
        printed.ends_with(
            "# masts, from the bow (assumed)\n# an entry, [[mast]], holds\n#   name: what it is called (assumed)\n\
         #   height_m: height (assumed; 1 to 40 m)\n"
        ),
        "{printed}"
    );
    read(&printed).unwrap();
}
