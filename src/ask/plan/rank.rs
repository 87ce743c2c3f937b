//! What simulated drives say of days found, and which of them is best by that.
use super::agenda::Agenda;
use super::crew::{Travellers, can_be_held};
use super::day::Day;
use super::search::{FoundDay, leg, spans};
use super::span::Span;
use super::told::{Asked, Depth, Figures, MeetingPart, Simulator, Whereabout};
use crate::base::error::Result;
use crate::base::words::Case;

/// A day found, span by span.
pub(super) struct DrivenDay {
    pub spans: Vec<Span>,
    /// Who drives each of them, where the travellers are named.
    drivers: Vec<Option<usize>>,
}

impl DrivenDay {
    /// Its spans, and who drives.
    pub fn of(day: &Day, found: &FoundDay) -> Self {
        let (agenda, spans) = (Agenda::of(day.meetings), spans(day, found));
        let drivers = spans.iter().map(|s| leg(day, s, agenda.touching(s.from_s, s.to_s)).0).collect();
        Self { spans, drivers }
    }
    /// The spans that a meeting touches, who drives them, and from when to when they are a part of it.
    pub fn touching<'a>(&'a self, asked: &'a Asked) -> impl Iterator<Item = (&'a Span, Option<usize>, (i64, i64))> {
        let all = self.spans.iter().zip(&self.drivers);
        all.filter_map(|(s, driver)| Some((s, *driver, s.overlap(asked.start_s, asked.end_s)?)))
    }
    /// Whether nobody is free to hold somebody's meeting while one of the travellers drives.
    pub fn misses(&self, day: &Day, driver: Option<usize>, of: Travellers) -> bool {
        driver.is_some_and(|driver| !can_be_held(&day.rules.crew, driver, of))
    }
}

/// Tells how meetings of a day fare.
pub(super) struct Teller<'a> {
    pub day: &'a Day<'a>,
    pub simulator: Option<&'a dyn Simulator>,
}

/// What is reported of a meeting.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum ToldRisk {
    /// By simulated drives.
    Simulated(Figures),
    /// By figures of the layer, which are never below what drives would show but by luck.
    Layer(Figures),
    /// Nobody is free to hold some of it.
    Missed,
    /// Some of it is where nothing is known.
    NotKnown,
}

impl ToldRisk {
    /// Its risk; what is not known counts as interrupted.
    fn counted(&self) -> f64 {
        match self {
            Self::Simulated(figures) | Self::Layer(figures) => figures.risk,
            Self::Missed | Self::NotKnown => 1.0,
        }
    }
}

impl Teller<'_> {
    /// A meeting on a day.
    pub fn told(&self, driven: &DrivenDay, asked: &Asked, of: Travellers, depth: Depth) -> Result<ToldRisk> {
        if driven.touching(asked).any(|(_, driver, _)| driven.misses(self.day, driver, of)) {
            return Ok(ToldRisk::Missed);
        }
        let spans = &driven.spans;
        let parts = asked.parts(self.day, spans);
        if parts.iter().any(|p| p.is_in_meeting() && p.whereabout == Whereabout::Unknown) {
            return Ok(ToldRisk::NotKnown);
        }
        match self.figures(&parts, asked, Case::Likely, depth)? {
            Some(figures) => Ok(ToldRisk::Simulated(figures)),
            None if self.simulator.is_some_and(Simulator::is_able) => Ok(ToldRisk::NotKnown),
            None => {
                let tolls = spans.iter().map(|s| s.toll(self.day, asked.kind, asked.start_s, asked.end_s));
                let sum = tolls.fold((0.0_f64, 0.0), |t, one| (t.0 + one.bound, t.1 + one.outage_s));
                Ok(ToldRisk::Layer(Figures { risk: sum.0.min(1.0), outage_s: sum.1 }))
            }
        }
    }
    /// The risk with what is assumed about the roadside at the favourable and the unfavourable end of its range, where either is known.
    pub fn range(&self, spans: &[Span], asked: &Asked, likely: f64) -> Result<[Option<f64>; 2]> {
        let parts = asked.parts(self.day, spans);
        // At places to stop nothing assumed about the roadside has a range.
        if !parts.iter().any(|p| p.is_in_meeting() && matches!(p.whereabout, Whereabout::Road { .. })) {
            return Ok([None; 2]);
        }
        let at = |case| self.figures(&parts, asked, case, Depth::Tell);
        let (best, worst) = (at(Case::Best)?, at(Case::Worst)?);
        Ok([best.map(|f| f.risk.min(likely)), worst.map(|f| f.risk.max(likely))])
    }
    fn figures(&self, parts: &[MeetingPart], asked: &Asked, case: Case, depth: Depth) -> Result<Option<Figures>> {
        let Some(simulator) = self.simulator else { return Ok(None) };
        simulator.figures(asked.kind.stands_s(self.day.edges), parts, case, depth)
    }
    /// What a day costs by simulated drives instead of figures of the layer, minutes.
    pub fn cost_min(&self, found: &FoundDay) -> Result<f64> {
        let (agenda, driven) = (Agenda::of(self.day.meetings), DrivenDay::of(self.day, found));
        let priced = |span: &Span| leg(self.day, span, agenda.touching(span.from_s, span.to_s)).1;
        let mut cost_min = found.cost_min - driven.spans.iter().map(priced).sum::<f64>();
        for m in agenda.touching(i64::MIN, i64::MAX) {
            let told = self.told(&driven, &Asked::new(m.kind, m.start_s, m.end_s), m.of, Depth::Rank)?;
            cost_min += self.day.rules.worth.of(m.kind) * told.counted() * m.count;
        }
        // Rounding may leave a hair below nothing.
        Ok(cost_min.max(0.0))
    }
    /// The day of those found that costs least by simulated drives, the first of equals.
    pub fn best(&self, found: Vec<FoundDay>) -> Result<Option<FoundDay>> {
        let mut best: Option<FoundDay> = None;
        for day in found {
            let cost_min = self.cost_min(&day)?;
            if best.as_ref().is_none_or(|b| cost_min < b.cost_min) {
                best = Some(FoundDay { cost_min, ..day });
            }
        }
        Ok(best)
    }
}
