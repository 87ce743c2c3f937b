//! What a day costs in data and energy: hours of work and devices in, GB, Wh and money out.
pub mod data;
pub mod energy;
pub mod keys;
pub mod settings;
pub mod tariff;

use serde::Serialize;

use data::{DayData, MeetingHours};
use energy::DayEnergy;
pub use settings::SpendingSettings;
use tariff::{BreakEven, TariffAnswer};

/// Data and energy of a day and of the trip.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Spending {
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
    /// Tariffs at the data of the trip, taken as the data of one month.
    pub tariffs: Vec<TariffAnswer>,
    /// Where tariffs cost the same.
    pub break_evens: Vec<BreakEven>,
}

/// What the trip costs; hours of meetings a day, where a calendar gives them, stand in for the shares of calls.
pub fn spending(settings: &SpendingSettings, meetings: Option<MeetingHours>) -> Spending {
    let days = settings.work.days;
    let data = data::day(settings, meetings);
    let energy = energy::day(settings, meetings.map_or(0.0, |m| m.video_h + m.voice_h + m.messages_h));
    Spending {
        days,
        trip_bytes: data.total * u64::from(days),
        trip_wh: energy.drawn_wh * f64::from(days),
        tariffs: tariff::answers(&settings.tariff, data.total, days),
        break_evens: tariff::break_evens(&settings.tariff),
        data,
        energy,
    }
}
