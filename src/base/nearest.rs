//! The nearest known word to one that is not known.

/// The nearest of some names; none where no name is near.
pub fn nearest_name<'a>(typed: &str, known: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let small = typed.to_lowercase();
    let known = known.into_iter().map(|name| (distance(&small, &name.to_lowercase()), name));
    least_far(typed, known)
}

/// What to do about a word that is not known: `did you mean this?` where a name is near, and then the `advice`.
pub fn meant<'a>(typed: &str, known: impl IntoIterator<Item = &'a str>, advice: &str) -> String {
    let Some(near) = nearest_name(typed, known) else { return advice.to_owned() };
    let mut letters = advice.chars();
    let first = letters.next().map(char::to_uppercase).into_iter().flatten();
    format!("did you mean `{near}`? {}", first.chain(letters).collect::<String>())
}

/// `; did you mean this?` after what is wrong with a word; nothing where no name is near.
pub fn or_meant<'a>(typed: &str, known: impl IntoIterator<Item = &'a str>) -> String {
    nearest_name(typed, known).map_or(String::new(), |near| format!("; did you mean `{near}`?"))
}

/// How many letters are put in, left out, changed or swapped.
pub(crate) fn distance(a: &str, b: &str) -> usize {
    strsim::damerau_levenshtein(a, b)
}

/// The first of those at the least distance, unless half of what was typed would have to change.
pub(crate) fn least_far<'a>(typed: &str, known: impl Iterator<Item = (usize, &'a str)>) -> Option<&'a str> {
    let (distance, name) = known.min_by_key(|(distance, _)| *distance)?;
    (distance <= (typed.chars().count() / 2).max(1)).then_some(name)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_nearest_name_is_told_where_one_is_near() {
        let colours = ["red", "white", "Green"];
        assert_eq!(nearest_name("whyte", colours), Some("white"));
        assert_eq!((nearest_name("x", colours), nearest_name("mauve", colours)), (None, None));
        assert_eq!((nearest_name("WHITE", colours), nearest_name("grene", colours)), (Some("white"), Some("Green")));
        assert_eq!(meant("rde", colours, "give a colour"), "did you mean `red`? Give a colour");
        assert_eq!(meant("mauve", colours, "give a colour"), "give a colour");
        assert_eq!(
            (or_meant("rde", colours).as_str(), or_meant("mauve", colours).as_str()),
            ("; did you mean `red`?", "")
        );
        assert_eq!(nearest_name("red", []), None);
    }
}
