//! A trip: what a layer says about driving it day by day, and the plan of each day.
use super::search::{TownNear, in_words};
use super::{corridor, plan, settings, source, stops};
use crate::base::words::{HowTold, Roofed, StopKind};
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
    /// Where the night after it is spent, and what is better near there.
    pub night: Option<Night>,
    /// What the calendars hold besides the meetings of the plan; what concerns no day stands at the first.
    pub meetings_left_out: Vec<MeetingLeftOut>,
}

/// Where a day ends, and the places for the night near there.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
pub struct Night {
    /// Where the road of the day ends, degrees.
    pub lat_deg: f64,
    /// See `lat_deg`.
    pub lon_deg: f64,
    /// The place of the map there, if any.
    pub place: Option<NightPlace>,
    /// The share of open sky at the panel is below what the traveller asks of a night, or not known.
    pub poor: bool,
    /// Meetings of the evening and of the next morning that the plan holds there.
    pub meetings: Vec<NightMeeting>,
    /// Of how many places it was chosen, where the traveller named none.
    pub chosen_of: Option<usize>,
    /// Where it is poor, clearer places near it: nearest first, each clearer than all before.
    pub better: Vec<NightPlace>,
}

/// A place for the night.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
pub struct NightPlace {
    /// Row of the layer's `stops`.
    pub stop_id: i64,
    /// Name, or its kind.
    pub name: String,
    /// Kind.
    pub kind: StopKind,
    /// Where it lies, by the place that people know it by; nothing where none is near.
    #[serde(serialize_with = "in_words")]
    pub town: Option<TownNear>,
    /// Where the vehicle stands, degrees.
    pub lat_deg: f64,
    /// See `lat_deg`.
    pub lon_deg: f64,
    /// What is known of a roof.
    pub roof: Roofed,
    /// Open share on the vehicle.
    pub open_share: f64,
    /// Best place for the panel within reach: distance, metres.
    pub best_m: f64,
    /// Its bearing from the vehicle, degrees clockwise from true north.
    pub best_bearing_deg: f64,
    /// Open share there.
    pub best_open_share: f64,
    /// From where the day ends, straight, metres.
    pub straight_m: f64,
    /// What driving there costs; nothing for the place where the day ends, and where no way by road is known.
    pub drive: Option<NightDrive>,
    /// The same meetings, as they would be held there; none for the place where the day ends.
    pub meetings: Vec<NightMeeting>,
}

/// The way from the end of a day to a place for the night.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize)]
pub struct NightDrive {
    /// Length, kilometres.
    pub length_km: f64,
    /// Driving time, minutes.
    pub time_min: f64,
}

/// A meeting held where the night is spent.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
pub struct NightMeeting {
    /// Its name.
    pub name: String,
    /// In the next morning; else in the evening.
    pub morning: bool,
    /// Probability of an outage that its kind does not tolerate; nothing where that is not known.
    pub risk: Option<f64>,
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
    /// How people are told it; not what programs get.
    #[serde(skip)]
    pub shown: HowTold,
}
