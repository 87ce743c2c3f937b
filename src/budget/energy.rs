//! Watt hours: the panel is on while the engine runs and at stops, and works while somebody does.
use serde::Serialize;

use super::settings::{Battery, BudgetSettings};

/// Energy of one day.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize)]
pub struct DayEnergy {
    /// Hours at work.
    pub working_h: f64,
    /// Hours on without work.
    pub idle_h: f64,
    /// Drawn by the panel, Wh.
    pub panel_wh: f64,
    /// Drawn by the rest, Wh.
    pub other_wh: f64,
    /// Drawn by all, Wh.
    pub drawn_wh: f64,
    /// From the sun, as loads can use it, Wh.
    pub solar_wh: f64,
    /// From the engine, as loads can use it, Wh.
    pub engine_wh: f64,
    /// Usable from a full battery, as loads can use it, Wh.
    pub battery_wh: f64,
    /// Hours a full battery lasts under the load at work, without any charging; none without a load.
    pub lasts_working_h: Option<f64>,
    /// Day of the trip, from 1, on which a battery full at the start is empty; none where it lasts for ever.
    pub empty_on_day: Option<u32>,
}

impl DayEnergy {
    /// What sun and engine leave for the battery to give, Wh; below 0 where they give more than is drawn.
    pub(crate) fn short_wh(&self) -> f64 {
        self.drawn_wh - self.solar_wh - self.engine_wh
    }
}

/// What loads can use of a full battery, Wh: V x Ah x usable depth x converter.
pub fn battery_wh(b: &Battery) -> f64 {
    b.volts * b.amp_hours * b.usable_depth * b.converter_efficiency
}

/// Energy of one day. The panel works as long as the device used longest, or the meetings if they last longer.
pub fn day(settings: &BudgetSettings, meetings_h: f64) -> DayEnergy {
    let BudgetSettings { work, power, battery, solar, .. } = settings;
    let used_h = settings.device.iter().filter(|d| d.count > 0).map(|d| d.hours).fold(meetings_h, f64::max);
    let working_h = used_h.min(work.on_h());
    let idle_h = work.on_h() - working_h;
    let panel_wh = power.working_w * working_h + power.idle_w * idle_h;
    let other_wh = power.other_w * working_h;
    let through = battery.converter_efficiency;
    let mut day = DayEnergy {
        working_h,
        idle_h,
        panel_wh,
        other_wh,
        drawn_wh: panel_wh + other_wh,
        solar_wh: solar.panel_w * solar.sun_hours * solar.efficiency * through,
        engine_wh: battery.charge_driving_w * work.driving_h * through,
        battery_wh: battery_wh(battery),
        ..DayEnergy::default()
    };
    let load_w = power.working_w + power.other_w;
    day.lasts_working_h = (load_w > 0.0).then(|| day.battery_wh / load_w);
    let short_wh = day.short_wh();
    // Empty during the day in which what is left no longer covers what is short.
    day.empty_on_day = (short_wh > 0.0).then(|| (day.battery_wh / short_wh).floor() as u32 + 1);
    day
}
