//! The hours of a day: when the engine runs, when the panel is in use, idle or off.
use serde::Serialize;

/// What the panel does.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PanelUse {
    /// Off: nobody works, and the vehicle stands for the night.
    Off,
    /// On, without work.
    Idle,
    /// In use.
    InUse,
}

/// What is done in a stretch of a day.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StretchDoing {
    /// Driving, with the engine on.
    Driving,
    /// Standing, with the panel on.
    Stopped,
    /// Standing for the night.
    Night,
}

/// A stretch of a day.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DayStretch {
    /// Begin, seconds.
    pub from_s: f64,
    /// End, seconds.
    pub to_s: f64,
    /// What is done.
    pub doing: StretchDoing,
}

/// A meeting for which the panel is in use.
#[derive(Debug, Clone, PartialEq)]
pub struct CallTime {
    /// Begin, seconds.
    pub from_s: f64,
    /// End, seconds.
    pub to_s: f64,
    /// What it is called.
    pub name: String,
}

/// A day from its midnight to the start of the next one, seconds on one clock for all days.
#[derive(Debug, Clone, PartialEq)]
pub struct DayTimes {
    /// Begin.
    pub begin_s: f64,
    /// End.
    pub end_s: f64,
    /// From departure to arrival, in order.
    pub stretches: Vec<DayStretch>,
    /// Meetings.
    pub calls: Vec<CallTime>,
}

/// Hours that the traveller gives for every day.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HourRules {
    /// At stops with the panel on, at least.
    pub stopped_h: f64,
    /// At work, at least.
    pub working_h: f64,
    /// Work is done while driving before it is done at stops.
    pub in_motion_first: bool,
}

/// A stretch with what the panel does.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct UsedStretch {
    /// Begin, seconds.
    pub from_s: f64,
    /// End, seconds.
    pub to_s: f64,
    /// What the panel does.
    pub panel: PanelUse,
    /// The engine runs.
    pub driving: bool,
}

/// A day laid out.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct LaidOut {
    /// Its stretches, from its start to its end without gaps.
    pub stretches: Vec<UsedStretch>,
    /// What did not fit into the day.
    pub short: ShortHours,
}

/// Hours that did not fit into a day.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize)]
pub struct ShortHours {
    /// Of those at stops.
    pub stopped_h: f64,
    /// Of those at work.
    pub working_h: f64,
}

/// The hours of a day in their order. What `rules` want at stops beyond the day's own follows the arrival; what they want
/// at work beyond the meetings is done at stops first, then while driving, or the other way round.
pub fn lay_out(day: &DayTimes, rules: &HourRules) -> LaidOut {
    let mut short = ShortHours::default();
    let whole = with_nights(day, rules, &mut short);
    let mut out = in_calls(&whole, &day.calls);
    let hours = |s: &UsedStretch| (s.to_s - s.from_s) / 3_600.0;
    let held_h: f64 = out.iter().filter(|s| s.panel == PanelUse::InUse).map(hours).sum();
    let mut left_s = 3_600.0 * (rules.working_h - held_h).max(0.0);
    for driving in [rules.in_motion_first, !rules.in_motion_first] {
        out = out.into_iter().flat_map(|s| worked(s, driving, &mut left_s)).collect();
    }
    short.working_h = left_s / 3_600.0;
    LaidOut { stretches: out, short }
}

/// The stretches from the start of the day to its end: with what follows the arrival, and nights between them.
fn with_nights(day: &DayTimes, rules: &HourRules, short: &mut ShortHours) -> Vec<DayStretch> {
    let mut own = day.stretches.clone();
    let stood_s: f64 = own.iter().filter(|s| s.doing == StretchDoing::Stopped).map(|s| s.to_s - s.from_s).sum();
    let more_s = (3_600.0 * rules.stopped_h - stood_s).max(0.0);
    if let Some(arrive_s) = own.last().map(|s| s.to_s) {
        own.push(DayStretch { from_s: arrive_s, to_s: arrive_s + more_s, doing: StretchDoing::Stopped });
        short.stopped_h = (arrive_s + more_s - day.end_s).clamp(0.0, more_s) / 3_600.0;
    }
    let mut out = Vec::new();
    let mut at_s = day.begin_s;
    let night = |from_s, to_s| DayStretch { from_s, to_s, doing: StretchDoing::Night };
    for s in own {
        let (from_s, to_s) = (s.from_s.max(at_s), s.to_s.min(day.end_s));
        if to_s <= from_s {
            continue;
        }
        out.extend((from_s > at_s).then(|| night(at_s, from_s)));
        out.push(DayStretch { from_s, to_s, ..s });
        at_s = to_s;
    }
    out.extend((day.end_s > at_s).then(|| night(at_s, day.end_s)));
    out
}

/// The stretches cut at the ends of meetings, with the panel in use during them.
fn in_calls(stretches: &[DayStretch], calls: &[CallTime]) -> Vec<UsedStretch> {
    let mut cuts: Vec<f64> = calls.iter().flat_map(|c| [c.from_s, c.to_s]).collect();
    cuts.sort_by(f64::total_cmp);
    cuts.dedup();
    let mut out = Vec::new();
    for s in stretches {
        let mut from_s = s.from_s;
        let inner = cuts.iter().copied().filter(|cut| *cut > s.from_s && *cut < s.to_s);
        for to_s in inner.chain([s.to_s]) {
            let called = calls.iter().any(|c| c.from_s <= from_s && to_s <= c.to_s);
            let panel = match s.doing {
                _ if called => PanelUse::InUse,
                StretchDoing::Night => PanelUse::Off,
                StretchDoing::Driving | StretchDoing::Stopped => PanelUse::Idle,
            };
            out.push(UsedStretch { from_s, to_s, panel, driving: s.doing == StretchDoing::Driving });
            from_s = to_s;
        }
    }
    out
}

/// A stretch with as much work in it, from its start, as is left; `driving` says in which stretches.
fn worked(s: UsedStretch, driving: bool, left_s: &mut f64) -> impl Iterator<Item = UsedStretch> + use<> {
    let fits_s = if s.panel == PanelUse::Idle && s.driving == driving { left_s.min(s.to_s - s.from_s) } else { 0.0 };
    *left_s -= fits_s;
    let cut_s = if fits_s < s.to_s - s.from_s { s.from_s + fits_s } else { s.to_s };
    let parts = [UsedStretch { to_s: cut_s, panel: PanelUse::InUse, ..s }, UsedStretch { from_s: cut_s, ..s }];
    parts.into_iter().filter(|part| part.to_s > part.from_s)
}
