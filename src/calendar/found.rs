//! What a span of time holds: meetings, days marked, and what could not be read.
use std::fmt;

use jiff::Zoned;
use jiff::civil::Date;

use super::written::AsWritten;

/// How the file gives a time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Clock {
    /// In UTC.
    Utc,
    /// In a time zone that the file names.
    Zone,
    /// Without a zone: the wall clock of wherever the traveller is then.
    Floating,
}

impl Clock {
    /// One word for tables.
    pub fn name(self) -> &'static str {
        match self {
            Self::Utc => "utc",
            Self::Zone => "zone",
            Self::Floating => "floating",
        }
    }
}

/// What one meeting says about itself, whenever it is held.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Details {
    /// Identity of the event (UID); all meetings of a recurring one share it.
    pub uid: String,
    /// Title; empty where the file has none.
    pub summary: String,
    /// Where it is held.
    pub location: Option<String>,
    /// Categories, in the order of the file, as written there.
    pub categories: Vec<String>,
    /// Addresses and names of those invited and of who invites, as written there.
    pub people: Vec<String>,
    /// `STATUS:TENTATIVE`.
    pub tentative: bool,
    /// `TRANSP:TRANSPARENT`: takes no time from the calendar's owner.
    pub transparent: bool,
}

/// One meeting: an event, or one instance of a recurring one.
#[derive(Debug, Clone, PartialEq)]
pub struct Occurrence {
    /// What it is.
    pub details: Details,
    /// Its start, in the zone of the event (floating: of the traveller).
    pub start: Zoned,
    /// Its end; the start again where the file gives neither end nor duration.
    pub end: Zoned,
    /// How the file gives the start.
    pub clock: Clock,
    /// One of several instances of a recurring event.
    pub recurring: bool,
}

impl Occurrence {
    /// Length, seconds.
    pub fn length_s(&self) -> i64 {
        self.end.timestamp().as_second() - self.start.timestamp().as_second()
    }
}

/// The first start of a meeting.
#[derive(Debug, Clone, PartialEq)]
pub struct FirstStart<'c> {
    /// What it is.
    pub details: &'c Details,
    /// When, in the zone of the event (floating: of the traveller).
    pub start: Zoned,
    /// It has further dates.
    pub recurs: bool,
    /// Line of the file where it begins.
    pub line: usize,
}

/// Days marked as a whole, such as a holiday: no meeting.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AllDay {
    /// What it is.
    pub details: Details,
    /// First day.
    pub first: Date,
    /// Last day, itself included.
    pub last: Date,
}

/// Something in the file that was not understood, or not done as written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Complaint {
    /// Line of the file where the event or the property begins, from 1.
    pub line: usize,
    /// UID of the event concerned, where there is one.
    pub uid: Option<String>,
    /// Title of the event concerned; empty where there is none.
    pub summary: String,
    /// When the event concerned begins, as written; nothing where there is none.
    pub when: Option<AsWritten>,
    /// What was found, and what was done about it.
    pub fact: String,
    /// A meeting, or some instances of one, may be missing from the answer.
    pub lost: bool,
}

impl fmt::Display for Complaint {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "line {}", self.line)?;
        if !self.summary.is_empty() {
            write!(f, " ({})", self.summary)?;
        }
        write!(f, ": {}", self.fact)
    }
}

/// What a span of time holds.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct EventsFound {
    /// Meetings that touch the span, by start, then end, then title.
    pub meetings: Vec<Occurrence>,
    /// Days marked as a whole that touch the span, by first day.
    pub all_day: Vec<AllDay>,
    /// Meetings of the span that are cancelled, and left out.
    pub cancelled: usize,
    /// What was not understood, in the whole file and in expanding this span.
    pub complaints: Vec<Complaint>,
    /// Rules that were followed without coming to their end.
    pub(super) given_up: usize,
}
