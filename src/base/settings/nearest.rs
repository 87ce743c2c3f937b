//! The nearest known key to one that is not known.
use super::key::{Key, Keys};
use crate::base::nearest::{distance, least_far, nearest_name};

/// A section may be mistaken altogether: then the name alone decides.
const WRONG_SECTION: usize = 2;

/// The nearest section, key or former name of a key to a path that is not known, as the path it has now.
pub fn path(typed: &str, keys: &Keys) -> Option<&'static str> {
    let former = keys.iter().filter(|key| !key.was.is_empty()).map(|key| (key.was, key.path));
    let known = keys.iter().flat_map(|key| [(key.head(), key.head()), (key.path, key.path)]).chain(former);
    let (section, own) = split(typed);
    let far = |path: &str| {
        let (other, name) = split(path);
        distance(own, name) + distance(section, other).min(WRONG_SECTION)
    };
    least_far(own, known.map(|(path, now)| (far(path), now)))
}

/// The nearest name of an entry of a list.
pub fn field(typed: &str, fields: &'static [Key]) -> Option<&'static str> {
    nearest_name(typed, fields.iter().map(|key| key.path))
}

fn split(path: &str) -> (&str, &str) {
    path.rsplit_once('.').unwrap_or(("", path))
}
