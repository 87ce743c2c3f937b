//! What one does when.
use super::super::answer::{clock_on, why_words};
use super::super::marks;
use super::table::{PageCell, PageTable};
use crate::ask::plan::{Itinerary, Part};
use crate::report::words::{roof_words, spoken};

/// The parts of a day.
pub(in super::super) fn table(day: &Itinerary) -> PageTable {
    let mut table = PageTable::new("The day", &["from", "to", "what", "without a link"]);
    let mut stops = 0;
    for part in &day.parts {
        let (from, to, what, outage) = match part {
            Part::Drive { from, to, from_km, to_km, outage_s, .. } => {
                (from, to, format!("drive, km {from_km:.1} to {to_km:.1}"), spoken(*outage_s))
            }
            Part::Stop { from, to, place, why, meeting } => {
                table.strong.push(table.rows.len());
                stops += 1;
                let reason = why_words(*why, meeting.as_ref());
                let roof = roof_words(place.roof);
                (from, to, format!("stop {} at {}{roof}, {reason}", marks::stop(stops - 1), place.name), "–".into())
            }
        };
        table.row(vec![
            PageCell::figure(clock_on(day, from)),
            PageCell::figure(clock_on(day, to)),
            PageCell::name(what),
            PageCell::figure(outage),
        ]);
    }
    table
}
