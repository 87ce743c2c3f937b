//! Events written and read back.
use jiff::tz::TimeZone;
use proptest::prelude::*;
use waymask::calendar::{Planned, read, write};

fn stop() -> Planned {
    Planned {
        uid: "stop-1@waymask".into(),
        summary:
            "Stop: Pellhaven, quay; \\ \"north\" side, where the panel sees the whole of the sky it can use – größer"
                .into(),
        description: Some("Hold the call here.\r\nThe passenger operates this, never the driver.\n".into()),
        location: Some("Pellhaven".into()),
        place_deg: Some((46.97542, -28.03299)),
        categories: vec!["stop".into(), "two, words".into()],
        start: "2026-06-15T10:00:00Z".parse().unwrap(),
        end: "2026-06-15T10:30:00Z".parse().unwrap(),
        busy: true,
    }
}

#[test]
fn what_is_written_is_read_back() {
    let drive = Planned { uid: "d".into(), start: stop().end, end: stop().end, ..Planned::default() };
    let text = write(&[stop(), drive], "2026-06-01T00:00:00Z".parse().unwrap());
    let found = read(&text).unwrap().between(stop().start, "2026-06-16T00:00Z".parse().unwrap(), &TimeZone::UTC);
    assert!(found.complaints.is_empty(), "{:?}", found.complaints);
    let [first, second] = &found.meetings[..] else { panic!("{found:?}") };
    assert_eq!(first.details.summary, stop().summary);
    assert_eq!((first.start.timestamp(), first.end.timestamp()), (stop().start, stop().end));
    assert_eq!((&first.details.categories, first.details.transparent), (&stop().categories, false));
    assert!(second.details.transparent && second.length_s() == 0);
    assert!(text.contains("GEO:46.975420;-28.032990\r\n") && text.contains("DTSTAMP:20260601T000000Z\r\n"));
    // RFC 5545: a later revision counts more (3.8.7.4), an end is later than its start or left out (3.8.2.2).
    let revision = |text: &str| -> i64 {
        text.lines().find_map(|l| l.strip_prefix("SEQUENCE:")).and_then(|n| n.parse().ok()).unwrap()
    };
    let later = write(&[stop()], "2026-06-01T00:01:00Z".parse().unwrap());
    assert!((0..i64::from(i32::MAX)).contains(&revision(&text)) && revision(&later) > revision(&text), "{later}");
    assert_eq!((text.matches("DTEND:").count(), text.matches("DTSTART:").count()), (1, 2));
    if let Ok(path) = std::env::var("WAYMASK_ICS") {
        std::fs::write(path, &text).unwrap();
    }
}

proptest! {
    #[test]
    fn any_text_keeps_its_letters_and_no_line_is_longer_than_75_octets(title in "\\PC{0,200}", uid in "[a-z:;,]{1,9}") {
        let event = Planned { summary: title.clone(), uid, ..stop() };
        let text = write(&[event], stop().start);
        prop_assert!(text.split("\r\n").all(|line| line.len() <= 75));
        prop_assert!(!text.replace("\r\n", "").contains(['\r', '\n']));
        let found = read(&text).unwrap().between(stop().start, stop().end, &TimeZone::UTC);
        let want = if title.trim().is_empty() { "" } else { &title };
        prop_assert_eq!(&found.meetings[0].details.summary, want);
    }
}
