//! Every assumption moved by itself over the range it may well have.
use super::answers::{self, Answer};
use super::stored::Stored;
use super::{Answered, Change, Rated, stored_outcome};
use crate::base::error::Result;
use crate::base::progress::Progress;
use crate::profile::{Profile, keys, source};

/// Other seeds: they show what the luck of the draws alone moves. What moves less is not told apart from it.
const SEEDS: [&str; 2] = ["link.seed=2", "link.seed=3"];

/// Moves every assumption and sorts by the kilometres whose rating changes.
pub fn sweep(stored: &Stored, progress: &dyn Progress) -> Result<Answered> {
    let (variants, narrow) = variants(stored)?;
    let count = stored.strokes.len() * (variants.len() + 1);
    progress.begin("link", "strokes", Some(count as u64));
    let unchanged = Rated::of(stored, stored.profile(), progress)?.change(stored)?;
    let mut changes = Vec::with_capacity(variants.len());
    for profile in &variants {
        changes.push(Rated::of(stored, profile, progress)?.change(stored)?);
    }
    progress.end();
    changes.sort_by(|a, b| moved_km(b).total_cmp(&moved_km(a)));
    let never = |path: &'static str| match answers::answer(path) {
        Answer::Never(why) => Some((path, why)),
        _ => None,
    };
    let mut refused = narrow;
    refused.extend(keys::KEYS.iter().filter_map(|k| never(k.path)));
    let not_reproduced_km = Some(moved_km(&unchanged));
    Ok(Answered { stored: stored_outcome(stored)?, not_reproduced_km, changes, refused })
}

fn moved_km(change: &Change) -> f64 {
    change.better_km + change.worse_km
}

/// A key and why stored masks cannot answer it.
type Refused = (&'static str, &'static str);

/// Profiles to rate under, each with one assumption at an end of its likely range, and what the masks end too high for.
fn variants(stored: &Stored) -> Result<(Vec<Profile>, Vec<Refused>)> {
    let (mut variants, mut narrow) = (Vec::new(), Vec::new());
    let seeds = SEEDS.iter().map(|seed| ("link.seed", (*seed).to_owned()));
    let ends = keys::KEYS.iter().filter_map(|key| Some((key.path, key.likely?)));
    let ends = ends.flat_map(|(path, (low, high))| [low, high].map(|value| (path, format!("{path}={value:?}"))));
    for (path, value) in seeds.chain(ends) {
        let profile = source::with_values(stored.profile(), &[value])?;
        if answers::check(stored.profile(), stored.masks.grid.floor_deg, &profile).is_err() {
            narrow.push((path, "a wider cone looks below the stored masks"));
        } else if profile != *stored.profile() && profile.terminal.floor_deg() < 90.0 {
            variants.push(profile);
        }
    }
    Ok((variants, narrow))
}
