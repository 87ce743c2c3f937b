//! A trip: what a layer says about driving it day by day, and the plan of each day.
use super::{corridor, plan, settings, source, stops};
use crate::budget;

/// A day of a trip: what the layer says about its road, where one may stop, and the plan.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
pub struct TripDay {
    /// The road.
    pub corridor: corridor::Corridor,
    /// Places to stop along it, private ones too.
    pub stops: Vec<stops::StopNear>,
    /// The plan.
    pub plan: plan::Plan,
    /// What the calendars hold besides the meetings of the plan; what concerns no day stands at the first.
    pub meetings_left_out: Vec<MeetingLeftOut>,
}

/// Something of a calendar that is not among the meetings: it may be one.
#[derive(Debug, Clone, PartialEq, Eq, Hash, serde::Serialize)]
pub struct MeetingLeftOut {
    /// The calendar, as typed.
    pub calendar: String,
    /// Line where it stands; nothing where several are counted.
    pub line: Option<usize>,
    /// What it is called.
    pub name: String,
    /// When, as the file writes it where it could not be read.
    pub when: Option<String>,
    /// Why it is left out.
    pub why: String,
}

/// A whole trip.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
pub struct Trip {
    /// Zone of the traveller, as written.
    pub zone: String,
    /// Its days.
    pub days: Vec<TripDay>,
    /// What the traveller said.
    pub settings: settings::Settings,
    /// What the layer says about itself.
    pub source: source::Source,
    /// Data and energy, where the traveller said anything of them.
    pub spending: Option<budget::Budget>,
}
