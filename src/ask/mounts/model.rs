//! What is asked of the layers of several mounts, and what is answered.
use serde::Serialize;

use crate::ask::days::PlanQuestion;
use crate::ask::plan::{Held, Stamp};
use crate::ask::trip::MeetingLeftOut;
use crate::base::words::{HowTold, PerRating};
use crate::profile::Profile;

/// What is asked of several layers.
#[derive(Debug, Clone)]
pub struct MountsQuestion {
    /// What the trip is called.
    pub title: String,
    /// The trip, planned with each layer.
    pub plan: PlanQuestion,
}

/// How a trip fares with each mount.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MountsAnswer {
    /// What the trip is called.
    pub title: String,
    /// Zone of the traveller, as written.
    pub zone: String,
    /// The mounts, as their layers were given.
    pub mounts: Vec<MountAnswer>,
    /// What the reader should know before comparing them.
    pub notes: Vec<String>,
    /// How people are told it; not what programs get.
    #[serde(skip)]
    pub shown: HowTold,
}

/// How a trip fares with one mount.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MountAnswer {
    /// Its place among the layers, from 1.
    pub number: usize,
    /// The layer's file, as typed.
    pub layer: String,
    /// Name of the preset whose panel stands there; `own` where no preset has it.
    pub name: &'static str,
    /// Where the panel is, in words.
    pub place: String,
    /// Height of the panel above the road, metres.
    pub antenna_height_m: f64,
    /// The panel is on a stand: it is packed while driving, and there is no link then.
    pub on_stand: bool,
    /// Number of the mount before it whose assumptions are all the same, if any.
    pub same_as: Option<usize>,
    /// Figures of all days.
    pub whole: MountFigures,
    /// Its days.
    pub days: Vec<MountDay>,
    /// Profile in force.
    #[serde(skip)]
    pub profile: Profile,
}

/// Figures of a day or of all days with a mount.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct MountFigures {
    /// Kilometres driven.
    pub length_km: f64,
    /// Seconds at the wheel.
    pub driving_s: f64,
    /// Expected seconds without a link while driving; all of them with a panel on a stand.
    pub outage_s: f64,
    /// The same with what is assumed about the roadside at the favourable end of its range.
    pub outage_best_s: f64,
    /// The same at the unfavourable end; it may be more where `unknown_m` is above 0.
    pub outage_worst_s: f64,
    /// Metres of track off the layer's roads whose ends no road joins.
    pub unmatched_m: f64,
    /// Metres along which some cause could not be known.
    pub unknown_m: f64,
    /// Outages to expect; nothing with a panel on a stand.
    pub outages: Option<usize>,
    /// 95th percentile over simulated drives of the longest of them, seconds.
    pub longest_p95_s: Option<f64>,
    /// Metres by rating, steady first; nothing with a panel on a stand.
    pub metres_by_rating: Option<PerRating<f64>>,
    /// Meetings.
    pub meetings: usize,
    /// Of these, how many are expected to be interrupted: the sum of their risks, as far as those are known.
    pub interrupted: f64,
    /// Of these, those whose risk is not known.
    pub risks_not_known: usize,
}

/// A day with a mount.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MountDay {
    /// Departure.
    pub depart: Stamp,
    /// Arrival.
    pub arrive: Stamp,
    /// Minutes it leaves later than asked; negative for earlier.
    pub shift_min: f64,
    /// Stops on the way.
    pub stops: usize,
    /// The rules of driving are kept; where no day keeps them this one breaks them, and must not be driven so.
    pub rules_kept: bool,
    /// Its figures.
    pub figures: MountFigures,
    /// Meetings, in order of start.
    pub meetings: Vec<MountMeeting>,
    /// What the calendars hold besides them.
    pub meetings_left_out: Vec<MeetingLeftOut>,
    /// What the traveller should know besides.
    pub notes: Vec<String>,
}

/// A meeting with a mount.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MountMeeting {
    /// How it is best held.
    pub best: Held,
    /// How it is held on the day as asked for: the departure asked for and no stop for a meeting, whatever the mount. Ranked by fewer
    /// drives than `best`, without its range. Nothing where that day cannot be driven.
    pub as_asked: Option<Held>,
}
