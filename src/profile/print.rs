//! A profile as an annotated file.
use super::keys;
use super::model::Profile;
use super::presets::{self, Preset};
use crate::base::caution;
use crate::base::error::Result;
use crate::base::settings::{Key, as_table, value_at};

/// Prints a profile with a comment above every key. `base` is the preset it began with: values that are neither its nor
/// the default are marked as changed.
///
/// # Errors
/// A preset that is not sound, which tests exclude.
pub(crate) fn annotated(profile: &Profile, base: &Preset) -> Result<String> {
    let (values, begun) = (as_table(profile)?, as_table(&base.profile()?)?);
    let origin = |key: &Key| match base.change(key.path) {
        _ if value_at(&values, key.path) != value_at(&begun, key.path) => "changed here".to_owned(),
        Some(change) => format!("{}, {}: {}", base.name, change.mark.name(), change.note),
        None => key.mark.name().to_owned(),
    };
    let title = format!(
        "Assumptions of a waymask build ({}: {}).\nA file of your own may name only what differs: base = \"{}\", then its own keys.\n\
         Before you drive with it:\n{}",
        base.name,
        base.title,
        base.name,
        caution::on_terminal(presets::cautions(profile))
    );
    Ok(keys::VALUES.print(&title, &values, &origin))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::settings::Mark;
    use crate::base::words::DrivingSide;
    use crate::profile::keys::{BLOCKED, SHELLS, VALUES};
    use crate::profile::{Vehicle, source};

    #[test]
    fn every_value_of_a_profile_has_a_key_and_every_key_is_printed() {
        let vehicle = Vehicle { driving_side: Some(DrivingSide::Left), ..Default::default() };
        let windscreen = presets::find("windscreen").unwrap().profile().unwrap();
        let full = Profile { vehicle, ..windscreen };
        VALUES.read(&toml::to_string(&full).unwrap(), "all").unwrap();
        let printed = annotated(&full, &presets::PRESETS[0]).unwrap();
        for key in VALUES.iter().chain(BLOCKED).chain(SHELLS) {
            let name = key.path.split_once('.').map_or(key.path, |(_, name)| name);
            let shows = |l: &str| l.starts_with(&format!("{name} = ")) || l == format!("[[{}]]", key.path);
            assert!(printed.lines().any(shows), "{}", key.path);
        }
    }

    #[test]
    fn what_is_printed_as_published_is_not_from_memory() {
        let published = || VALUES.iter().filter(|key| key.mark == Mark::Published);
        assert!(published().count() >= 5);
        for key in published() {
            assert!(!key.meaning.contains("memory"), "{}: {}", key.path, key.meaning);
        }
    }

    #[test]
    fn what_is_printed_reads_back_as_the_same_profile() {
        for preset in presets::PRESETS {
            let profile = preset.profile().unwrap();
            let printed = annotated(&profile, preset).unwrap();
            assert_eq!(source::parse(&printed, "printed").unwrap(), profile, "{printed}");
            assert!(preset.changes.iter().all(|c| printed.contains(c.note)) && !printed.contains("changed here"));
            for caution in preset.cautions {
                assert!(printed.contains(&format!("# {}", caution.text())), "{}: {caution:?}", preset.name);
            }
            assert!(printed.contains("waymask guide safety"), "{}", preset.name);
        }
        let mine = source::parse("base = \"hood\"\nlink.slot_s = 20.0", "mine").unwrap();
        let printed = annotated(&mine, presets::find("hood").unwrap()).unwrap();
        assert_eq!(source::parse(&printed, "printed").unwrap(), mine);
        assert_eq!(printed.matches("changed here").count(), 1, "{printed}");
    }
}
