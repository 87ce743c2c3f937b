//! Words and figures as people read them, the same in every format.
use crate::ask::corridor::DrivenOutage;
use crate::ask::source::Source;
use crate::base::words::{Highway, Roofed, Words};

/// How many outages of a drive have numbers, on maps and in lists.
pub(super) const WORST: usize = 10;

/// Directions of the compass, by [`crate::base::geodesy::eighth`].
pub const ROSE: [&str; 8] = ["N", "NE", "E", "SE", "S", "SW", "W", "NW"];

/// Of which day the map data are.
pub(super) fn data_of(source: &Source) -> String {
    match &source.data_of[..] {
        [] => "Map data without a date".to_owned(),
        dates => {
            format!("Map data of {}", dates.iter().map(|d| d.get(..10).unwrap_or(d)).collect::<Vec<_>>().join(", "))
        }
    }
}

/// What follows the name of a place where there is or may be a roof: `, roof not known`.
pub(super) fn roof_words(roofed: Roofed) -> &'static str {
    match roofed {
        Roofed::Yes => ", under a roof",
        Roofed::No => "",
        Roofed::Unknown => ", roof not known",
    }
}

/// A road as people read it: one without a name goes by its class.
pub(super) fn road_words(name: &str) -> String {
    Highway::parse(name).map_or_else(|| name.to_owned(), Highway::phrase)
}

/// An outage in one sentence.
pub(super) fn sentence(o: &DrivenOutage) -> String {
    format!(
        "{}: {:.0} m, {}; expected {:.1} s without a link; 95 of 100 drives do not exceed an outage of {:.1} s",
        o.rating,
        o.length_m,
        o.cause.phrase(),
        o.outage_s,
        o.outage_p95_s
    )
}

/// Units that stay beside their figure.
const BESIDE: [&str; 11] = ["%", "s", "m", "km", "min", "h", "mi", "ft", "in", "am", "pm"];

/// Text in which a figure stays beside its unit.
pub(super) fn unbroken(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for word in text.split(' ') {
        let unit = BESIDE.contains(&word.trim_end_matches([',', ';', '.', ':']));
        if !out.is_empty() {
            out.push(if unit && out.ends_with(|c: char| c.is_ascii_digit()) { '\u{a0}' } else { ' ' });
        }
        out += word;
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_stay_beside_their_units() {
        assert_eq!(unbroken("about 5 % of 2 s, km 3 to 4"), "about 5\u{a0}% of 2\u{a0}s, km 3 to 4");
    }
}
