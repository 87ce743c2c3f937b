//! Profiles from names, TOML files and single values.
use std::path::Path;

use super::keys;
use super::model::Profile;
use super::presets::{self, Preset};
use crate::base::error::{Error, Result};
use crate::base::nearest::meant;
use crate::base::settings::{Given, as_table};

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
pub(crate) fn choose(name_or_file: &Path) -> Result<Chosen> {
    if let Some(preset) = name_or_file.to_str().and_then(presets::find) {
        return Ok(Chosen { profile: preset.profile()?, base: preset });
    }
    if matches!(name_or_file.try_exists(), Ok(false)) {
        let given = name_or_file.display().to_string();
        let next = meant(&given, presets::NAMES.iter().copied(), &next());
        return Err(Error::usage(given, "is neither a preset nor a file", next));
    }
    read(name_or_file)
}

/// Reads and checks a profile; keys left out keep the values of the file's `base`, or the defaults.
///
/// # Errors
/// The file cannot be read, or holds what cannot be used.
pub fn read(path: &Path) -> Result<Chosen> {
    chosen(&keys::FILE.read_file(path, &next())?)
}

/// What to give for a profile.
fn next() -> String {
    format!("give one of the presets ({}) or the path of a TOML profile", presets::NAMES.join(", "))
}

/// A profile from TOML; `source` names it in errors.
///
/// # Errors
/// What cannot be used.
pub fn parse(text: &str, source: &str) -> Result<Profile> {
    Ok(chosen(&keys::FILE.read(text, source)?)?.profile)
}

impl Preset {
    /// The profile.
    ///
    /// # Errors
    /// A change that does not fit the profile, which tests exclude.
    pub fn profile(&self) -> Result<Profile> {
        let text: String = self.changes.iter().map(|c| format!("{} = {}\n", c.path, c.value)).collect();
        overlaid(&Profile::default(), &keys::VALUES.read(&text, self.name)?)
    }
}

fn chosen(given: &Given) -> Result<Chosen> {
    let base = given.text("base").and_then(presets::find).unwrap_or(&presets::PRESETS[0]);
    Ok(Chosen { profile: overlaid(&base.profile()?, given)?, base })
}

fn overlaid(start: &Profile, given: &Given) -> Result<Profile> {
    let profile = given.over(keys::VALUES.iter(), start)?;
    given.check(keys::conflict(&profile))?;
    Ok(profile)
}

/// A profile with single values replaced, each given as `section.key=value`; words need no quotes.
///
/// # Errors
/// An unknown key, or a value of the wrong type or out of its range.
pub fn with_values(start: &Profile, assignments: &[String]) -> Result<Profile> {
    let mut profile = start.clone();
    for typed in assignments {
        profile = overlaid(&profile, &keys::VALUES.read_one(typed, &format!("--set {typed}"))?)?;
    }
    Ok(profile)
}

/// Whether a profile keeps to the ranges of its keys, wherever it was kept.
///
/// # Errors
/// A sentence with the key, its value and what is allowed.
pub(crate) fn allowed(profile: &Profile) -> Result<(), String> {
    let told = |e: Error| match e {
        Error::Usage { what, fact, next_step } => format!("{what}: {fact} ({next_step})"),
        other => other.to_string(),
    };
    let text = as_table(profile).map_err(told)?.to_string();
    let given = keys::VALUES.read(&text, "profile").map_err(told)?;
    given.check(keys::conflict(profile)).map_err(told)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_starts_from_a_preset_and_changes_what_it_names() {
        let text = "base = \"windscreen\"\n[vehicle]\nantenna_height_m = 1.5\n[link]\nslot_s = 20\n";
        let chosen = chosen(&keys::FILE.read(text, "p.toml").unwrap()).unwrap();
        let base = presets::find("windscreen").unwrap().profile().unwrap();
        assert_eq!((chosen.base.name, chosen.profile.vehicle.antenna_height_m), ("windscreen", 1.5));
        assert_eq!((chosen.profile.link.slot_s, chosen.profile.link.margin_db), (20.0, base.link.margin_db));
        assert_eq!(chosen.profile.terminal, base.terminal);
        let open = parse("base = \"windscreen\"\n[terminal]\nblocked = []\n", "p.toml").unwrap();
        assert!(open.terminal.blocked.is_empty() && open.terminal.tilt_deg == 20.0);
    }

    #[test]
    fn a_name_that_is_neither_a_preset_nor_a_file_is_told_the_presets() {
        let error = choose(Path::new("car")).unwrap_err();
        assert_eq!(error.exit_code(), 2, "as every other setting that cannot be used");
        let said = error.to_string();
        assert!(said.starts_with("car: is neither a preset nor a file\n"), "{said}");
        assert!(said.contains("the presets (roof, tilted, windscreen, hood, camp, stand) or the path"), "{said}");
        let said = choose(Path::new("windscren")).unwrap_err().to_string();
        assert!(said.contains("\n  Did you mean `windscreen`? Give one of the presets (roof,"), "{said}");
        // A folder is there, but cannot be read as a profile.
        let said = choose(Path::new("src")).unwrap_err().to_string();
        assert!(said.starts_with("src: ") && !said.contains("neither"), "{said}");
    }

    #[test]
    fn every_preset_is_sound_and_differs_where_it_says() {
        let default = toml::Table::try_from(Profile::default()).unwrap();
        for preset in presets::PRESETS {
            let profile = preset.profile().unwrap();
            let table = toml::Table::try_from(&profile).unwrap();
            for key in keys::VALUES.iter() {
                let (section, name) = key.path.split_once('.').unwrap();
                let differs = default[section].get(name) != table[section].get(name);
                // A tilt that happens to point the default way is still said.
                let said = preset.change(key.path).is_some();
                assert!(said || !differs, "{}: {} differs unsaid", preset.name, key.path);
                assert!(differs || !said || key.path.ends_with("tilt_towards_deg"), "{}: {}", preset.name, key.path);
            }
        }
        assert_eq!(presets::find("roof").unwrap().profile().unwrap(), Profile::default());
    }

    #[test]
    fn wrong_keys_units_words_and_ranges_name_their_line() {
        let cases = [
            ("base = \"roof\"\n\n[vehicle]\nantenna_height_cm = 200\n", "line 4", "antenna_height_m"),
            ("[terminal]\ntilt_deg = \"10 degrees\"\n", "line 2: terminal.tilt_deg", "\"10 degrees\" is not a number"),
            ("[terminal]\nbearings_from = \"south\"\n", "line 2: terminal.bearings_from", "heading or north"),
            ("[vehicle]\nlane = \"middle\"\npower_w_per_kg = 1.0\n", "line 3", "3 to 200"),
            ("\nbase = \"sunroof\"\n", "line 2", "windscreen"),
            ("\nbase = \"tiltde\"\n", "line 2", "Did you mean `tilted`?"),
            (
                "[terminal]\n\n[[terminal.blocked]]\nbearing_from_deg = 0\nbearing_to_deg = 90\n\n[[terminal.blocked]]\n\
              bearing_from_deg = 10\nbearing_to_deg = 20\nelevation_to_deg = 100\n",
                "line 10: terminal.blocked.elevation_to_deg (entry 2)",
                "0 to 90 degrees",
            ),
            ("[terminal]\nblocked = [{ bearing_from_deg = 5, bearing_to_deg = 5 }]\n", "line 2", "0 to 360"),
            ("[terminal]\nblocked = [{ bearing_from = 5, bearing_to_deg = 5 }]\n", "line 2", "bearing_from_deg"),
            (
                "[[constellation.shells]]\naltitude_km = 90\ninclination_deg = 53\nplanes = 3\nper_plane = 4\n",
                "line 2: constellation.shells.altitude_km (entry 1)",
                "150 to 36000 km",
            ),
            (
                "[[constellation.shells]]\naltitude_km = 500\ninclination_deg = 53\nplanes = 9000\nper_plane = 90\n",
                "line 1: constellation.shells (entry 1)",
                "810000 satellites",
            ),
            ("constellation.shells = []\n", "line 1: constellation.shells", "at least 1"),
        ];
        for (text, line, word) in cases {
            let error = parse(text, "p.toml").unwrap_err();
            let said = error.to_string();
            assert!(said.contains(line) && said.contains(word) && error.exit_code() == 2, "{text}\n{said}");
        }
    }

    #[test]
    fn a_key_by_its_former_name_is_told_the_new_one() {
        for (former, now) in [
            ("link.replicates", "link.drives"),
            ("rating.steady_break_s", "rating.steady_outage_s"),
            ("rating.steady_down_share", "rating.steady_outage_share"),
            ("rating.blips_break_s", "rating.blips_outage_s"),
            ("rating.blips_down_share", "rating.blips_outage_share"),
            ("rating.gaps_break_s", "rating.gaps_outage_s"),
            ("rating.drops_break_s", "rating.drops_outage_s"),
            ("rating.dark_down_share", "rating.dark_outage_share"),
        ] {
            let said = parse(&format!("\n{former} = 1\n"), "p.toml").unwrap_err().to_string();
            assert!(said.starts_with(&format!("p.toml, line 2: {former}: is not a known key")), "{said}");
            assert!(said.contains(&format!("Did you mean `{now}`?")), "{said}");
        }
    }

    #[test]
    fn single_values_are_set_checked_and_named() {
        let set = |s: &str| with_values(&Profile::default(), &[s.to_owned()]);
        assert_eq!(set("link.margin_db=6").unwrap().link.margin_db, 6.0);
        assert_eq!(set("vehicle.lane = middle").unwrap().vehicle.lane, crate::profile::Lane::Middle);
        assert_eq!(set("terminal.blocked=[]").unwrap(), Profile::default());
        for (given, word) in [
            ("link.margin=6", "Did you mean `link.margin_db`?"),
            ("link.slott_s=3", "Did you mean `link.slot_s`?"),
            ("vehicle.lane=nearsid", "Did you mean `nearside`?"),
            ("link.margin_db", "section.key=value"),
            ("link.margin_db=60", "0.1 to 30"),
            ("link.margin_db=much", "not a number"),
            ("vehicle.lane=left", "nearside, offside or middle"),
            ("base=hood", "not a known key"),
        ] {
            let said = set(given).unwrap_err().to_string();
            assert!(said.contains(word) && said.contains(given), "{said}");
        }
    }
}
