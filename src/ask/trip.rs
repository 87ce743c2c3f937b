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
