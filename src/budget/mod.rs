//! What a trip costs in data, energy and money: hours of work and devices in, GB, Wh and prices out.
//!
//! [`settings`] is what the user says, [`keys`] the table of its keys, [`data`], [`energy`] and [`tariff`] do the sums.
pub mod data;
pub mod energy;
pub mod keys;
pub mod settings;
pub mod tariff;

use serde::Serialize;

use crate::base::error::Result;
use crate::base::settings::Given;
use data::{DayData, MeetingHours};
use energy::DayEnergy;
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
    /// Energy of a day.
    pub energy: DayEnergy,
    /// Energy drawn on the trip, Wh.
    pub trip_wh: f64,
    /// Tariffs at the data of the trip, as if it were the data of one month.
    pub tariffs: Vec<TariffCost>,
    /// Where tariffs cost the same.
    pub break_evens: Vec<BreakEven>,
}

impl Budget {
    /// What the trip costs; hours of meetings a day, where a calendar gives them, stand in for the shares of calls.
    pub fn of(settings: &BudgetSettings, meetings: Option<MeetingHours>) -> Self {
        let days = settings.work.days;
        let data = data::day(settings, meetings);
        let energy = energy::day(settings, meetings.map_or(0.0, |m| m.video_h + m.voice_h + m.messages_h));
        Self {
            days,
            trip_bytes: data.total * u64::from(days),
            trip_wh: energy.drawn_wh * f64::from(days),
            tariffs: tariff::costs(&settings.tariff, data.total, days),
            break_evens: tariff::break_evens(&settings.tariff),
            data,
            energy,
        }
    }
}

/// What a file says of the budget; what it leaves out keeps its starting value.
///
/// # Errors
/// Hours or shares that contradict each other.
pub fn said(given: &Given) -> Result<BudgetSettings> {
    let settings = given.over(keys::KEYS, &BudgetSettings::default())?;
    given.check(keys::conflict(&settings))?;
    Ok(settings)
}
