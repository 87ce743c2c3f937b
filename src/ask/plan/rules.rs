//! Rules of the day: hours at the wheel, breaks, change of drivers, when to leave.
use jiff::civil::Time;
use serde::{Deserialize, Serialize};

use super::crew::Traveller;

/// Rules of driving.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Driving {
    /// People who drive.
    pub drivers: u8,
    /// Longest drive without a break, hours. Published: The Highway Code (Great Britain), rule 91, advises a break of at least 15
    /// minutes after every two hours.
    pub break_after_h: f64,
    /// Shortest break, minutes. Published: the same.
    pub break_min: f64,
    /// Longest drive of one driver before the next takes over, hours; with one driver it does not apply. Assumed.
    pub change_after_h: f64,
    /// Time a change of drivers takes, minutes. Assumed.
    pub change_min: f64,
    /// Most hours at the wheel in a day, all drivers together. Published: Regulation (EC) No 561/2006, article 6(1), has nine
    /// for one professional driver.
    pub day_h: f64,
    /// Nobody drives before this time of the day. Assumed.
    pub from: Time,
    /// Nobody drives after this time of the day. Assumed.
    pub to: Time,
    /// Speed where the track is off the layer's roads, km/h. Assumed.
    pub unmatched_kmh: f64,
    /// A day is planned only if no more than this share of the track is off the layer's roads. Assumed.
    pub most_unmatched: f64,
}

impl Default for Driving {
    fn default() -> Self {
        Self {
            drivers: 2,
            break_after_h: 2.0,
            break_min: 15.0,
            change_after_h: 2.0,
            change_min: 5.0,
            day_h: 9.0,
            from: Time::constant(6, 0, 0, 0),
            to: Time::constant(22, 0, 0, 0),
            unmatched_kmh: 30.0,
            most_unmatched: 0.2,
        }
    }
}

/// When the day may begin and has to end.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Departure {
    /// Most minutes before the time asked for.
    pub earlier_min: u32,
    /// Most minutes after it.
    pub later_min: u32,
    /// Steps between times tried, minutes.
    pub step_min: u32,
    /// Latest arrival, time of the day.
    pub arrive_by: Option<Time>,
}

impl Default for Departure {
    fn default() -> Self {
        Self { earlier_min: 60, later_min: 120, step_min: 5, arrive_by: None }
    }
}

/// Where and how one stops.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Stopping {
    /// Places this far from the road driven, metres.
    pub within_m: f64,
    /// The panel is put this far from the vehicle at most, metres. Common practice, no source.
    pub reach_m: f64,
    /// Least share of open sky at the panel for a place where a meeting is held.
    pub least_open: f64,
    /// Time to put the panel out before a meeting, minutes. Assumed.
    pub set_up_min: f64,
    /// Time to pack up after it, minutes. Assumed.
    pub pack_up_min: f64,
    /// A place reached less than this before the meeting held there is told as tight, minutes. Assumed.
    pub tight_min: f64,
    /// Longest wait for a meeting to begin, minutes.
    pub longest_wait_min: f64,
    /// Speed off the road to the place and back, km/h. Assumed.
    pub off_road_kmh: f64,
    /// Most places looked at; of more, the best are kept, spread along the road.
    pub most_places: usize,
}

impl Default for Stopping {
    fn default() -> Self {
        Self {
            within_m: 500.0,
            reach_m: 30.0,
            least_open: 0.6,
            set_up_min: 5.0,
            pack_up_min: 5.0,
            tight_min: 10.0,
            longest_wait_min: 60.0,
            off_road_kmh: 20.0,
            most_places: 60,
        }
    }
}

/// What things are worth against each other, in minutes of everybody's time. All assumed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Worth {
    /// A must-not-drop meeting that is interrupted.
    pub must_not_drop_min: f64,
    /// A casual call that is interrupted.
    pub casual_min: f64,
    /// Messages that cannot be sent in their time.
    pub messages_min: f64,
    /// A minute by which one leaves earlier or later than asked.
    pub shift_min: f64,
    /// A minute of stopping.
    pub stop_min: f64,
    /// Every stop, besides its minutes.
    pub each_stop_min: f64,
}

impl Default for Worth {
    fn default() -> Self {
        Self {
            must_not_drop_min: 600.0,
            casual_min: 60.0,
            messages_min: 15.0,
            shift_min: 0.5,
            stop_min: 1.0,
            each_stop_min: 3.0,
        }
    }
}

impl Worth {
    /// Of an interrupted meeting of a kind, minutes.
    pub fn of(&self, kind: super::kind::Kind) -> f64 {
        match kind {
            super::kind::Kind::MustNotDrop => self.must_not_drop_min,
            super::kind::Kind::Casual => self.casual_min,
            super::kind::Kind::Messages => self.messages_min,
        }
    }
}

/// Where the nights between two days are spent.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Nights {
    /// Car parks count as places for the night, besides camp and caravan sites. Assumed: signs and local law decide.
    pub parking: bool,
    /// Least share of open sky at the panel for a night that is not called poor. Assumed.
    pub least_open: f64,
    /// Better places than a poor one are looked for this far from it, kilometres. Assumed.
    pub look_km: f64,
    /// A day without an end of its own ends within the last minutes, this many, of what its hours of driving allow. Assumed.
    pub look_back_min: f64,
    /// A day that ends at a place for the night is driven for at least this share of what its hours allow. Assumed.
    pub least_day: f64,
    /// Cost of a night under a sky that is wholly closed, minutes; a clearer one costs its share. Assumed.
    pub closed_sky_min: f64,
}

impl Default for Nights {
    fn default() -> Self {
        Self {
            parking: true,
            least_open: 0.6,
            look_km: 10.0,
            look_back_min: 90.0,
            least_day: 0.25,
            closed_sky_min: 60.0,
        }
    }
}

/// All rules.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Rules {
    /// Driving.
    pub driving: Driving,
    /// Departure and arrival.
    pub departure: Departure,
    /// Stopping.
    pub stopping: Stopping,
    /// What things are worth.
    pub worth: Worth,
    /// Highest risk at which a meeting counts as safe.
    pub safe_risk: f64,
    /// Who travels; empty where nobody is named.
    pub crew: Vec<Traveller>,
}

/// Highest risk at which a meeting counts as safe, unless the traveller says otherwise. Assumed.
pub(crate) const SAFE_RISK: f64 = 0.1;

impl Default for Rules {
    fn default() -> Self {
        Self {
            driving: Driving::default(),
            departure: Departure::default(),
            stopping: Stopping::default(),
            worth: Worth::default(),
            safe_risk: SAFE_RISK,
            crew: Vec::new(),
        }
    }
}
