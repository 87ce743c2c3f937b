//! Days and times as people type them.
use jiff::Timestamp;
use jiff::civil::DateTime;
use jiff::tz::TimeZone;

/// `2026-07-01` (its first moment), `2026-07-01T14:00` (both UTC) or a time with an offset.
pub fn day_or_time(text: &str) -> Result<Timestamp, String> {
    if let Ok(time) = text.parse::<Timestamp>() {
        return Ok(time);
    }
    let wrong = |_| "give a day (2026-07-01) or a time (2026-07-01T14:00, 2026-07-01T16:00+02:00)".to_owned();
    let time: DateTime = text.parse().map_err(wrong)?;
    time.to_zoned(TimeZone::UTC).map(|z| z.timestamp()).map_err(wrong)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn days_and_times() {
        for (text, want) in [
            ("2026-07-01", "2026-07-01T00:00:00Z"),
            ("2026-07-01T14:00", "2026-07-01T14:00:00Z"),
            ("2026-07-01 14:00:30", "2026-07-01T14:00:30Z"),
            ("2026-07-01T14:00Z", "2026-07-01T14:00:00Z"),
            ("2026-07-01T16:00+02:00", "2026-07-01T14:00:00Z"),
        ] {
            assert_eq!(day_or_time(text).map(|t| t.to_string()).as_deref(), Ok(want), "{text}");
        }
        for text in ["", "tomorrow", "2026-13-01", "01.07.2026", "2026-07-01T25:00"] {
            assert!(day_or_time(text).is_err(), "{text}");
        }
    }
}
