//! iCalendar (RFC 5545): the text of a file to the meetings of a day, and events to text.
mod found;

pub use found::{AllDay, Clock, Complaint, Details, Found, Occurrence};
