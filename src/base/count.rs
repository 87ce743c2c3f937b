//! Counts as people read them: `1 minute`, `2 minutes`.
use std::fmt::Display;

/// A noun as it follows a count.
pub fn noun<N: PartialEq + From<u8>>(n: N, one: &str) -> String {
    if n == N::from(1) { one.to_owned() } else { format!("{one}s") }
}

/// A count and its noun.
pub fn counted<N: Copy + Display + PartialEq + From<u8>>(n: N, one: &str) -> String {
    format!("{n} {}", noun(n, one))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_has_no_plural() {
        assert_eq!([0, 1, 2].map(|n| counted(n, "partial day")), ["0 partial days", "1 partial day", "2 partial days"]);
        assert_eq!((noun(1_u64, "edge"), noun(1_000_u64, "edge")), ("edge".to_owned(), "edges".to_owned()));
    }
}
