//! Meetings and their risk.
use super::super::answer::clock_on;
use super::super::marks;
use super::table::{Cell, Table};
use crate::ask::plan::{How, Itinerary};
use crate::report::plan::percent;
use crate::report::spoken;

/// How a meeting is held, in two words.
pub(in super::super) fn how(how: How) -> &'static str {
    match how {
        How::InMotion => "in motion",
        How::AtStop => "at a stop",
        How::BeforeTrip => "before leaving",
        How::AfterTrip => "after arriving",
        How::InParts => "in parts",
    }
}

/// The meetings of a day.
pub(in super::super) fn table(day: &Itinerary) -> Table {
    let mut table = Table::new(
        "Meetings, with the risk of an outage too long for their kind",
        &["time", "meeting", "how", "risk", "without a link"],
    );
    for (n, m) in day.meetings.iter().enumerate() {
        table.row(vec![
            Cell::figure(format!("{} {}–{}", marks::meeting(n), clock_on(day, &m.start), clock_on(day, &m.end))),
            Cell::name(if m.tentative { format!("{} (not yet confirmed)", m.name) } else { m.name.clone() }),
            Cell::text(format!("{}, {}", m.kind.name(), how(m.how))),
            Cell::text(percent(m.risk)),
            Cell::figure(spoken(m.outage_s)),
        ]);
    }
    table
}
