//! Values of RFC 5545 section 3.3: dates, times, durations, offsets, text.
use jiff::civil::{Date, DateTime, Time};
use jiff::{SignedDuration, Span};

/// A date, or a date with a time of day.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum DateOrTime {
    /// A whole day.
    Day(Date),
    /// A time of day on the wall clock.
    Wall(DateTime),
    /// A time of day in UTC.
    Utc(DateTime),
}

impl DateOrTime {
    /// Wall clock of the moment, midnight for a day.
    pub fn wall(self) -> DateTime {
        match self {
            Self::Day(day) => day.at(0, 0, 0, 0),
            Self::Wall(wall) | Self::Utc(wall) => wall,
        }
    }
}

fn digits<T: std::str::FromStr>(text: &str, range: std::ops::Range<usize>) -> Option<T> {
    let part = text.get(range)?;
    part.bytes().all(|b| b.is_ascii_digit()).then(|| part.parse().ok())?
}

/// `DATE` (20260615) or `DATE-TIME` (20260615T100000, with `Z` for UTC).
pub fn moment(text: &str) -> Option<DateOrTime> {
    let text = text.trim();
    let day = Date::new(digits(text, 0..4)?, digits(text, 4..6)?, digits(text, 6..8)?).ok()?;
    let Some(clock) = text.get(8..).filter(|rest| !rest.is_empty()) else {
        return Some(DateOrTime::Day(day));
    };
    let clock = clock.strip_prefix(['T', 't'])?;
    let (clock, utc) = match clock.strip_suffix(['Z', 'z']) {
        Some(clock) => (clock, true),
        None => (clock, false),
    };
    if clock.len() != 6 {
        return None;
    }
    // Second 60 is a leap second, which calendars do not know: read as 59 (section 3.3.12).
    let second: i8 = digits::<i8>(clock, 4..6)?;
    let second = if second == 60 { 59 } else { second };
    let wall = day.to_datetime(Time::new(digits(clock, 0..2)?, digits(clock, 2..4)?, second, 0).ok()?);
    Some(if utc { DateOrTime::Utc(wall) } else { DateOrTime::Wall(wall) })
}

/// `DURATION`: `P15DT5H0M20S`, `P7W`, `-PT15M`. Weeks and days are nominal, the rest is exact.
pub(crate) fn duration(text: &str) -> Option<Span> {
    let text = text.trim();
    let (sign, text) = match text.strip_prefix('-') {
        Some(rest) => (-1, rest),
        None => (1, text.strip_prefix('+').unwrap_or(text)),
    };
    let (mut span, mut number, mut in_time, mut parts) = (Span::new(), String::new(), false, 0);
    for c in text.strip_prefix(['P', 'p'])?.chars() {
        match c.to_ascii_uppercase() {
            '0'..='9' => number.push(c),
            'T' if !in_time && number.is_empty() => in_time = true,
            unit => {
                let n: i64 = sign * number.parse::<i64>().ok()?;
                span = match (unit, in_time) {
                    ('W', false) => span.try_weeks(n),
                    ('D', false) => span.try_days(n),
                    ('H', true) => span.try_hours(n),
                    ('M', true) => span.try_minutes(n),
                    ('S', true) => span.try_seconds(n),
                    _ => return None,
                }
                .ok()?;
                number.clear();
                parts += 1;
            }
        }
    }
    (parts > 0 && number.is_empty()).then_some(span)
}

/// `UTC-OFFSET`: `-0500`, `+133015`; seconds east of UTC.
pub fn offset(text: &str) -> Option<SignedDuration> {
    let text = text.trim();
    let sign = match text.chars().next()? {
        '+' => 1,
        '-' => -1,
        _ => return None,
    };
    let part = |range| digits::<i64>(&text[1..], range);
    let seconds = if text.len() == 7 { part(4..6)? } else { 0 };
    let (hours, minutes) = (part(0..2)?, part(2..4)?);
    let fits = matches!(text.len(), 5 | 7) && hours < 24 && minutes < 60 && seconds < 60;
    fits.then(|| SignedDuration::from_secs(sign * (hours * 3600 + minutes * 60 + seconds)))
}

/// `TEXT` without its escapes.
pub fn text(value: &str) -> String {
    list(value, false).pop().unwrap_or_default()
}

/// Several `TEXT` values with commas between them.
pub fn texts(value: &str) -> Vec<String> {
    list(value, true).into_iter().map(|t| t.trim().to_owned()).filter(|t| !t.is_empty()).collect()
}

fn list(value: &str, split: bool) -> Vec<String> {
    let mut out = vec![String::new()];
    let mut letters = value.chars();
    while let Some(c) = letters.next() {
        let c = match c {
            ',' if split => {
                out.push(String::new());
                continue;
            }
            '\\' => match letters.next() {
                Some('n' | 'N') => '\n',
                Some(other) => other,
                None => '\\',
            },
            c => c,
        };
        if let Some(last) = out.last_mut() {
            last.push(c);
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::ToSpan;
    use jiff::civil::date;

    /// Sections 3.3.4, 3.3.5, 3.3.12.
    #[test]
    fn dates_and_times() {
        assert_eq!(moment("19970714"), Some(DateOrTime::Day(date(1997, 7, 14))));
        assert_eq!(moment("19980118T230000"), Some(DateOrTime::Wall(date(1998, 1, 18).at(23, 0, 0, 0))));
        assert_eq!(moment("19980119T070000Z"), Some(DateOrTime::Utc(date(1998, 1, 19).at(7, 0, 0, 0))));
        assert_eq!(moment("19970630T235960Z"), Some(DateOrTime::Utc(date(1997, 6, 30).at(23, 59, 59, 0))));
        for wrong in ["", "1998", "19980230", "19980118T2300", "19980119T230000-0800", "1998011ö", "19980118T250000"] {
            assert_eq!(moment(wrong), None, "{wrong}");
        }
    }

    /// Section 3.3.6.
    #[test]
    fn durations() {
        assert_eq!(duration("P15DT5H0M20S").map(|s| s.fieldwise()), Some(15.days().hours(5).seconds(20).fieldwise()));
        assert_eq!(duration("P7W").map(|s| s.fieldwise()), Some(7.weeks().fieldwise()));
        assert_eq!(duration("-PT15M").map(|s| s.fieldwise()), Some((-15).minutes().fieldwise()));
        for wrong in ["", "P", "15M", "P1H", "PT1D", "PT5", "P99999999999999999999D", "P999999999999999D"] {
            assert!(duration(wrong).is_none(), "{wrong}");
        }
    }

    /// Section 3.3.14.
    #[test]
    fn offsets() {
        assert_eq!(offset("-0500"), Some(SignedDuration::from_hours(-5)));
        assert_eq!(offset("+0100"), Some(SignedDuration::from_hours(1)));
        assert_eq!(offset("+133015"), Some(SignedDuration::from_secs(13 * 3600 + 30 * 60 + 15)));
        for wrong in ["", "0500", "+5", "+2400", "-05é0", "+010"] {
            assert_eq!(offset(wrong), None, "{wrong}");
        }
    }

    /// Sections 3.3.11 and 3.8.1.2.
    #[test]
    fn escaped_text() {
        let value = "Project XYZ Final Review\\nConference Room - 3B\\nCome Prepared\\, with \\\\ and \\;.";
        let want = "Project XYZ Final Review\nConference Room - 3B\nCome Prepared, with \\ and ;.";
        assert_eq!(text(value), want);
        assert_eq!(texts("APPOINTMENT,EDUCATION\\, FREE, ,x"), ["APPOINTMENT", "EDUCATION, FREE", "x"]);
    }
}
