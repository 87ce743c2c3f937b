//! Meetings and their risk.
use super::super::answer::clock_on;
use super::super::marks;
use super::table::{PageCell, PageTable};
use crate::ask::plan::{How, Itinerary};
use crate::report::plan::risk;
use crate::report::words::spoken;

/// How a meeting is held, in two words.
pub(in super::super) fn how(how: How) -> &'static str {
    match how {
        How::InMotion => "in motion",
        How::AtStop => "at a stop",
        How::BeforeTrip => "before leaving",
        How::AfterTrip => "after arriving",
        How::NotHeld => "not held",
        How::InParts => "in parts",
    }
}

/// The meetings of a day.
pub(in super::super) fn table(day: &Itinerary) -> PageTable {
    let mut table = PageTable::new(
        "Meetings, with the risk of an outage too long for their kind",
        &["time", "meeting", "how", "risk", "without a link"],
    );
    for (n, m) in day.meetings.iter().enumerate() {
        table.row(vec![
            PageCell::figure(format!("{} {}–{}", marks::meeting(n), clock_on(day, &m.start), clock_on(day, &m.end))),
            PageCell::name(if m.tentative { format!("{} (not yet confirmed)", m.name) } else { m.name.clone() }),
            PageCell::text(format!("{}, {}", m.kind.name(), how(m.how))),
            PageCell::text(risk(m)),
            PageCell::figure(m.outage_s.map_or("not known".to_owned(), spoken)),
        ]);
    }
    table
}
