//! Days and times as people type them.
use jiff::Timestamp;
use jiff::civil::DateTime;
use jiff::tz::{AmbiguousOffset, TimeZone};

use crate::base::nearest::or_meant;

/// `2026-07-01` (its first moment), `2026-07-01T14:00` (both UTC) or a time with an offset.
pub(crate) fn day_or_time(text: &str) -> Result<Timestamp, String> {
    if let Ok(time) = text.parse::<Timestamp>() {
        return Ok(time);
    }
    let wrong = |_| "give a day (2026-07-01) or a time (2026-07-01T14:00, 2026-07-01T16:00+02:00)".to_owned();
    let time: DateTime = text.parse().map_err(wrong)?;
    time.to_zoned(TimeZone::UTC).map(|z| z.timestamp()).map_err(wrong)
}

/// A zone: a name of the IANA database, or an offset such as `-01:00`.
pub fn zone(text: &str) -> Result<TimeZone, String> {
    if let Ok(zone) = TimeZone::get(text) {
        return Ok(zone);
    }
    let offset = text.strip_prefix(['+', '-']).and_then(|digits| {
        let (hours, minutes) = digits.split_once(':').unwrap_or((digits, "0"));
        // Digits alone: a second sign would turn them.
        let number = |digits: &str| digits.bytes().all(|b| b.is_ascii_digit()).then(|| digits.parse::<u8>().ok())?;
        let seconds = i32::from(number(hours)?) * 3_600 + i32::from(number(minutes).filter(|m| *m < 60)?) * 60;
        // No place on earth is farther from UTC.
        (seconds <= 18 * 3_600).then_some(())?;
        jiff::tz::Offset::from_seconds(if text.starts_with('-') { -seconds } else { seconds }).ok()
    });
    offset.map(TimeZone::fixed).ok_or_else(|| {
        let names: Vec<String> = jiff::tz::db().available().map(|name| name.as_str().to_owned()).collect();
        format!("`{text}` is not a valid time zone{}", or_meant(text, names.iter().map(String::as_str)))
    })
}

/// A moment: local time in a zone, or with an offset of its own.
pub fn moment(text: &str, zone: &TimeZone) -> Result<Timestamp, String> {
    if let Ok(time) = text.parse::<Timestamp>() {
        return Ok(time);
    }
    let wrong = |_| "give a time such as 2026-06-15T08:00 or 2026-06-15T08:00-01:00".to_owned();
    let time: DateTime = text.parse().map_err(wrong)?;
    let moment = zone.to_ambiguous_timestamp(time);
    match moment.offset() {
        AmbiguousOffset::Unambiguous { .. } => moment.unambiguous().map_err(wrong),
        AmbiguousOffset::Gap { .. } => {
            Err("no clock of this zone shows it: clocks go forward then; give another time".to_owned())
        }
        AmbiguousOffset::Fold { before, after } => {
            Err(format!("clocks of this zone show it twice: add the offset, as in {time}{before} or {time}{after}"))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn zones_and_moments() {
        let madrid = zone("Europe/Madrid").unwrap();
        assert_eq!(moment("2026-07-01T10:00", &madrid).unwrap().to_string(), "2026-07-01T08:00:00Z");
        let west = zone("-01:30").unwrap();
        assert_eq!(moment("2026-07-01 10:00", &west).unwrap().to_string(), "2026-07-01T11:30:00Z");
        assert_eq!(moment("2026-07-01T10:00+05:00", &west).unwrap().to_string(), "2026-07-01T05:00:00Z");
        assert_eq!(
            zone("+2").map(|z| moment("2026-07-01T10:00", &z).unwrap().to_string()).as_deref(),
            Ok("2026-07-01T08:00:00Z")
        );
        for wrong in
            ["Nowhere/Town", "+99:00", "+1193046", "+596524", "+-5", "-1:-30", "+1:60000000", "+25:00", "", "+x"]
        {
            assert!(zone(wrong).is_err(), "{wrong}");
        }
        assert!(zone("Europe/Madird").unwrap_err().ends_with("; did you mean `Europe/Madrid`?"));
        assert!(moment("tomorrow", &west).is_err());
        // The clocks of Madrid go from two to three on 29 March 2026, and from three to two on 25 October (Directive 2000/84/EC).
        assert!(moment("2026-03-29T02:30", &madrid).unwrap_err().contains("go forward"));
        assert!(
            moment("2026-10-25T02:30", &madrid)
                .unwrap_err()
                .contains("twice: add the offset, as in 2026-10-25T02:30:00+02")
        );
        assert_eq!(moment("2026-10-25T02:30+01:00", &madrid).unwrap().to_string(), "2026-10-25T01:30:00Z");
    }

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
