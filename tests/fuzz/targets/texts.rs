//! What people type, calendars, and orbital elements.
use jiff::Timestamp;
use jiff::tz::TimeZone;
use waymask::base::coordinates;
use waymask::base::district::District;
use waymask::base::units;
use waymask::calendar::{self, Planned};
use waymask::cli::fuzzed;
use waymask::physics::orbit::elements;
use waymask::physics::orbit::elements::satellite::Satellite;

use super::{sample, seeds, text};
use crate::elements_writer::{Fields, Pattern, csv, fields, json, kvn, time, two_line_file, xml};
use crate::target::{Outcome, Target, outcome, says};

pub const TARGETS: &[Target] = &[
    Target::new(
        "units",
        || seeds(&["3,5 m", "14'6\"", "30 mph", "FR:rural", "2;3", "10-15", "80 cm", "3.5", "none"]),
        |_| Box::new(|input| read_units(&text(input))),
    )
    .words(&["km", "mi", "ft", "nmi", "in", "mph", "knots", "km/h", "'", "\"", ";", "DE:zone:30"])
    .code(&[include_str!("../../../src/base/units.rs")])
    .longest(200),
    Target::new("coordinates", || seeds(COORDINATES), |_| Box::new(|input| read_coordinates(&text(input))))
        .words(&["geo:", ";u=10", "crs=wgs84", "°", "′", "″", "N", "S", "E", "W", "−"])
        .longest(200),
    Target::new(
        "districts",
        || seeds(&["n4250e00125", "s0025w17975", "n0000e00000"]),
        |_| {
            Box::new(|input| {
                let text = text(input);
                let read = text.parse::<District>();
                if let Ok(district) = read {
                    assert_eq!(district.to_string(), text);
                }
                outcome(&read)
            })
        },
    )
    .longest(40),
    Target::new("times", || seeds(TIMES), |_| Box::new(|input| all(&fuzzed::typed_times(&text(input)))))
        .words(&["+02:00", "-01", "T", "Z", "24:00", "[Europe/Madrid]", "-000001", "W25"])
        .longest(100),
    Target::new(
        "zones",
        || seeds(&["+2", "-01:30", "Europe/Madrid"]),
        |_| Box::new(|input| outcome(&fuzzed::typed_zone(&text(input)))),
    )
    .words(&["UTC", "+02:00", "-01", ":", "Etc/GMT+9"])
    .longest(40),
    Target::new("values", || seeds(VALUES), |_| Box::new(|input| all(&fuzzed::typed_values(&text(input)))))
        .words(&["km", "ft", "mi", "=", "link.", "slot_s", "vehicle.lane", "terminal.blocked", "[", "{"])
        .longest(200),
    Target::new("calendars", calendar_seeds, |_| Box::new(|input| read_calendar(&text(input))))
        .words(&[
            "BEGIN:VTIMEZONE",
            "END:VTIMEZONE",
            "TZOFFSETFROM:+0100",
            "TZOFFSETTO:-0930",
            "EXDATE",
            "RDATE",
            "DURATION:P1W",
        ])
        .words(ICALENDAR)
        .longest(8_192),
    Target::new("rules", || seeds(RULES), |_| Box::new(|input| read_calendar(&in_event(&text(input)))))
        .words(RECURRENCE)
        .longest(300),
    Target::new("calendars_written", || seeds(&["A\nB\\,;é\n\"x\":y\r\n 7"]), |_| Box::new(write_calendar))
        .longest(400),
    Target::new("elements", element_seeds, |_| Box::new(read_elements))
        .code(&[
            include_str!("../../../src/physics/orbit/elements/message.rs"),
            include_str!("../../../src/physics/orbit/elements/omm_xml.rs"),
            include_str!("../../../src/physics/orbit/elements/omm_kvn.rs"),
        ])
        .longest(8_192),
];

const COORDINATES: &[&str] = &[
    "42.5,1.5",
    "42,5 1,5",
    "N42.5 E1.5",
    "42°30'15.5\"N 1°30'E",
    "42 30 15.5 N, 1 30 0 E",
    "geo:42.5,1.5;u=10",
    "-42.5;-1.5",
];
const TIMES: &[&str] = &["2026-07-01T14:00", "2026-07-01", "2026-07-01T16:00+02:00", "2026-07-01 14:00:30Z"];
const VALUES: &[&str] = &["200m", "1.5 km", "42.4,1.4,42.7,1.8", "0.5", "link.slot_s=30", "vehicle.lane=right"];
const RULES: &[&str] = &[
    "FREQ=WEEKLY;BYDAY=MO,-1SU;COUNT=9",
    "FREQ=YEARLY;BYMONTH=2;BYMONTHDAY=-1;UNTIL=20300101T000000Z",
    "FREQ=MONTHLY;BYSETPOS=-1;BYDAY=MO,TU;INTERVAL=2;WKST=SU",
    "FREQ=HOURLY;BYHOUR=8;BYMINUTE=0,30",
];
const RECURRENCE: &[&str] = &[
    "FREQ=",
    "DAILY",
    "WEEKLY",
    "MONTHLY",
    "YEARLY",
    "HOURLY",
    "MINUTELY",
    "SECONDLY",
    "BYDAY=",
    "BYMONTH=",
    "BYMONTHDAY=",
    "BYYEARDAY=",
    "BYWEEKNO=",
    "BYHOUR=",
    "BYMINUTE=",
    "BYSECOND=",
    "BYSETPOS=",
    "BYEASTER=",
    "COUNT=",
    "INTERVAL=",
    "WKST=",
    "UNTIL=",
    "MO",
    "-1SU",
    "+53FR",
    ";",
    ",",
    "20260601T100000Z",
    "-366",
    "RSCALE=GREGORIAN",
    "SKIP=OMIT",
    "\nEXDATE:20260608T100000Z",
    "\nRDATE:20260609T100000Z",
];
const ICALENDAR: &[&str] = &[
    "BEGIN:VEVENT",
    "END:VEVENT",
    "BEGIN:VTIMEZONE",
    "END:VTIMEZONE",
    "BEGIN:STANDARD",
    "END:STANDARD",
    "BEGIN:DAYLIGHT",
    "END:DAYLIGHT",
    "TZID:Own",
    ";TZID=Own:",
    ";TZID=W. Europe Standard Time:",
    "TZOFFSETFROM:+0100",
    "TZOFFSETTO:-0930",
    "DTSTART",
    "DTEND",
    "DURATION:P1W",
    "DURATION:-PT5M",
    ";VALUE=DATE:",
    "RECURRENCE-ID",
    ";RANGE=THISANDFUTURE",
    "EXDATE",
    "RDATE",
    ";VALUE=PERIOD:",
    "20260601T100000/PT1H",
    "RRULE:FREQ=DAILY;COUNT=3",
    "STATUS:CANCELLED",
    "SEQUENCE:2",
    "SUMMARY",
    "UID:1",
    "X-WR-TIMEZONE:Europe/Madrid",
    "\r\n ",
    "\n\t",
    "GEO:42.5;1.5",
    "LOCATION",
    "CATEGORIES:A,B",
    "TRANSP:TRANSPARENT",
    "00010101T000000",
    "99991231T235959Z",
    "=QUOTED-PRINTABLE:",
];

fn all(read: &[Result<(), String>]) -> Outcome {
    read.iter().map(outcome).collect()
}

fn read_units(text: &str) -> Outcome {
    let length = units::length_m(text, 0.0..=30.0);
    assert!(length.is_ok_and(|r| (0.0..=30.0).contains(&r.value)) || length.is_err());
    let count = units::count(text, 1.0..=20.0);
    assert!(count.is_ok_and(|r| (1.0..=20.0).contains(&r.value)) || count.is_err());
    let (height, speed) = (units::maxheight_m(text, 1.0..=30.0), units::speed(text));
    let shape = |said: String| said.chars().filter(char::is_ascii_alphabetic).take(20).collect::<String>();
    [format!("{length:?}"), format!("{height:?}"), format!("{speed:?}"), format!("{count:?}")].map(shape).concat()
}

fn read_coordinates(text: &str) -> Outcome {
    let read = coordinates::read(text);
    if let Ok(Some(found)) = read {
        assert!(found.lat_deg.abs() <= 90.0 && found.lon_deg.abs() <= 360.0, "{found:?}");
        // As letters and as numbers it is the same place.
        for plain in [
            format!("{:.12},{:.12}", found.lat_deg, found.lon_deg),
            format!(
                "{}{:.12} {}{:.12}",
                if found.lon_deg < 0.0 { 'W' } else { 'E' },
                found.lon_deg.abs(),
                if found.lat_deg < 0.0 { 'S' } else { 'N' },
                found.lat_deg.abs()
            ),
        ] {
            let back = coordinates::read(&plain).ok().flatten();
            let same = back
                .is_some_and(|b| (b.lat_deg - found.lat_deg).abs() < 1e-9 && (b.lon_deg - found.lon_deg).abs() < 1e-9);
            assert!(same, "{found:?} as {plain} came back as {back:?}");
        }
        return format!("{} {}", found.lettered, found.lat_deg < 0.0);
    }
    outcome(&read)
}

fn calendar_seeds() -> Vec<Vec<u8>> {
    let own_zone = "BEGIN:VCALENDAR\nBEGIN:VTIMEZONE\nTZID:Own\nBEGIN:STANDARD\nDTSTART:19701025T030000\nRRULE:FREQ=YEARLY;BYDAY=-1SU;BYMONTH=10\n\
        TZOFFSETFROM:+0200\nTZOFFSETTO:+0100\nEND:STANDARD\nBEGIN:DAYLIGHT\nDTSTART:19700329T020000\nRRULE:FREQ=YEARLY;BYDAY=-1SU;BYMONTH=3\n\
        TZOFFSETFROM:+0100\nTZOFFSETTO:+0200\nEND:DAYLIGHT\nEND:VTIMEZONE\nBEGIN:VEVENT\nUID:1\nDTSTART;TZID=Own:20260601T100000\nDURATION:PT1H\n\
        RRULE:FREQ=WEEKLY\nEXDATE;TZID=Own:20260608T100000\nSUMMARY:Own\nEND:VEVENT\nBEGIN:VEVENT\nUID:1\nRECURRENCE-ID;TZID=Own:20260615T100000\n\
        DTSTART;TZID=Own:20260616T100000\nEND:VEVENT\nBEGIN:VEVENT\nUID:2\nDTSTART;VALUE=DATE:20260615\nEND:VEVENT\nEND:VCALENDAR\n";
    [sample("varrow-meetings.ics")].into_iter().chain(seeds(&[own_zone])).collect()
}

fn in_event(rule: &str) -> String {
    format!("BEGIN:VCALENDAR\nBEGIN:VEVENT\nUID:1\nDTSTART:20260601T100000Z\nRRULE:{rule}\nEND:VEVENT\nEND:VCALENDAR\n")
}

fn read_calendar(text: &str) -> Outcome {
    let read = calendar::read(text);
    let mut came = outcome(&read);
    if let Ok(calendar) = read {
        let (from, to) = (time("2026-06-15T00:00:00Z"), time("2026-06-18T00:00:00Z"));
        let found = calendar.between(from, to, &TimeZone::UTC);
        for complaint in &found.complaints {
            says(&complaint.fact);
            came += &outcome::<(), _>(&Err(&complaint.fact));
        }
        for meeting in &found.meetings {
            assert!(meeting.end >= meeting.start, "{meeting:?}");
            assert!(meeting.start.timestamp() < to && meeting.end.timestamp() >= from, "{meeting:?}");
        }
        came += &format!(
            "{} {} {}",
            found.meetings.len().min(4),
            found.all_day.len().min(3),
            calendar.starts(&TimeZone::UTC).count().min(4)
        );
    }
    came
}

/// What is written comes back.
fn write_calendar(input: &[u8]) -> Outcome {
    let lossy = text(input);
    let mut parts = lossy.splitn(3, '\u{1f}').map(|part| part.trim().to_owned());
    let mut part = || parts.next().unwrap_or_default();
    let start = time("2026-06-15T08:00:00Z");
    let length_s = 60 * (i64::from(input.first().copied().unwrap_or(0)) + 1);
    let planned = Planned {
        uid: "one".to_owned(),
        summary: part(),
        description: Some(part()),
        location: Some(part()),
        start,
        end: start + jiff::SignedDuration::from_secs(length_s),
        ..Planned::default()
    };
    let written = calendar::write(std::slice::from_ref(&planned), start);
    assert!(written.lines().all(|line| line.len() <= 75), "{written}");
    let calendar = calendar::read(&written).expect("what was written is read");
    let found = calendar.between(start, planned.end, &TimeZone::UTC);
    assert!(found.complaints.is_empty() && found.meetings.len() == 1, "{found:?}\n{written}");
    let meeting = &found.meetings[0];
    assert_eq!((meeting.start.timestamp(), meeting.end.timestamp()), (planned.start, planned.end));
    // What a calendar cannot hold may be lost: control characters, and which space it was.
    let kept = |text: &str| text.chars().filter(|c| !c.is_control() && !c.is_whitespace()).collect::<String>();
    assert_eq!(kept(&meeting.details.summary), kept(&planned.summary), "{written}");
    String::new()
}

fn element_seeds() -> Vec<Vec<u8>> {
    let sets = Pattern::new(560.0, 53.0, 1, 2).elements(44_713, time("2026-06-30T01:02:03.25Z"));
    let messages: Vec<Fields> = sets.iter().map(fields).collect();
    let files = [
        json(&messages, false),
        json(&messages, true),
        xml(&messages),
        kvn(&messages),
        csv(&messages),
        two_line_file(&sets),
    ];
    files.into_iter().map(String::into_bytes).collect()
}

fn read_elements(input: &[u8]) -> Outcome {
    match elements::read(input) {
        Ok(sets) => {
            let came = format!("{:?} {} {:?}", sets.format, sets.objects.len().min(3), sets.defects);
            let now: Timestamp = time("2026-07-01T00:00:00Z");
            for set in sets.objects {
                let _ = Satellite::new(set).map(|s| s.earth_fixed(now));
            }
            came.chars().filter(|c| !c.is_ascii_digit()).take(300).collect()
        }
        Err(refusal) => outcome::<(), _>(&Err(refusal.fact)),
    }
}
