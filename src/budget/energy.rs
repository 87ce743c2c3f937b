//! Watt hours of a trip, day after day in the order of its hours, with the limits of the battery.
//!
//! Figures in Wh are on the side of the loads, behind the converter (see [`super::walk`]): what the solar panel and the engine
//! give, and what the battery holds, is told as the loads can use it.
use serde::Serialize;

use super::hours::{CallTime, DayTimes, HourRules, PanelUse, ShortHours, UsedStretch, lay_out};
use super::settings::{Battery, BudgetSettings};
use super::sun::DaySun;
use super::walk::{BatteryCharge, BatteryStore, PieceWalked, PowerPiece};

/// Times without the panel that are kept one by one; of more, those that touch a meeting are, and the rest is only counted.
const MOST_OFF: usize = 1_000;
/// Two times without the panel this near to each other are one, seconds.
const SAME_S: f64 = 1e-3;

/// Sums over a time.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize)]
pub struct EnergySums {
    /// Hours in which the panel should be in use.
    pub working_h: f64,
    /// Hours in which it should be on without work.
    pub idle_h: f64,
    /// Hours with the engine on.
    pub driving_h: f64,
    /// What the panel would draw if it were never off, Wh.
    pub panel_wh: f64,
    /// What the rest would draw, Wh.
    pub other_wh: f64,
    /// What both drew, Wh.
    pub drawn_wh: f64,
    /// What they would have drawn while they were off, Wh.
    pub missing_wh: f64,
    /// Hours in which they should have been on and were off, the battery being empty.
    pub off_h: f64,
    /// From the sun, Wh.
    pub solar_wh: f64,
    /// From the engine, Wh.
    pub engine_wh: f64,
    /// Of what sun and engine gave, lost because the battery was full, Wh.
    pub lost_wh: f64,
}

/// Energy of one day, from its midnight to the start of the next.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DayEnergy {
    /// Its date, where it has one.
    pub date: Option<String>,
    /// Its sums.
    #[serde(flatten)]
    pub sums: EnergySums,
    /// In the battery at its start, Wh.
    pub begin_wh: f64,
    /// In the battery at its end, Wh.
    pub end_wh: f64,
    /// The least in the battery, Wh.
    pub least_wh: f64,
    /// When it was so little, by the clock.
    pub least_at: String,
    /// Hours that did not fit into it.
    pub short: ShortHours,
}

/// Where the vehicle was when the panel went off.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct OffPlace {
    /// Name of the place; nothing on the road.
    pub name: Option<String>,
    /// Kilometres from the start of the day's road; nothing away from it.
    pub at_km: Option<f64>,
    /// Where, degrees.
    pub lat_deg: f64,
    /// See `lat_deg`.
    pub lon_deg: f64,
}

/// A time in which the panel should be on and is off, the battery being empty.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PanelOff {
    /// Day of the trip, from 1.
    pub day: usize,
    /// The date on which it begins, where it has one.
    pub date: Option<String>,
    /// When it begins, by the clock.
    pub from: String,
    /// When it ends, by the clock.
    pub to: String,
    /// Begin and end, seconds on the clock of the days.
    #[serde(skip)]
    pub span_s: (f64, f64),
    /// How long it lasts, seconds.
    pub lasts_s: f64,
    /// What the loads would have drawn, Wh.
    pub missing_wh: f64,
    /// Meetings that it touches.
    pub meetings: Vec<String>,
    /// Where, where that is known.
    pub place: Option<OffPlace>,
}

/// Energy of a trip.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TripEnergy {
    /// What loads can use of a full battery, Wh.
    pub battery_wh: f64,
    /// Of that, in it at the start, Wh.
    pub start_wh: f64,
    /// In it at the end of the trip, Wh.
    pub end_wh: f64,
    /// Hours a full battery lasts under the load at work, without any charging; none without a load.
    pub lasts_working_h: Option<f64>,
    /// Sums of all days.
    pub total: EnergySums,
    /// Its days.
    pub days: Vec<DayEnergy>,
    /// How often the panel is off though it should be on.
    pub off_times: usize,
    /// These times, in order; beyond a thousand those that touch a meeting.
    pub off: Vec<PanelOff>,
}

/// A day to be walked.
#[derive(Debug, Clone, PartialEq)]
pub struct EnergyDay {
    /// Its date, where it has one.
    pub date: Option<String>,
    /// Its hours.
    pub times: DayTimes,
    /// Its sun.
    pub sun: DaySun,
}

/// How moments are told to people.
pub struct MomentWords<'a> {
    /// The clock at some second.
    pub clock: &'a dyn Fn(f64) -> String,
    /// The date, where days have one.
    pub date: &'a dyn Fn(f64) -> Option<String>,
    /// Where the vehicle is then.
    pub place: &'a dyn Fn(f64) -> Option<OffPlace>,
}

/// What loads can use of a full battery, Wh: V x Ah x usable depth x converter.
pub fn battery_wh(b: &Battery) -> f64 {
    b.volts * b.amp_hours * b.usable_depth * b.converter_efficiency
}

/// Walks through the days of a trip.
pub fn walk_trip(settings: &BudgetSettings, days: &[EnergyDay], rules: &HourRules, told: &MomentWords) -> TripEnergy {
    let store = BatteryStore::new(battery_wh(&settings.battery), settings.battery.restart_share);
    let charge = store.charged(settings.battery.start_share);
    let start_wh = charge.wh;
    let mut walker = Walker { powers: Powers::of(settings), store, charge, off: OffSpans::default() };
    let mut total = EnergySums::default();
    let rows: Vec<DayEnergy> = days
        .iter()
        .enumerate()
        .map(|(n, day)| {
            let row = walker.day(n, day, rules, told);
            total.add(&row.sums);
            row
        })
        .collect();
    let load_w = walker.powers.working_w + walker.powers.other_w;
    TripEnergy {
        battery_wh: store.capacity_wh,
        start_wh,
        end_wh: walker.charge.wh,
        lasts_working_h: (load_w > 0.0).then(|| store.capacity_wh / load_w),
        total,
        days: rows,
        off_times: walker.off.times,
        off: walker.off.kept.iter().map(|off| off.told(days, told)).collect(),
    }
}

/// Powers of a trip, W, those of the gains behind the converter.
struct Powers {
    working_w: f64,
    idle_w: f64,
    other_w: f64,
    full_sun_w: f64,
    engine_w: f64,
}

/// A battery on its way through a trip.
struct Walker {
    powers: Powers,
    store: BatteryStore,
    charge: BatteryCharge,
    off: OffSpans,
}

/// Times without the panel.
#[derive(Default)]
struct OffSpans {
    kept: Vec<OffSpan>,
    times: usize,
    /// When the last of them ended, and whether it is kept.
    last: Option<(f64, bool)>,
}

/// A time without the panel, seconds on the clock of the days.
struct OffSpan {
    day: usize,
    from_s: f64,
    to_s: f64,
    missing_wh: f64,
}

impl Powers {
    fn of(settings: &BudgetSettings) -> Self {
        let BudgetSettings { power, battery, solar, .. } = settings;
        let through = battery.converter_efficiency;
        let panel = power.draw();
        Self {
            working_w: panel.working_w,
            idle_w: panel.idle_w,
            other_w: power.other_w,
            full_sun_w: solar.panel_w * solar.efficiency * through,
            engine_w: battery.charge_driving_w * through,
        }
    }
    /// What the panel and the rest draw.
    fn loads(&self, panel: PanelUse) -> [f64; 2] {
        match panel {
            PanelUse::Off => [0.0, 0.0],
            PanelUse::Idle => [self.idle_w, 0.0],
            PanelUse::InUse => [self.working_w, self.other_w],
        }
    }
}

impl EnergySums {
    /// Adds others.
    fn add(&mut self, other: &Self) {
        self.working_h += other.working_h;
        self.idle_h += other.idle_h;
        self.driving_h += other.driving_h;
        self.panel_wh += other.panel_wh;
        self.other_wh += other.other_wh;
        self.drawn_wh += other.drawn_wh;
        self.missing_wh += other.missing_wh;
        self.off_h += other.off_h;
        self.solar_wh += other.solar_wh;
        self.engine_wh += other.engine_wh;
        self.lost_wh += other.lost_wh;
    }
}

impl Walker {
    fn day(&mut self, n: usize, day: &EnergyDay, rules: &HourRules, told: &MomentWords) -> DayEnergy {
        let laid = lay_out(&day.times, rules);
        let begin_wh = self.charge.wh;
        let (mut least_wh, mut least_s) = (begin_wh, day.times.begin_s);
        let mut sums = EnergySums::default();
        for stretch in &laid.stretches {
            let mut from_s = stretch.from_s;
            while from_s < stretch.to_s {
                let (suns, cell_end_s) = day.sun.full_suns(from_s);
                let to_s = if cell_end_s > from_s { cell_end_s.min(stretch.to_s) } else { stretch.to_s };
                let piece = UsedStretch { from_s, to_s, ..*stretch };
                let walked = self.piece(n, &day.times.calls, (&piece, suns), &mut sums);
                if walked.least_wh < least_wh {
                    (least_wh, least_s) = (walked.least_wh, from_s + walked.least_at_s);
                }
                from_s = to_s;
            }
        }
        DayEnergy {
            date: day.date.clone(),
            sums,
            begin_wh,
            end_wh: self.charge.wh,
            least_wh,
            least_at: (told.clock)(least_s),
            short: laid.short,
        }
    }
    /// A piece of a stretch under a steady sun.
    fn piece(
        &mut self,
        day: usize,
        calls: &[CallTime],
        (of, suns): (&UsedStretch, f64),
        sums: &mut EnergySums,
    ) -> PieceWalked {
        let hours = (of.to_s - of.from_s) / 3_600.0;
        let [panel_w, other_w] = self.powers.loads(of.panel);
        let solar_w = suns * self.powers.full_sun_w;
        let engine_w = if of.driving { self.powers.engine_w } else { 0.0 };
        let load_w = panel_w + other_w;
        let piece = PowerPiece { length_s: of.to_s - of.from_s, load_w, gain_w: solar_w + engine_w };
        let walked = self.store.walk(&mut self.charge, &piece);
        let when = |holds: bool| if holds { hours } else { 0.0 };
        sums.add(&EnergySums {
            working_h: when(of.panel == PanelUse::InUse),
            idle_h: when(of.panel == PanelUse::Idle),
            driving_h: when(of.driving),
            panel_wh: panel_w * hours,
            other_wh: other_w * hours,
            drawn_wh: walked.drawn_wh,
            missing_wh: walked.missing_wh,
            off_h: walked.off_s.iter().map(|off| off.end - off.start).sum::<f64>() / 3_600.0,
            solar_wh: solar_w * hours,
            engine_wh: engine_w * hours,
            lost_wh: walked.lost_wh,
        });
        for off in &walked.off_s {
            let missing_wh = load_w * (off.end - off.start) / 3_600.0;
            let span = OffSpan { day, from_s: of.from_s + off.start, to_s: of.from_s + off.end, missing_wh };
            self.off.add(span, calls);
        }
        walked
    }
}

impl OffSpans {
    /// Adds a time, joined to the one before where that ends as it begins.
    fn add(&mut self, span: OffSpan, calls: &[CallTime]) {
        let before = self.last.filter(|(to_s, _)| span.from_s - to_s < SAME_S);
        self.times += usize::from(before.is_none());
        let to_s = span.to_s;
        let keeps = self.kept.len() < MOST_OFF || calls.iter().any(|c| span.touches(c));
        let kept = match (before, self.kept.last_mut()) {
            (Some((_, true)), Some(last)) => {
                last.to_s = span.to_s;
                last.missing_wh += span.missing_wh;
                true
            }
            _ if keeps => {
                self.kept.push(span);
                true
            }
            _ => false,
        };
        self.last = Some((to_s, kept));
    }
}

impl OffSpan {
    fn touches(&self, call: &CallTime) -> bool {
        call.from_s < self.to_s && call.to_s > self.from_s
    }
    fn told(&self, days: &[EnergyDay], told: &MomentWords) -> PanelOff {
        let calls = days.iter().flat_map(|d| &d.times.calls);
        let mut meetings: Vec<String> = calls.filter(|c| self.touches(c)).map(|c| c.name.clone()).collect();
        // A meeting of two parts, or over midnight, is one.
        meetings.dedup();
        PanelOff {
            day: self.day + 1,
            date: (told.date)(self.from_s),
            from: (told.clock)(self.from_s),
            to: (told.clock)(self.to_s),
            span_s: (self.from_s, self.to_s),
            lasts_s: self.to_s - self.from_s,
            missing_wh: self.missing_wh,
            meetings,
            place: (told.place)(self.from_s),
        }
    }
}
