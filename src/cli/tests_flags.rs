//! Every flag means one thing, whichever command takes it.
use std::collections::BTreeSet;

use clap::{Arg, Command, CommandFactory};

use super::args::Args;

/// A flag or a place for words: its long name (the name of its value where it has no flag), its letter, the name of its
/// value and what it means. The help of every command that takes it begins with the meaning.
type Flag = (&'static str, Option<char>, Option<&'static str>, &'static str);

const FLAGS: &[Flag] = &[
    ("--all", None, None, "List every outage"),
    ("--along", None, Some("TRACK"), "Only what lies along a track"),
    ("--altitude", None, Some("HEIGHT"), "Height of the place above the ellipsoid"),
    ("--anyway", None, None, "Begin although the memory that the rating is forecast to take is not free here"),
    ("--area", None, Some("FILE"), "Only what lies in the polygons of a GeoJSON file"),
    ("--at", None, Some("PLACE"), "Place on a road"),
    ("--backward", None, None, "Look at the lane driven against the direction"),
    ("--bounds", None, Some("S,W,N,E"), "Only what lies in a box"),
    ("--buffer", None, Some("DISTANCE"), "How near to the track"),
    ("--buildings", None, Some("FILE"), "Outlines of buildings with their heights"),
    ("--buildings-height", None, Some("COLUMN"), "Column of --buildings"),
    ("--buildings-layer", None, Some("NAME"), "Layer of --buildings"),
    ("--by", None, Some("WHAT"), "What each row is"),
    ("--canopy", None, Some("PATH"), "Heights of trees"),
    ("--canopy-scale", None, Some("FACTOR"), "Metres per value of the canopy rasters"),
    (
        "--clock",
        None,
        Some("HOURS"),
        "Hours of the clock in answers for people: 24h or 12h; by default as in your settings",
    ),
    ("--credit", None, Some("TEXT"), "Who is credited for the map data"),
    ("--depart", None, Some("TIME"), "When to leave"),
    ("--elevation", Some('e'), Some("[KIND:]PATH"), "Elevation raster"),
    ("--elevation-kind", None, Some("KIND"), "What elevation rasters hold the heights of"),
    ("--elevation-scale", None, Some("FACTOR"), "Metres per value of the elevation rasters"),
    ("--estimate", None, None, "Print what the build would take"),
    ("--height", None, Some("HEIGHT"), "Height of the vehicle"),
    ("--json", None, None, "Print the answer as JSON"),
    ("--kind", None, Some("KINDS"), "List only these kinds"),
    ("--list", None, None, "List the names of all pages"),
    ("--longer", None, Some("MINUTES"), "Show no way that takes more than this many minutes longer than the fastest"),
    ("--meetings", None, Some("FILE.ics"), "Calendar with meetings"),
    ("--min-open", None, Some("SHARE"), "List only places where this share of the usable sky is open"),
    ("--minutes", None, Some("MINUTES"), "List passes for this long"),
    ("--near", None, Some("PLACE"), "Places to stop around this one"),
    ("--no-ferry", None, None, "Use no ferries"),
    ("--no-masks", None, None, "Leave out sky masks"),
    ("--no-private", None, None, "Use no private roads"),
    ("--no-roof", None, None, "List only places known to have no roof"),
    ("--no-unpaved", None, None, "Use no roads with a loose surface"),
    (
        "--node-pairs",
        None,
        Some("FILE"),
        "File to write as well, when the layer is whole: its figures by pair of map nodes",
    ),
    ("--noise", None, Some("DISTANCE"), "How far the points of the track scatter about the road (standard deviation)"),
    ("--orbit-date", None, Some("DATE|TIME"), "Simulate drives under the satellites of --orbits themselves"),
    ("--orbits", None, Some("FILE"), "Orbital elements (OMM as JSON, XML, KVN or CSV, or two-line sets); "),
    ("--outage-weight", None, Some("K"), "How many seconds of driving a second without a link counts as"),
    ("--output", Some('o'), Some("FILE"), "File to write"),
    ("--overwrite", None, None, "Replace the output if it exists"),
    ("--polyline-precision", None, Some("5|6"), "Decimals of degrees in an encoded polyline"),
    ("--private", None, None, "List private places, too"),
    ("--profile", Some('p'), Some("NAME-OR-FILE"), "Assumptions to rate by: the name of a preset, or a TOML file"),
    ("--quiet", Some('q'), None, "Print nothing but the answer and errors"),
    ("--reach", None, Some("DISTANCE"), "How far from the vehicle the panel may be set down"),
    ("--season", None, Some("SEASON|DATE"), "Whether trees are in leaf"),
    ("--set", None, Some("KEY=VALUE"), "Replace one value of the profile"),
    ("--shard", None, Some("K/N"), "Rate one shard of several into the work folder"),
    ("--shards", None, Some("N"), "In how many shards"),
    ("--snap", None, Some("DISTANCE"), "How far from the place a road is looked for"),
    ("--strict", None, None, "Fail on bad input data"),
    ("--surface", None, Some("PATH"), "Surface model"),
    ("--surface-scale", None, Some("FACTOR"), "Metres per value of the surface models"),
    ("--threads", Some('j'), Some("N"), "Worker threads; all cores by default"),
    ("--time", None, Some("TIME"), "List passes from this time on"),
    ("--title", None, Some("TEXT"), "Title of the"),
    ("--top", None, Some("N"), "How many of the largest changes to list"),
    ("--trip", None, Some("FILE.toml"), "Rules of driving"),
    (
        "--units",
        None,
        Some("SYSTEM"),
        "Units of lengths in answers for people: metric or imperial; by default as in your settings",
    ),
    ("--via", None, Some("PLACE"), "Go through this place on the way"),
    (
        "--way",
        None,
        Some("N|NAME"),
        "Take this way of those that `waymask route` lists: fastest, steadiest or a number",
    ),
    ("--ways", None, Some("N"), "Show at most this many ways"),
    ("--with", None, Some("LAYER"), "A layer of a neighbouring region, asked as one with LAYER"),
    ("--within", None, Some("DISTANCE"), "Answers lie within this distance of the place or the road driven"),
    ("--work", None, Some("FOLDER"), "Folder for finished parts"),
    ("--worst", None, Some("N"), "How many of the worst stretches to list"),
    ("--zone", None, Some("ZONE"), "Time zone of the traveller"),
    ("COMMAND", None, None, "Command whose page is printed"),
    ("EXTRACT", None, None, "Map extract"),
    ("FOLDER", None, None, "Work folders of the shards of one build"),
    ("FROM", None, None, "Where the drive begins"),
    ("LAYER", None, None, "A layer written by `waymask build`"),
    ("NAME-OR-FILE", None, None, "Assumptions to print: the name of a preset, or a TOML file"),
    ("NEW", None, None, "The layer that is asked about"),
    ("OLD", None, None, "The layer to compare with"),
    ("SHELL", None, None, "Shell that is to complete"),
    ("TO", None, None, "Where the drive ends"),
    ("TOPIC", None, None, "Page to print"),
    ("TRACK", None, None, "Track: a file (GPX, GeoJSON or encoded polyline), waypoints"),
    ("TRIP.toml", None, None, "Working hours, devices, power and tariffs of the trip"),
];

/// Every command and what it takes, with the words that lead to it.
fn taken<'c>(command: &'c Command, path: &str, out: &mut Vec<(String, &'c Arg)>) {
    out.extend(command.get_arguments().map(|arg| (path.to_owned(), arg)));
    for inner in command.get_subcommands() {
        taken(inner, format!("{path} {}", inner.get_name()).trim_start(), out);
    }
}

fn value_name(arg: &Arg) -> Option<String> {
    let named = arg.get_value_names().filter(|_| arg.get_action().takes_values());
    named.map(|names| names.iter().map(|name| name.as_str()).collect::<Vec<_>>().join(" "))
}

/// A flag with two dashes, or the name of the value.
fn name(arg: &Arg) -> String {
    arg.get_long().map_or_else(|| value_name(arg).unwrap_or_default(), |long| format!("--{long}"))
}

/// What is wrong with an argument of a command; nothing where it is what the table says.
fn fault(arg: &Arg, flags: &[Flag]) -> Option<String> {
    let name = name(arg);
    let Some((_, letter, value, meaning)) = flags.iter().find(|flag| flag.0 == name) else {
        return Some("is not in the table of flags: add it with its one meaning".into());
    };
    let help = arg.get_help().map(ToString::to_string).unwrap_or_default();
    if arg.get_short() != *letter {
        Some(format!("has the letter {:?}, elsewhere {letter:?}", arg.get_short()))
    } else if arg.get_long().is_some() && value_name(arg).as_deref() != *value {
        Some(format!("has the value {:?}, elsewhere {value:?}", value_name(arg)))
    } else if !help.starts_with(meaning) {
        Some(format!("means `{help}`, elsewhere `{meaning}`"))
    } else {
        None
    }
}

#[test]
fn every_flag_means_one_thing_in_all_commands() {
    let command = Args::command();
    let mut all = Vec::new();
    taken(&command, "", &mut all);
    let faults = all.iter().filter_map(|(path, arg)| Some(format!("{path} {} {}", name(arg), fault(arg, FLAGS)?)));
    assert_eq!(faults.collect::<Vec<_>>(), Vec::<String>::new());
    let met: BTreeSet<String> = all.iter().map(|(_, arg)| name(arg)).collect();
    let idle: Vec<&str> = FLAGS.iter().map(|flag| flag.0).filter(|name| !met.contains(*name)).collect();
    assert!(idle.is_empty(), "in the table and in no command: {idle:?}");
    let names: BTreeSet<&str> = FLAGS.iter().map(|flag| flag.0).collect();
    assert_eq!(names.len(), FLAGS.len(), "a flag is listed twice in the table");
}

#[test]
fn a_flag_that_differs_is_found() {
    let of = |arg: Arg| fault(&arg, &[("--near", Some('n'), Some("PLACE"), "A place")]).unwrap_or_default();
    let near = || Arg::new("near").long("near").short('n').value_name("PLACE").help("A place, typed");
    assert_eq!(of(near()), "");
    assert!(of(near().long("far")).contains("not in the table"));
    assert!(of(near().short('m')).contains("the letter Some('m')"));
    assert!(of(near().value_name("TEXT")).contains("the value Some(\"TEXT\")"));
    assert!(of(near().action(clap::ArgAction::SetTrue)).contains("the value None"));
    assert!(of(near().help("How near")).contains("means `How near`"));
}
