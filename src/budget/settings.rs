//! What the user says of work, devices, power and tariffs.
use serde::{Deserialize, Serialize};

/// All sections of a budget.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct BudgetSettings {
    /// How long is driven, stood and worked.
    pub work: Work,
    /// Data per hour of each kind of work.
    pub rates: Rates,
    /// Devices on the link; a list given replaces the preset whole.
    pub device: Vec<Device>,
    /// What draws power.
    pub power: Power,
    /// What stores it.
    pub battery: Battery,
    /// What the sun gives.
    pub solar: Solar,
    /// Tariffs to compare.
    pub tariff: Vec<Tariff>,
}

/// How long is driven, stood and worked.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Work {
    /// Days of the trip.
    pub days: u32,
    /// Hours with the engine on, a day.
    pub driving_h: f64,
    /// Hours at stops with the panel on, a day.
    pub stopped_h: f64,
}

/// Data per hour of each kind of work, both ways together, kbit/s.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Rates {
    /// Calls with video.
    pub video_kbps: f64,
    /// Calls without.
    pub voice_kbps: f64,
    /// Messages and mail.
    pub messages_kbps: f64,
    /// Pages and shared documents.
    pub pages_kbps: f64,
    /// Films, music, recorded talks.
    pub streaming_kbps: f64,
    /// Photographs and files sent.
    pub upload_kbps: f64,
}

/// Devices of one sort and what they are used for.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Device {
    /// Name.
    pub name: String,
    /// How many.
    pub count: u32,
    /// Hours of use, a day.
    pub hours: f64,
    /// What each fetches unasked while the panel is on, kbit/s.
    #[serde(default)]
    pub background_kbps: f64,
    /// Shares of the hours by kind of work.
    #[serde(default)]
    pub video: f64,
    /// Share of calls without video.
    #[serde(default)]
    pub voice: f64,
    /// Share of messages and mail.
    #[serde(default)]
    pub messages: f64,
    /// Share of pages and documents.
    #[serde(default)]
    pub pages: f64,
    /// Share of streaming.
    #[serde(default)]
    pub streaming: f64,
    /// Share of sending files.
    #[serde(default)]
    pub upload: f64,
}

/// What draws power, watts.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Power {
    /// The panel at work.
    pub working_w: f64,
    /// The panel on, without work.
    pub idle_w: f64,
    /// Everything else, while somebody works.
    pub other_w: f64,
}

/// What stores power.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Battery {
    /// Nominal voltage, volts.
    pub volts: f64,
    /// Capacity, ampere hours; 0 for none.
    pub amp_hours: f64,
    /// Share of it that may be used.
    pub usable_depth: f64,
    /// Share that the converter passes on.
    pub converter_efficiency: f64,
    /// Charging while the engine runs, watts.
    pub charge_driving_w: f64,
}

/// What the sun gives.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Solar {
    /// Rated power, watts; 0 for none.
    pub panel_w: f64,
    /// Hours of full sun, a day.
    pub sun_hours: f64,
    /// Share that reaches the battery: angle, heat, dirt, regulator.
    pub efficiency: f64,
}

/// A tariff, per month.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Tariff {
    /// Name.
    pub name: String,
    /// Price of the month, in any unit of money.
    pub price: f64,
    /// Data included, GB (10^9 bytes); not given: as much as is used.
    #[serde(default)]
    pub included_gb: Option<f64>,
    /// Price of each GB beyond; not given: the link ends with the allowance.
    #[serde(default)]
    pub extra_per_gb: Option<f64>,
}

impl Work {
    /// Hours a day with the panel on: the engine runs, or the vehicle stands.
    pub(crate) fn on_h(&self) -> f64 {
        self.driving_h + self.stopped_h
    }
}

impl Device {
    /// Shares in the order of [`Rates::all`].
    pub fn shares(&self) -> [f64; 6] {
        [self.video, self.voice, self.messages, self.pages, self.streaming, self.upload]
    }
}

impl Rates {
    /// Names of the kinds of work, in order.
    pub const NAMES: [&str; 6] = ["video", "voice", "messages", "pages", "streaming", "upload"];
    /// Rates in the same order, kbit/s.
    pub fn all(&self) -> [f64; 6] {
        [self.video_kbps, self.voice_kbps, self.messages_kbps, self.pages_kbps, self.streaming_kbps, self.upload_kbps]
    }
}

impl Default for BudgetSettings {
    fn default() -> Self {
        let phone = Device {
            name: "phone".into(),
            count: 2,
            hours: 5.0,
            background_kbps: 90.0,
            video: 0.1,
            voice: 0.2,
            messages: 0.4,
            pages: 0.2,
            streaming: 0.1,
            upload: 0.0,
        };
        let laptop = Device {
            name: "laptop".into(),
            count: 1,
            hours: 5.0,
            background_kbps: 180.0,
            video: 0.4,
            pages: 0.45,
            upload: 0.15,
            ..Device::default()
        };
        Self {
            work: Work::default(),
            rates: Rates::default(),
            device: vec![phone, laptop],
            power: Power::default(),
            battery: Battery::default(),
            solar: Solar::default(),
            // Nobody's prices are known here.
            tariff: Vec::new(),
        }
    }
}

impl Default for Work {
    fn default() -> Self {
        Self { days: 3, driving_h: 6.0, stopped_h: 6.0 }
    }
}
impl Default for Rates {
    fn default() -> Self {
        Self {
            video_kbps: 1632.0,
            voice_kbps: 128.0,
            messages_kbps: 50.0,
            pages_kbps: 500.0,
            streaming_kbps: 2500.0,
            upload_kbps: 1500.0,
        }
    }
}
impl Default for Power {
    fn default() -> Self {
        Self { working_w: 25.0, idle_w: 15.0, other_w: 40.0 }
    }
}
impl Default for Battery {
    fn default() -> Self {
        Self { volts: 12.8, amp_hours: 100.0, usable_depth: 0.8, converter_efficiency: 0.9, charge_driving_w: 0.0 }
    }
}
impl Default for Solar {
    fn default() -> Self {
        Self { panel_w: 0.0, sun_hours: 4.0, efficiency: 0.7 }
    }
}
