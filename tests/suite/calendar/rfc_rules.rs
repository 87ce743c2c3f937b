//! Every example of RFC 5545 section 3.8.5.3, with the dates it lists, in its own notation.
//!
//! Erratum 3883 (RFC Editor, verified): "every 3 hours from 9:00 AM to 5:00 PM" lists 15:00, which its UNTIL of 17:00 UTC
//! (13:00 EDT) excludes; 21:00 UTC is meant. Both are tested. The examples give New York's zone by name only.
use crate::calendar::kit::{found, shown};

/// Start, rules that mean the same, and the dates listed; `...` where the list goes on.
const EXAMPLES: &[(&str, &[&str], &str)] = &[
    ("19970902", &["FREQ=DAILY;COUNT=10"], "1997 EDT Sep 2-11"),
    (
        "19970902",
        &["FREQ=DAILY;UNTIL=19971224T000000Z"],
        "1997 EDT Sep 2-30; Oct 1-25 | 1997 EST Oct 26-31; Nov 1-30; Dec 1-23",
    ),
    (
        "19970902",
        &["FREQ=DAILY;INTERVAL=2"],
        "1997 EDT Sep 2,4,6,8,10,12,14,16,18,20,22,24,26,28,30; Oct 2,4,6,8,10,12,14,16,18,20,22,24 \
         | 1997 EST Oct 26,28,30; Nov 1,3,5,7,9,11,13,15,17,19,21,23,25,27,29; Dec 1,3 ...",
    ),
    ("19970902", &["FREQ=DAILY;INTERVAL=10;COUNT=5"], "1997 EDT Sep 2,12,22; Oct 2,12"),
    (
        "19980101",
        &[
            "FREQ=YEARLY;UNTIL=20000131T140000Z;BYMONTH=1;BYDAY=SU,MO,TU,WE,TH,FR,SA",
            "FREQ=DAILY;UNTIL=20000131T140000Z;BYMONTH=1",
        ],
        "1998 EST Jan 1-31 | 1999 EST Jan 1-31 | 2000 EST Jan 1-31",
    ),
    ("19970902", &["FREQ=WEEKLY;COUNT=10"], "1997 EDT Sep 2,9,16,23,30; Oct 7,14,21 | 1997 EST Oct 28; Nov 4"),
    (
        "19970902",
        &["FREQ=WEEKLY;UNTIL=19971224T000000Z"],
        "1997 EDT Sep 2,9,16,23,30; Oct 7,14,21 | 1997 EST Oct 28; Nov 4,11,18,25; Dec 2,9,16,23",
    ),
    (
        "19970902",
        &["FREQ=WEEKLY;INTERVAL=2;WKST=SU"],
        "1997 EDT Sep 2,16,30; Oct 14 | 1997 EST Oct 28; Nov 11,25; Dec 9,23 | 1998 EST Jan 6,20; Feb 3,17 ...",
    ),
    (
        "19970902",
        &["FREQ=WEEKLY;UNTIL=19971007T000000Z;WKST=SU;BYDAY=TU,TH", "FREQ=WEEKLY;COUNT=10;WKST=SU;BYDAY=TU,TH"],
        "1997 EDT Sep 2,4,9,11,16,18,23,25,30; Oct 2",
    ),
    (
        "19970901",
        &["FREQ=WEEKLY;INTERVAL=2;UNTIL=19971224T000000Z;WKST=SU;BYDAY=MO,WE,FR"],
        "1997 EDT Sep 1,3,5,15,17,19,29; Oct 1,3,13,15,17 | 1997 EST Oct 27,29,31; Nov 10,12,14,24,26,28; Dec 8,10,12,22",
    ),
    ("19970902", &["FREQ=WEEKLY;INTERVAL=2;COUNT=8;WKST=SU;BYDAY=TU,TH"], "1997 EDT Sep 2,4,16,18,30; Oct 2,14,16"),
    (
        "19970905",
        &["FREQ=MONTHLY;COUNT=10;BYDAY=1FR"],
        "1997 EDT Sep 5; Oct 3 | 1997 EST Nov 7; Dec 5 | 1998 EST Jan 2; Feb 6; Mar 6; Apr 3 | 1998 EDT May 1; Jun 5",
    ),
    ("19970905", &["FREQ=MONTHLY;UNTIL=19971224T000000Z;BYDAY=1FR"], "1997 EDT Sep 5; Oct 3 | 1997 EST Nov 7; Dec 5"),
    (
        "19970907",
        &["FREQ=MONTHLY;INTERVAL=2;COUNT=10;BYDAY=1SU,-1SU"],
        "1997 EDT Sep 7,28 | 1997 EST Nov 2,30 | 1998 EST Jan 4,25; Mar 1,29 | 1998 EDT May 3,31",
    ),
    (
        "19970922",
        &["FREQ=MONTHLY;COUNT=6;BYDAY=-2MO"],
        "1997 EDT Sep 22; Oct 20 | 1997 EST Nov 17; Dec 22 | 1998 EST Jan 19; Feb 16",
    ),
    (
        "19970928",
        &["FREQ=MONTHLY;BYMONTHDAY=-3"],
        "1997 EDT Sep 28 | 1997 EST Oct 29; Nov 28; Dec 29 | 1998 EST Jan 29; Feb 26 ...",
    ),
    (
        "19970902",
        &["FREQ=MONTHLY;COUNT=10;BYMONTHDAY=2,15"],
        "1997 EDT Sep 2,15; Oct 2,15 | 1997 EST Nov 2,15; Dec 2,15 | 1998 EST Jan 2,15",
    ),
    (
        "19970930",
        &["FREQ=MONTHLY;COUNT=10;BYMONTHDAY=1,-1"],
        "1997 EDT Sep 30; Oct 1 | 1997 EST Oct 31; Nov 1,30; Dec 1,31 | 1998 EST Jan 1,31; Feb 1",
    ),
    (
        "19970910",
        &["FREQ=MONTHLY;INTERVAL=18;COUNT=10;BYMONTHDAY=10,11,12,13,14,15"],
        "1997 EDT Sep 10,11,12,13,14,15 | 1999 EST Mar 10,11,12,13",
    ),
    (
        "19970902",
        &["FREQ=MONTHLY;INTERVAL=2;BYDAY=TU"],
        "1997 EDT Sep 2,9,16,23,30 | 1997 EST Nov 4,11,18,25 | 1998 EST Jan 6,13,20,27; Mar 3,10,17,24,31 ...",
    ),
    (
        "19970610",
        &["FREQ=YEARLY;COUNT=10;BYMONTH=6,7"],
        "1997 EDT Jun 10; Jul 10 | 1998 EDT Jun 10; Jul 10 | 1999 EDT Jun 10; Jul 10 | 2000 EDT Jun 10; Jul 10 \
         | 2001 EDT Jun 10; Jul 10",
    ),
    (
        "19970310",
        &["FREQ=YEARLY;INTERVAL=2;COUNT=10;BYMONTH=1,2,3"],
        "1997 EST Mar 10 | 1999 EST Jan 10; Feb 10; Mar 10 | 2001 EST Jan 10; Feb 10; Mar 10 \
         | 2003 EST Jan 10; Feb 10; Mar 10",
    ),
    (
        "19970101",
        &["FREQ=YEARLY;INTERVAL=3;COUNT=10;BYYEARDAY=1,100,200"],
        "1997 EST Jan 1 | 1997 EDT Apr 10; Jul 19 | 2000 EST Jan 1 | 2000 EDT Apr 9; Jul 18 | 2003 EST Jan 1 \
         | 2003 EDT Apr 10; Jul 19 | 2006 EST Jan 1",
    ),
    ("19970519", &["FREQ=YEARLY;BYDAY=20MO"], "1997 EDT May 19 | 1998 EDT May 18 | 1999 EDT May 17 ..."),
    ("19970512", &["FREQ=YEARLY;BYWEEKNO=20;BYDAY=MO"], "1997 EDT May 12 | 1998 EDT May 11 | 1999 EDT May 17 ..."),
    (
        "19970313",
        &["FREQ=YEARLY;BYMONTH=3;BYDAY=TH"],
        "1997 EST Mar 13,20,27 | 1998 EST Mar 5,12,19,26 | 1999 EST Mar 4,11,18,25 ...",
    ),
    (
        "19970605",
        &["FREQ=YEARLY;BYDAY=TH;BYMONTH=6,7,8"],
        "1997 EDT Jun 5,12,19,26; Jul 3,10,17,24,31; Aug 7,14,21,28 \
         | 1998 EDT Jun 4,11,18,25; Jul 2,9,16,23,30; Aug 6,13,20,27 \
         | 1999 EDT Jun 3,10,17,24; Jul 1,8,15,22,29; Aug 5,12,19,26 ...",
    ),
    (
        "19970913",
        &["FREQ=MONTHLY;BYDAY=SA;BYMONTHDAY=7,8,9,10,11,12,13"],
        "1997 EDT Sep 13; Oct 11 | 1997 EST Nov 8; Dec 13 | 1998 EST Jan 10; Feb 7; Mar 7 | 1998 EDT Apr 11; May 9; Jun 13 ...",
    ),
    (
        "19961105",
        &["FREQ=YEARLY;INTERVAL=4;BYMONTH=11;BYDAY=TU;BYMONTHDAY=2,3,4,5,6,7,8"],
        "1996 EST Nov 5 | 2000 EST Nov 7 | 2004 EST Nov 2 ...",
    ),
    ("19970904", &["FREQ=MONTHLY;COUNT=3;BYDAY=TU,WE,TH;BYSETPOS=3"], "1997 EDT Sep 4; Oct 7 | 1997 EST Nov 6"),
    (
        "19970929",
        &["FREQ=MONTHLY;BYDAY=MO,TU,WE,TH,FR;BYSETPOS=-2"],
        "1997 EDT Sep 29 | 1997 EST Oct 30; Nov 27; Dec 30 | 1998 EST Jan 29; Feb 26; Mar 30 ...",
    ),
    ("19970805", &["FREQ=WEEKLY;INTERVAL=2;COUNT=4;BYDAY=TU,SU;WKST=MO"], "1997 EDT Aug 5,10,19,24"),
    ("19970805", &["FREQ=WEEKLY;INTERVAL=2;COUNT=4;BYDAY=TU,SU;WKST=SU"], "1997 EDT Aug 5,17,19,31"),
    (
        "20070115",
        &["FREQ=MONTHLY;BYMONTHDAY=15,30;COUNT=5"],
        "2007 EST Jan 15,30 | 2007 EST Feb 15 | 2007 EDT Mar 15,30",
    ),
];

const MONTHS: [&str; 12] = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];

/// Dates of a list in the notation of the standard, at nine in the morning.
fn listed(list: &str) -> Vec<String> {
    let mut out = Vec::new();
    for part in list.trim_end_matches('.').split('|') {
        let (head, months) = part.trim().split_at(8);
        let (year, zone) = head.split_once(' ').unwrap();
        let offset = if zone.trim() == "EDT" { "-0400" } else { "-0500" };
        for month in months.split(';') {
            let (name, days) = month.trim().split_once(' ').unwrap();
            let month = MONTHS.iter().position(|m| *m == name).unwrap() + 1;
            for days in days.trim().split(',') {
                let (first, last) = days.split_once('-').unwrap_or((days, days));
                let days = first.parse::<u8>().unwrap()..=last.parse().unwrap();
                out.extend(days.map(|day| format!("{year}-{month:02}-{day:02} 09:00 {offset}")));
            }
        }
    }
    out
}

/// Starts of a New York event in the years the examples are of.
fn starts(start: &str, more: &str) -> Vec<String> {
    let body = format!("DTSTART;TZID=America/New_York:{start}\n{more}");
    let found = found(&body, "1990-01-01T00:00Z", "2010-01-01T00:00Z");
    assert!(found.complaints.is_empty(), "{:?}", found.complaints);
    found.meetings.iter().map(|m| shown(&m.start)).collect()
}

#[test]
fn every_dated_example_gives_the_dates_the_standard_lists() {
    for (start, rules, list) in EXAMPLES {
        let want = listed(list);
        for rule in *rules {
            let got = starts(&format!("{start}T090000"), &format!("RRULE:{rule}"));
            let open = list.ends_with("...");
            assert!(open || got.len() == want.len(), "{rule}: {} of {}", got.len(), want.len());
            assert_eq!(got.iter().take(want.len()).collect::<Vec<_>>(), want.iter().collect::<Vec<_>>(), "{rule}");
        }
    }
}

#[test]
fn friday_the_thirteenth_leaves_out_its_own_start() {
    let more = "EXDATE;TZID=America/New_York:19970902T090000\nRRULE:FREQ=MONTHLY;BYDAY=FR;BYMONTHDAY=13";
    let want = listed("1998 EST Feb 13; Mar 13; Nov 13 | 1999 EDT Aug 13 | 2000 EDT Oct 13 ...");
    assert_eq!(starts("19970902T090000", more)[..want.len()], want);
}

#[test]
fn times_of_one_day() {
    let at = |times: &[&str]| times.iter().map(|t| format!("1997-09-02 {t} -0400")).collect::<Vec<_>>();
    for (rule, want) in [
        ("FREQ=HOURLY;INTERVAL=3;UNTIL=19970902T210000Z", &["09:00", "12:00", "15:00"][..]),
        ("FREQ=HOURLY;INTERVAL=3;UNTIL=19970902T170000Z", &["09:00", "12:00"]),
        ("FREQ=MINUTELY;INTERVAL=15;COUNT=6", &["09:00", "09:15", "09:30", "09:45", "10:00", "10:15"]),
        ("FREQ=MINUTELY;INTERVAL=90;COUNT=4", &["09:00", "10:30", "12:00", "13:30"]),
    ] {
        assert_eq!(starts("19970902T090000", &format!("RRULE:{rule}")), at(want), "{rule}");
    }
}

#[test]
fn every_twenty_minutes_of_the_working_day() {
    let hours = (9..=16).flat_map(|h| [0, 20, 40].map(|m| format!("{h:02}:{m:02} -0400")));
    let day = |day: u8| hours.clone().map(move |t| format!("1997-09-{day:02} {t}"));
    let want: Vec<String> = day(2).chain(day(3)).collect();
    for rule in [
        "FREQ=DAILY;BYHOUR=9,10,11,12,13,14,15,16;BYMINUTE=0,20,40",
        "FREQ=MINUTELY;INTERVAL=20;BYHOUR=9,10,11,12,13,14,15,16",
    ] {
        let body = format!("DTSTART;TZID=America/New_York:19970902T090000\nRRULE:{rule}");
        let found = found(&body, "1997-09-02T00:00Z", "1997-09-04T00:00Z");
        assert_eq!(crate::calendar::kit::starts(&found), want, "{rule}");
    }
}
