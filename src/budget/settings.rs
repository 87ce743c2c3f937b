//! What the user says of work, devices, power and tariffs.
use serde::{Deserialize, Serialize};

use crate::base::words::words;

/// All sections of a budget.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct BudgetSettings {
    /// What money is called behind its figures; plain figures where it is not given.
    pub currency: Option<String>,
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
    /// Hour of the day at which driving begins, where no plan says it.
    pub driving_from_h: f64,
    /// Work is done while driving before it is done at stops.
    pub in_motion_first: bool,
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
    /// Size of the panel: what it draws where nothing else is said.
    pub panel: PanelSize,
    /// The panel at work, where the user knows better.
    pub working_w: Option<f64>,
    /// The panel on, without work, where the user knows better.
    pub idle_w: Option<f64>,
    /// Everything else, while somebody works.
    pub other_w: f64,
}

words! {
    /// Size of a panel, for what it draws.
    pub enum PanelSize {
        /// A small portable one.
        Small = "small",
        /// One of standard size.
        Standard = "standard",
        /// A large flat one.
        Large = "large",
    }
}

/// What a panel draws, watts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PanelDraw {
    /// At work.
    pub working_w: f64,
    /// On, without work.
    pub idle_w: f64,
}

impl PanelSize {
    /// What a panel of this size draws: common practice, without a source; the key says so.
    pub fn draw(self) -> PanelDraw {
        let (working_w, idle_w) = match self {
            Self::Small => (25.0, 15.0),
            Self::Standard => (60.0, 30.0),
            Self::Large => (110.0, 50.0),
        };
        PanelDraw { working_w, idle_w }
    }
}

impl Power {
    /// What the panel draws: the user's figures before those of its size.
    pub fn draw(&self) -> PanelDraw {
        let of_size = self.panel.draw();
        PanelDraw {
            working_w: self.working_w.unwrap_or(of_size.working_w),
            idle_w: self.idle_w.unwrap_or(of_size.idle_w),
        }
    }
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
    /// Share of what may be used that is in it at the start.
    pub start_share: f64,
    /// After it was empty, the panel comes on again with this share of what may be used.
    pub restart_share: f64,
}

/// What the sun gives.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Solar {
    /// Rated power, watts; 0 for none.
    pub panel_w: f64,
    /// Hours of full sun, a day; not given: the clear sky of place and date, less clouds.
    pub sun_hours: Option<f64>,
    /// Share of a clear sky's sun that clouds let through.
    pub clear_share: f64,
    /// Hour at which the sun rises, where place and date are not known.
    pub sunrise_h: f64,
    /// Hour at which it sets.
    pub sunset_h: f64,
    /// Share that reaches the battery: heat, dirt, regulator.
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
            currency: None,
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
        Self { days: 3, driving_h: 6.0, stopped_h: 6.0, driving_from_h: 9.0, in_motion_first: false }
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
        Self { panel: PanelSize::Small, working_w: None, idle_w: None, other_w: 40.0 }
    }
}
impl Default for Battery {
    fn default() -> Self {
        Self {
            volts: 12.8,
            amp_hours: 100.0,
            usable_depth: 0.8,
            converter_efficiency: 0.9,
            charge_driving_w: 0.0,
            start_share: 1.0,
            restart_share: 0.1,
        }
    }
}
impl Default for Solar {
    fn default() -> Self {
        Self { panel_w: 0.0, sun_hours: None, clear_share: 0.6, sunrise_h: 6.0, sunset_h: 18.0, efficiency: 0.7 }
    }
}
