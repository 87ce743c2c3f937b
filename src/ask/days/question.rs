//! What a trip is planned from.
use jiff::Timestamp;
use jiff::tz::TimeZone;

use crate::ask::matching::MatchOptions;
use crate::ask::settings::Settings;
use crate::ask::track::Track;
use crate::base::words::HowTold;
use crate::calendar::Calendar;

/// A trip to be planned.
#[derive(Debug, Clone)]
pub struct PlanQuestion {
    /// The track of all days.
    pub track: Track,
    /// How it becomes roads.
    pub road: PlanRoad,
    /// When each day begins; none where the track's own times tell.
    pub departs: Vec<Timestamp>,
    /// Zone of the traveller.
    pub zone: TimeZone,
    /// Calendars with meetings.
    pub calendars: Vec<NamedCalendar>,
    /// What the traveller said in a trip file.
    pub settings: Settings,
    /// How the traveller is told figures.
    pub shown: HowTold,
}

/// A calendar and what to call it.
#[derive(Debug, Clone)]
pub struct NamedCalendar {
    /// Its file, as typed.
    pub name: String,
    /// What it holds.
    pub calendar: Calendar,
}

/// How a track becomes roads.
#[derive(Debug, Clone, PartialEq)]
pub enum PlanRoad {
    /// It was or will be driven: its points are matched.
    Driven(MatchOptions),
    /// Its points are places to go through: `fastest`, `steadiest` or the number of a way between them.
    Way(String),
}
