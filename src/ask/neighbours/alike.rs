//! Whether layers can be asked together: what would make one answer rest on two sets of assumptions is refused.
use std::path::PathBuf;

use crate::ask::diff::BuildsCompared;
use crate::ask::elsewhere::check_roads;
use crate::base::error::{Error, Result};
use crate::base::files::is_same_file;
use crate::layer::Layer;

/// Most layers asked together.
pub const MOST_LAYERS: usize = 8;

/// Most keys of profiles that an error names.
const MOST_KEYS: usize = 3;

/// What to do where two layers rest on other assumptions.
const ALIKE: &str = "build both with the same --profile and --season, or ask each by itself";

/// Refuses files named twice and more than are asked together, before any is opened.
///
/// # Errors
/// See above.
pub fn check_files(paths: &[PathBuf]) -> Result<()> {
    if paths.len() > MOST_LAYERS {
        let fact = format!("makes {} layers in one question", paths.len());
        return Err(Error::usage(
            "--with",
            fact,
            format!("give at most {MOST_LAYERS}, those that the trip leads through"),
        ));
    }
    for (nth, path) in paths.iter().enumerate() {
        if let Some(before) = paths[..nth].iter().find(|before| is_same_file(before, path)) {
            let fact = format!("is the same file as {}", before.display());
            let what = format!("--with {}", path.display());
            return Err(Error::usage(what, fact, "give each layer once"));
        }
    }
    Ok(())
}

/// Refuses layers that cannot be asked together; what is to be known of others, in sentences.
///
/// # Errors
/// A layer without roads, or of other assumptions than the first.
pub(super) fn check(layers: &[Layer]) -> Result<Vec<String>> {
    let mut notes = Vec::new();
    let Some((first, others)) = layers.split_first() else { return Ok(notes) };
    layers.iter().try_for_each(check_roads)?;
    for other in others {
        let builds = BuildsCompared::of(first.record(), other.record())?;
        let differ = |fact: String| {
            let fact = format!("cannot be asked together with {}: {fact}", first.path().display());
            Error::file(other.path(), fact, ALIKE)
        };
        if !builds.keys.is_empty() {
            let key = |k: &crate::ask::diff::KeyChange| format!("{} {} there, {} here", k.key, k.old, k.new);
            let mut told: Vec<String> = builds.keys.iter().take(MOST_KEYS).map(key).collect();
            if builds.keys.len() > MOST_KEYS {
                told.push(format!("and {} more", builds.keys.len() - MOST_KEYS));
            }
            return Err(differ(format!("its profile differs ({})", told.join("; "))));
        }
        if let Some(timeline) = &builds.timeline {
            let told = |start: &Option<String>| start.clone().unwrap_or_else(|| "the shells of the profile".into());
            let (there, here) = (told(&timeline.old), told(&timeline.new));
            return Err(differ(format!("drives are under other satellites (there {there}, here {here})")));
        }
        if !builds.same_program {
            let [old, new] = [first, other].map(|layer| layer.record().waymask_version.clone());
            let (there, here) = (first.path().display(), other.path().display());
            notes.push(format!(
                "{there} was built by waymask {old} and {here} by {new}: another version may rate differently"
            ));
        }
    }
    Ok(notes)
}
