//! What a trip costs in data, energy and money: hours of work and devices in, GB, Wh and prices out.
//!
//! [`settings`] is what the user says, [`keys`] the table of its keys, [`data`] and [`tariff`] do the sums of a day. Energy is
//! walked through: [`hours`] orders a day, [`sun`] says what the sun gives in it, [`walk`] takes a battery through it, and
//! [`energy`] joins them.
pub mod data;
pub mod days;
pub mod energy;
pub mod hours;
pub mod keys;
pub mod settings;
pub mod sun;
pub mod tariff;
mod told;
pub mod walk;

use serde::Serialize;

use crate::base::error::{Error, Result};
use crate::base::settings::Given;
use crate::base::words::Dial;
use data::{DayData, MeetingHours};
use days::{DaysToWalk, PlannedDay};
use energy::{MomentWords, TripEnergy, walk_trip};
pub use settings::BudgetSettings;
use tariff::{BreakEven, TariffCost};

/// Data, energy and cost of a day and of the trip.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Budget {
    /// Days of the trip.
    pub days: u32,
    /// Data of a day.
    pub data: DayData,
    /// Data of the trip, bytes.
    pub trip_bytes: u64,
    /// Energy of the trip.
    pub energy: TripEnergy,
    /// What money is called, where that is given.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub currency: Option<String>,
    /// Tariffs at the data of the trip, as if it were the data of one month; none where the user gives no prices.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub tariffs: Vec<TariffCost>,
    /// Where tariffs cost the same.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub break_evens: Vec<BreakEven>,
    /// How its days came about, and what did not fit into them.
    pub notes: Vec<String>,
}

/// Days of a plan, with how their moments are told.
pub struct PlannedTrip<'a> {
    /// The days, in order.
    pub days: Vec<PlannedDay>,
    /// How their moments are told.
    pub told: MomentWords<'a>,
}

impl Budget {
    /// What a trip costs of which there is no plan: the order of its days is assumed. Hours of meetings a day, where a calendar
    /// gives them, stand in for the shares of calls; `dial` tells the hours of the notes.
    ///
    /// # Errors
    /// There is a solar panel, and nobody says how much sun there is.
    pub fn of(settings: &BudgetSettings, meetings: Option<MeetingHours>, source: &str, dial: Dial) -> Result<Self> {
        let solar = &settings.solar;
        if solar.panel_w > 0.0 && solar.sun_hours.is_none() {
            let fact = format!(
                "solar.sun_hours is missing: solar.panel_w is {} W, and how much sun there is without a place and a date is not known",
                solar.panel_w
            );
            let next = "give solar.sun_hours, the hours of full sun a day; or use `waymask plan --trip`, which knows places and dates";
            return Err(Error::usage(source, fact, next));
        }
        let called_h = meetings.map_or(0.0, |m| m.video_h + m.voice_h + m.messages_h);
        let rules = days::rules(settings, called_h);
        let DaysToWalk { days, mut notes } = days::assumed(settings, &rules, dial);
        let told = MomentWords { clock: &days::clock, date: &|_| None, place: &|_| None };
        let energy = walk_trip(settings, &days, &rules, &told);
        notes.extend(days::short(&rules, &energy));
        Ok(Self::with(settings, settings.work.days, meetings, energy, notes))
    }

    /// What a trip costs of which there is a plan: the hours of its days count.
    pub fn planned(settings: &BudgetSettings, meetings: Option<MeetingHours>, trip: &PlannedTrip) -> Self {
        let rules = days::rules(settings, 0.0);
        let DaysToWalk { days, mut notes } = days::planned(settings, &trip.days);
        let energy = walk_trip(settings, &days, &rules, &trip.told);
        notes.extend(days::clashes(settings, &rules, &energy));
        let count = u32::try_from(trip.days.len()).unwrap_or(u32::MAX);
        Self::with(settings, count, meetings, energy, notes)
    }

    fn with(
        settings: &BudgetSettings,
        days: u32,
        meetings: Option<MeetingHours>,
        energy: TripEnergy,
        notes: Vec<String>,
    ) -> Self {
        let data = data::day(settings, meetings);
        Self {
            days,
            trip_bytes: data.total * u64::from(days),
            energy,
            currency: settings.currency.clone(),
            tariffs: tariff::costs(&settings.tariff, data.total, days),
            break_evens: tariff::break_evens(&settings.tariff),
            data,
            notes,
        }
    }
}

/// What a file says of the budget; what it leaves out keeps its starting value.
///
/// # Errors
/// Hours or shares that contradict each other.
pub fn said(given: &Given) -> Result<BudgetSettings> {
    let settings = given.over(keys::FIRST.iter().chain(keys::KEYS), &BudgetSettings::default())?;
    given.check(keys::conflict(&settings))?;
    Ok(settings)
}
