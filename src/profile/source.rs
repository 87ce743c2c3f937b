//! Profiles from names, TOML files and single values.
use std::path::Path;

use serde::Deserialize;
use toml::{Table, Value};

use super::presets::{self, Preset};
use super::{
    CanopyProfile, Constellation, Link, Profile, RatingEdges, Roadside, Sampling, Stop, Terminal, Vehicle, keys,
};
use crate::base::error::{Error, Result};

const KEYS_ARE_LISTED: &str = "`waymask profiles roof` lists every key with its range";

/// What a file may hold: read once as a whole, so that a wrong key or type is reported with its line.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
#[expect(dead_code, reason = "only whether it can be read matters; values are taken key by key")]
struct File {
    base: Option<String>,
    vehicle: Option<Vehicle>,
    terminal: Option<Terminal>,
    link: Option<Link>,
    canopy: Option<CanopyProfile>,
    roadside: Option<Roadside>,
    constellation: Option<Constellation>,
    stop: Option<Stop>,
    sampling: Option<Sampling>,
    rating: Option<RatingEdges>,
}

/// A profile and the preset it began with.
#[derive(Debug, Clone)]
pub struct Chosen {
    /// The profile.
    pub profile: Profile,
    /// What it began with.
    pub base: &'static Preset,
}

/// The profile of a name of a preset, or else of a file.
///
/// # Errors
/// No such name or file, or a file that [`read`] refuses.
pub fn choose(name_or_file: &Path) -> Result<Chosen> {
    if let Some(preset) = name_or_file.to_str().and_then(presets::find) {
        return Ok(Chosen { profile: preset.profile()?, base: preset });
    }
    read(name_or_file)
}

/// Reads and checks a profile; keys left out keep the values of the file's `base`, or the defaults.
///
/// # Errors
/// The file cannot be read, a key is unknown or of the wrong type (with its line), or a value is
/// out of its range (with its line and the range).
pub fn read(path: &Path) -> Result<Chosen> {
    let text = std::fs::read_to_string(path).map_err(|e| {
        let next = format!("give one of the presets ({}) or the path of a TOML profile", presets::names());
        Error::file(path, e.to_string(), next)
    })?;
    parse_with_base(&text, &path.display().to_string())
}

/// A profile from TOML; `source` names it in errors.
///
/// # Errors
/// As of [`read`].
pub fn parse(text: &str, source: &str) -> Result<Profile> {
    Ok(parse_with_base(text, source)?.profile)
}

fn parse_with_base(text: &str, source: &str) -> Result<Chosen> {
    let wrong = |e: toml::de::Error| Error::usage(source, e.to_string().trim_end().to_owned(), KEYS_ARE_LISTED);
    let file: File = toml::from_str(text).map_err(wrong)?;
    let base = match &file.base {
        None => &presets::PRESETS[0],
        Some(name) => presets::find(name).ok_or_else(|| {
            let line = text.lines().position(|l| l.trim_start().starts_with("base")).map_or(0, |i| i + 1);
            let known = format!("allowed: {}", presets::names());
            Error::usage(format!("{source} (line {line}): base"), format!("no preset `{name}`"), known)
        })?,
    };
    let mut changes: Table = toml::from_str(text).map_err(wrong)?;
    changes.remove("base");
    let start = if base.changes.is_empty() { Profile::default() } else { base.profile()? };
    let profile = overlaid(&start, changes, text, source)?;
    Ok(Chosen { profile, base })
}

/// A profile with some values replaced, section by section; lists are replaced whole.
fn overlaid(start: &Profile, changes: Table, text: &str, source: &str) -> Result<Profile> {
    let mut table = Table::try_from(start).map_err(|e| Error::usage(source, e.to_string(), KEYS_ARE_LISTED))?;
    for (section, values) in changes {
        match (table.get_mut(&section), values) {
            (Some(Value::Table(known)), Value::Table(values)) => known.extend(values),
            (_, values) => {
                table.insert(section, values);
            }
        }
    }
    let profile: Profile = table
        .try_into()
        .map_err(|e: toml::de::Error| Error::usage(source, e.to_string().trim_end().to_owned(), KEYS_ARE_LISTED))?;
    keys::check(&profile, text, source)?;
    Ok(profile)
}

/// A profile with single values replaced, each given as `section.key=value`; words need no quotes.
///
/// # Errors
/// An unknown key, or a value of the wrong type or out of its range.
pub fn with_values(start: &Profile, assignments: &[String]) -> Result<Profile> {
    let mut profile = start.clone();
    for given in assignments {
        let what = format!("--set {given}");
        let Some((path, value)) = given.split_once('=').map(|(p, v)| (p.trim(), v.trim())) else {
            return Err(Error::usage(what, "is not of the form section.key=value", "such as link.slot_s=30"));
        };
        if !keys::KEYS.iter().any(|k| k.path == path) {
            return Err(Error::usage(what, format!("there is no key `{path}`"), KEYS_ARE_LISTED));
        }
        let plain = format!("{path} = {value}");
        let quoted = format!("{path} = {}", Value::String(value.to_owned()));
        let text = if toml::from_str::<Table>(&plain).is_ok() { plain } else { quoted };
        let wrong = |e: toml::de::Error| Error::usage(&what, e.message().to_owned(), KEYS_ARE_LISTED);
        toml::from_str::<File>(&text).map_err(wrong)?;
        profile = overlaid(&profile, toml::from_str(&text).map_err(wrong)?, "", &what)?;
    }
    Ok(profile)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_starts_from_a_preset_and_changes_what_it_names() {
        let text = "base = \"windscreen\"\n[vehicle]\nantenna_height_m = 1.5\n[link]\nslot_s = 20\n";
        let chosen = parse_with_base(text, "p.toml").unwrap();
        let base = presets::find("windscreen").unwrap().profile().unwrap();
        assert_eq!((chosen.base.name, chosen.profile.vehicle.antenna_height_m), ("windscreen", 1.5));
        assert_eq!((chosen.profile.link.slot_s, chosen.profile.link.margin_db), (20.0, base.link.margin_db));
        assert_eq!(chosen.profile.terminal, base.terminal);
        let open = parse("base = \"windscreen\"\n[terminal]\nblocked = []\n", "p.toml").unwrap();
        assert!(open.terminal.blocked.is_empty() && open.terminal.tilt_deg == 20.0);
    }

    #[test]
    fn wrong_keys_units_words_and_ranges_name_their_line() {
        let cases = [
            ("base = \"roof\"\n\n[vehicle]\nantenna_height_cm = 200\n", "line 4", "antenna_height_m"),
            ("[terminal]\ntilt_deg = \"10 degrees\"\n", "line 2", "expected f64"),
            ("[terminal]\nbearings_from = \"south\"\n", "line 2", "`north`"),
            ("[vehicle]\nlane = \"middle\"\npower_w_per_kg = 1.0\n", "line 3", "3 to 200"),
            ("\nbase = \"sunroof\"\n", "line 2", "windscreen"),
            (
                "[terminal]\n\n[[terminal.blocked]]\nbearing_from_deg = 0\nbearing_to_deg = 90\n\n[[terminal.blocked]]\n\
              bearing_from_deg = 10\nbearing_to_deg = 20\nelevation_to_deg = 100\n",
                "line 7",
                "0 to 90",
            ),
            ("[terminal]\nblocked = [{ bearing_from_deg = 5, bearing_to_deg = 5 }]\n", "line 2", "0 to 360"),
            ("[terminal]\nblocked = [{ bearing_from = 5, bearing_to_deg = 5 }]\n", "line 2", "bearing_from_deg"),
            (
                "[[constellation.shells]]\naltitude_km = 90\ninclination_deg = 53\nplanes = 3\nper_plane = 4\n",
                "line 1",
                "150 to 36000",
            ),
        ];
        for (text, line, word) in cases {
            let error = parse(text, "p.toml").unwrap_err();
            let said = error.to_string();
            assert!(said.contains(line) && said.contains(word) && error.exit_code() == 2, "{text}\n{said}");
        }
    }

    #[test]
    fn single_values_are_set_checked_and_named() {
        let set = |s: &str| with_values(&Profile::default(), &[s.to_owned()]);
        assert_eq!(set("link.margin_db=6").unwrap().link.margin_db, 6.0);
        assert_eq!(set("vehicle.lane = middle").unwrap().vehicle.lane, crate::profile::Lane::Middle);
        assert_eq!(set("terminal.blocked=[]").unwrap(), Profile::default());
        for (given, word) in [
            ("link.margin=6", "no key"),
            ("link.margin_db", "section.key=value"),
            ("link.margin_db=60", "0.1 to 30"),
            ("link.margin_db=much", "expected f64"),
            ("vehicle.lane=left", "expected one of"),
        ] {
            let said = set(given).unwrap_err().to_string();
            assert!(said.contains(word) && said.contains(given), "{said}");
        }
    }
}
