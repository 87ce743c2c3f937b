//! A door for scripts/fuzz to what is read of the command line and of a person's own settings; nothing else uses it.
use jiff::tz::TimeZone;

use super::{shown, times, values};
use crate::base::error::Result;
use crate::profile::{Profile, source};

/// What every reader of typed times says of a text.
pub fn typed_times(text: &str) -> Vec<std::result::Result<(), String>> {
    vec![times::day_or_time(text).map(drop), times::moment(text, &TimeZone::UTC).map(drop)]
}

/// What is said of a typed zone, and of a time there.
pub fn typed_zone(text: &str) -> std::result::Result<(), String> {
    let zone = times::zone(text)?;
    times::moment("2026-03-29T02:30", &zone).map(drop)
}

/// What every reader of typed values says of a text.
pub fn typed_values(text: &str) -> Vec<std::result::Result<(), String>> {
    let value = source::with_values(&Profile::default(), &[text.to_owned()]);
    vec![
        values::length(0.0..=1e6)(text).map(drop),
        values::minutes(1.0..=1_440.0)(text).map(drop),
        values::share(text).map(drop),
        values::weight(text).map(drop),
        values::bounds(text).map(drop),
        values::box_sides(text).map(drop),
        value.map(drop).map_err(|e| e.to_string()),
    ]
}

/// Reads the text of a person's own settings.
///
/// # Errors
/// What cannot be used.
pub fn user_settings(text: &str) -> Result<()> {
    shown::read(text, "settings.toml").map(drop)
}
