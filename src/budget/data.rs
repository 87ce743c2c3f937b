//! Bytes: kinds of work times hours times rates. A byte count is an integer; GB are 10^9 bytes.
use serde::Serialize;

use super::settings::{BudgetSettings, Rates};

/// Bytes that a rate makes in some hours: bits are a thousand to the kbit, eight to the byte.
pub fn bytes(kbps: f64, hours: f64) -> u64 {
    (kbps * 1000.0 * hours * 3600.0 / 8.0).round() as u64
}

/// GB of bytes, for people.
pub fn gb(bytes: u64) -> f64 {
    bytes as f64 / 1e9
}

/// Hours of meetings on a day, as a calendar gives them.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize)]
pub struct MeetingHours {
    /// With video.
    pub video_h: f64,
    /// With voice only.
    pub voice_h: f64,
    /// By messages.
    pub messages_h: f64,
}

/// Data of one day, bytes.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct DayData {
    /// By kind of work, in the order of [`Rates::NAMES`].
    pub by_kind: Vec<(&'static str, u64)>,
    /// What devices fetch unasked.
    pub background: u64,
    /// By device, both together.
    pub by_device: Vec<(String, u64)>,
    /// Of meetings, where they are given.
    pub meetings: u64,
    /// All.
    pub total: u64,
}

/// Data of one day. Where hours of meetings are given they stand in for the devices' shares of calls.
pub fn day(settings: &BudgetSettings, meetings: Option<MeetingHours>) -> DayData {
    let rates = settings.rates.all();
    let mut by_kind: Vec<(&'static str, u64)> = Rates::NAMES.iter().map(|name| (*name, 0)).collect();
    let mut out = DayData::default();
    for device in &settings.device {
        let count = u64::from(device.count);
        let mut own = count * bytes(device.background_kbps, settings.work.on_h());
        out.background += own;
        for (k, share) in device.shares().into_iter().enumerate() {
            // Calls are the first two kinds.
            if meetings.is_some() && k < 2 {
                continue;
            }
            let used = count * bytes(rates[k], share * device.hours);
            by_kind[k].1 += used;
            own += used;
        }
        out.by_device.push((device.name.clone(), own));
        out.total += own;
    }
    if let Some(m) = meetings {
        for (k, hours) in [m.video_h, m.voice_h, m.messages_h].into_iter().enumerate() {
            let used = bytes(rates[k], hours);
            by_kind[k].1 += used;
            out.meetings += used;
        }
        out.total += out.meetings;
    }
    out.by_kind = by_kind;
    out
}
