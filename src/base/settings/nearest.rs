//! The nearest known name to one that is not known.
use super::key::{Key, Keys};

/// A section may be mistaken altogether: then the name alone decides.
const WRONG_SECTION: usize = 2;

/// The nearest of some names; none where no name is near.
pub fn name<'a>(typed: &str, known: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let known = known.into_iter().map(|name| (strsim::damerau_levenshtein(typed, name), name));
    near(typed, known)
}

/// The nearest section, key or former name of a key to a path that is not known, as the path it has now.
pub fn path(typed: &str, keys: &Keys) -> Option<&'static str> {
    let former = keys.iter().filter(|key| !key.was.is_empty()).map(|key| (key.was, key.path));
    let known = keys.iter().flat_map(|key| [(key.head(), key.head()), (key.path, key.path)]).chain(former);
    let (section, own) = split(typed);
    let distance = |path: &str| {
        let (other, name) = split(path);
        strsim::damerau_levenshtein(own, name) + strsim::damerau_levenshtein(section, other).min(WRONG_SECTION)
    };
    near(own, known.map(|(path, now)| (distance(path), now)))
}

/// The nearest name of an entry of a list.
pub fn field(typed: &str, fields: &'static [Key]) -> Option<&'static str> {
    name(typed, fields.iter().map(|key| key.path))
}

/// The first of those at the least distance, unless half of what was typed would have to change.
fn near<'a>(typed: &str, known: impl Iterator<Item = (usize, &'a str)>) -> Option<&'a str> {
    let (distance, name) = known.min_by_key(|(distance, _)| *distance)?;
    (distance <= (typed.chars().count() / 2).max(1)).then_some(name)
}

fn split(path: &str) -> (&str, &str) {
    path.rsplit_once('.').unwrap_or(("", path))
}
