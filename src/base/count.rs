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

/// A measure as the nearest count, and its noun.
pub fn about(measure: f64, one: &str) -> String {
    counted(measure.round().max(0.0) as u64, one)
}

/// A span of time in seconds below a minute, else in minutes.
pub fn time(seconds: f64) -> String {
    if seconds.round() < 60.0 { format!("{:.0} s", seconds.max(0.0)) } else { about(seconds / 60.0, "minute") }
}

/// A length in metres below a kilometre, else in kilometres: what is there never reads as nothing.
pub fn length(metres: f64) -> String {
    if metres.round() < 1_000.0 { format!("{:.0} m", metres.max(0.0)) } else { format!("{:.1} km", metres / 1e3) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn small_measures_are_not_rounded_to_a_larger_unit() {
        let times = [0.6, 4.2, 59.4, 59.6, 90.0, 3_000.0].map(time);
        assert_eq!(times, ["1 s", "4 s", "59 s", "1 minute", "2 minutes", "50 minutes"]);
        let lengths = [0.0, 35.0, 999.4, 999.6, 1_234.0].map(length);
        assert_eq!(lengths, ["0 m", "35 m", "999 m", "1.0 km", "1.2 km"]);
    }

    #[test]
    fn one_has_no_plural() {
        assert_eq!([0, 1, 2].map(|n| counted(n, "partial day")), ["0 partial days", "1 partial day", "2 partial days"]);
        assert_eq!(
            [0.4, 0.6, 1.4, 1.6].map(|m| about(m, "minute")),
            ["0 minutes", "1 minute", "1 minute", "2 minutes"]
        );
        assert_eq!((noun(1_u64, "edge"), noun(1_000_u64, "edge")), ("edge".to_owned(), "edges".to_owned()));
    }
}
