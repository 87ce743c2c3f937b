//! How answers are told to people: options, and a person's own settings.
use std::path::PathBuf;

use clap::Args as ClapArgs;
use serde::{Deserialize, Serialize};

use crate::base::error::{Error, Result};
use crate::base::settings::{Key, Keys, Mark, as_table, word};
use crate::base::words::{Dial, HowTold, Units};

/// Units of lengths.
#[derive(Debug, ClapArgs)]
pub(crate) struct UnitsOption {
    /// Units of lengths in answers for people: metric or imperial; by default as in your settings
    ///
    /// `waymask settings user` prints a file of settings. Data for programs (.json, .geojson, .csv, .gpx) is always metric, and a
    /// plain number that you type is metres.
    #[arg(long, value_name = "SYSTEM")]
    pub units: Option<Units>,
}

/// The dial of clocks.
#[derive(Debug, ClapArgs)]
pub(crate) struct ClockOption {
    /// Hours of the clock in answers for people: 24h or 12h; by default as in your settings
    ///
    /// `waymask settings user` prints a file of settings. Data for programs always has RFC 3339.
    #[arg(long, value_name = "HOURS")]
    pub clock: Option<Dial>,
}

/// What a person set for all answers.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
struct UserSettings {
    units: Units,
    clock: Dial,
}

const KEYS: &[Key] = &[
    word("units", Mark::Assumed, Units::NAMES, "units of lengths in answers for people"),
    word("clock", Mark::Assumed, Dial::NAMES, "hours of the clock in answers for people"),
];
const FILE: Keys = Keys { parts: &[KEYS], shown_by: "`waymask settings user`" };

/// How a person is told figures: as asked for, else as set, else in kilometres and by 24 hours.
///
/// # Errors
/// The person's settings cannot be read.
pub(crate) fn shown(units: &UnitsOption, clock: Option<&ClockOption>) -> Result<HowTold> {
    let clock = clock.map(|option| option.clock);
    // What is given in full needs no file.
    if let (Some(units), None | Some(Some(_))) = (units.units, clock) {
        return Ok(HowTold { units, dial: clock.flatten().unwrap_or_default() });
    }
    let own = own()?;
    Ok(HowTold { units: units.units.unwrap_or(own.units), dial: clock.flatten().unwrap_or(own.clock) })
}

/// The dial alone.
///
/// # Errors
/// The person's settings cannot be read.
pub(crate) fn dial(clock: &ClockOption) -> Result<Dial> {
    clock.clock.map_or_else(|| Ok(own()?.clock), Ok)
}

/// What the person set; the starting values where there is no file.
fn own() -> Result<UserSettings> {
    let next = "mend or remove it; `waymask settings user` prints one";
    // A link that leads nowhere is something that was meant to be read.
    let Some(path) = path().filter(|path| path.symlink_metadata().is_ok()) else { return Ok(UserSettings::default()) };
    if !path.is_file() {
        return Err(Error::file(&path, "is not a file that can be read", next));
    }
    FILE.read_file(&path, next)?.over(KEYS, &UserSettings::default())
}

/// The settings in a text; `source` names it in errors.
///
/// # Errors
/// What cannot be used.
pub(super) fn read(text: &str, source: &str) -> Result<HowTold> {
    let own = FILE.read(text, source)?.over(KEYS, &UserSettings::default())?;
    Ok(HowTold { units: own.units, dial: own.clock })
}

/// Where the file is: in the folder for settings (XDG Base Directory Specification 0.8, where a relative path counts as none).
pub(crate) fn path() -> Option<PathBuf> {
    let folder = |name: &str| std::env::var_os(name).map(PathBuf::from).filter(|folder| folder.is_absolute());
    let settings = folder("XDG_CONFIG_HOME").or_else(|| Some(folder("HOME")?.join(".config")))?;
    Some(settings.join("waymask").join("settings.toml"))
}

/// The file with every key at its starting value.
///
/// # Errors
/// Settings without a form in TOML, which tests exclude.
pub(crate) fn example() -> Result<String> {
    let place = path().map_or("the folder for settings".to_owned(), |path| path.display().to_string());
    let title = format!("How you are told answers. It is read from {place}");
    Ok(FILE.print(&title, &as_table(&UserSettings::default())?, &|_| "as you like".to_owned()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_example_reads_as_its_starting_values() {
        let given = FILE.read(&example().unwrap(), "it").unwrap();
        assert_eq!(given.over(KEYS, &UserSettings::default()).unwrap(), UserSettings::default());
        let given = FILE.read("units = \"imperial\"\nclock = \"12h\"\n", "it").unwrap();
        let own = given.over(KEYS, &UserSettings::default()).unwrap();
        assert_eq!((own.units, own.clock), (Units::Imperial, Dial::Hours12));
    }

    #[test]
    fn what_is_not_understood_is_named() {
        for (text, part) in [
            ("units = \"yards\"", "metric"),
            ("units = \"metric, imperial\"", "metric"),
            ("clock = 12", "24h"),
            ("unit = \"metric\"", "units"),
        ] {
            let error = FILE.read(text, "settings.toml").unwrap_err().to_string();
            assert!(error.contains("settings.toml") && error.contains(part), "{error}");
        }
    }
}
