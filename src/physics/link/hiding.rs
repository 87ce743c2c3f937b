//! What hides satellites from a moving vehicle: horizon and crowns by the mask of a station, and the shadows of what stands
//! overhead in continuous time.
use super::choice::Choice;
use super::crowns::CrownOdds;
use super::draw::Draw;
use super::road::{Cover, Leg, StrokeRoad};
use super::sky::{Candidate, LinkSky};
use super::views::{CellState, View};

/// A leg and the station of it whose mask holds.
#[derive(Clone, Copy)]
pub(super) struct OnLeg<'l> {
    pub leg: &'l Leg<'l>,
    pub station: usize,
    /// What the mask of the station does.
    pub view: View<'l>,
}

/// What can hide a satellite within the piece driven.
pub(super) struct Hiding<'a> {
    sky: &'a LinkSky,
    /// What crowns do on this drive.
    pub odds: &'a CrownOdds,
    /// Draws of the gaps between crowns, and of those at the gap length that is driven.
    crowns: Draw,
    crowns_here: Draw,
    gap: u64,
    /// Covers that can hide anything within the piece, and the first one not yet reached.
    near: Vec<Cover<'a>>,
    next_cover: usize,
}

impl<'a> Hiding<'a> {
    /// Before the first piece.
    pub fn new(sky: &'a LinkSky, odds: &'a CrownOdds, crowns: Draw) -> Self {
        Self { sky, odds, crowns, crowns_here: crowns.of(0), gap: 0, near: Vec::new(), next_cover: 0 }
    }

    /// Whether anything overhead can hide anything within the piece.
    pub fn has_covers(&self) -> bool {
        !self.near.is_empty()
    }

    /// Comes to a gap length, counted from the start of the drive: crowns have gaps of their own at each.
    pub fn meet_gap(&mut self, gap: u64) {
        if self.gap != gap {
            self.gap = gap;
            self.crowns_here = self.crowns.of(gap);
        }
    }

    /// Whether nothing overhead can hide anything from here to a place, metres along the stroke.
    pub fn is_uncovered_until(&self, road: &StrokeRoad, to_m: f64) -> bool {
        self.near.is_empty() && road.covers.get(self.next_cover).is_none_or(|cover| cover.from_m > to_m)
    }

    /// Keeps the covers that can hide anything between two places, metres along the stroke.
    pub fn meet(&mut self, road: &StrokeRoad<'a>, from_m: f64, to_m: f64) {
        self.near.retain(|cover| cover.to_m >= from_m);
        while let Some(cover) = road.covers.get(self.next_cover).filter(|c| c.from_m <= to_m) {
            self.near.push(*cover);
            self.next_cover += 1;
        }
    }

    /// What the mask does to a candidate; the horizon of a cell is looked up, so that only crowns leave anything open.
    #[inline]
    pub fn cell(&self, on: OnLeg, candidate: &Candidate) -> CellState {
        match on.view.cell(candidate.cell) {
            CellState::Horizon => self.by_horizon(on, candidate),
            CellState::Gaps => self.by_crowns(on, candidate),
            cell => cell,
        }
    }

    /// What crowns do on this drive: where others have gaps it may have none.
    fn by_crowns(&self, on: OnLeg, candidate: &Candidate) -> CellState {
        match self.odds.blocked(Self::leaves(on, candidate)) {
            0.0 => CellState::Open(0),
            1.0 => CellState::Shut(0),
            _ => CellState::Gaps,
        }
    }

    fn by_horizon(&self, on: OnLeg, candidate: &Candidate) -> CellState {
        let Some(mask) = on.leg.mask(on.station) else { return CellState::Open(0) };
        let bin = usize::from(candidate.bin);
        if self.sky.ray(candidate).elevation_deg < mask.terrain_deg[bin].max(mask.solid_deg[bin]) {
            return CellState::Shut(0);
        }
        self.by_crowns(on, candidate)
    }

    /// Step of the attenuation by crowns before a candidate.
    pub fn leaves(on: OnLeg, candidate: &Candidate) -> u8 {
        let level = on.leg.mask(on.station).and_then(|mask| mask.canopy.get(usize::from(candidate.cell)));
        level.copied().unwrap_or(0)
    }

    /// How densely crowns stand before a candidate, in eighths of the probability that they block. What is shut is not asked
    /// for.
    pub fn dimness(&self, on: OnLeg, candidate: &Candidate) -> u8 {
        match on.view.cell(candidate.cell) {
            CellState::Open(_) => 0,
            _ => self.odds.dimness(Self::leaves(on, candidate)),
        }
    }

    /// Up to where, metres along the stroke, the shadows over a place hide every one of some satellites: spares
    /// a drive through a tunnel the search at every border. Later covers can only add shadow.
    pub fn shadows_until_m(&self, sky: &[Choice], stroke_m: f64) -> f64 {
        if self.near.is_empty() {
            return f64::NEG_INFINITY;
        }
        let until_m = |c: &Candidate| {
            let shadows = self.near.iter().filter_map(|cover| {
                let (from_m, to_m) = cover.shadow_m(self.sky.ray(c))?;
                (from_m <= stroke_m).then_some(to_m)
            });
            shadows.fold(f64::NEG_INFINITY, f64::max)
        };
        sky.iter().map(|choice| until_m(choice.candidate)).fold(f64::INFINITY, f64::min)
    }

    /// Whether crowns hide a candidate at this gap length, which they do with a probability. No draw is below 0, and every
    /// one below 1.
    fn is_behind_crowns(&self, candidate: &Candidate, probability: f64) -> bool {
        self.crowns_here.of(u64::from(candidate.cell)).unit() < probability
    }

    /// Whether horizon or canopy hide a candidate throughout the piece.
    fn is_masked(&self, on: OnLeg, candidate: &Candidate) -> bool {
        match self.cell(on, candidate) {
            CellState::Open(_) => false,
            CellState::Shut(_) => true,
            CellState::Gaps | CellState::Horizon => {
                self.is_behind_crowns(candidate, self.odds.blocked(Self::leaves(on, candidate)))
            }
        }
    }

    /// Whether the mask lets one of the list through here.
    pub fn lets_through(&self, choice: &Choice) -> bool {
        !self.is_behind_crowns(choice.candidate, choice.crowns)
    }

    /// Whether something overhead hides a candidate at a moment.
    pub fn is_shadowed(&self, leg: &Leg, candidate: &Candidate, now_s: f64) -> bool {
        self.shadows_s(leg, candidate).any(|(from_s, to_s)| from_s <= now_s && now_s < to_s)
    }

    /// Shadows, seconds of driving at this leg's speed, of what can hide a candidate in the piece.
    fn shadows_s(&self, leg: &Leg, candidate: &Candidate) -> impl Iterator<Item = (f64, f64)> {
        self.near.iter().filter_map(move |cover| {
            let (from_m, to_m) = cover.shadow_m(self.sky.ray(candidate))?;
            Some((leg.time_s(from_m), leg.time_s(to_m)))
        })
    }

    /// Whether a candidate is in open sky at a moment.
    pub fn is_open(&self, on: OnLeg, candidate: &Candidate, now_s: f64) -> bool {
        !self.is_masked(on, candidate) && !self.is_shadowed(on.leg, candidate, now_s)
    }

    /// First moment of `from_s..to_s` at which a candidate is hidden.
    pub fn first_blocked_s(&self, on: OnLeg, candidate: &Candidate, from_s: f64, to_s: f64) -> Option<f64> {
        if from_s >= to_s {
            return None;
        }
        if self.is_masked(on, candidate) {
            return Some(from_s);
        }
        let ahead = self.shadows_s(on.leg, candidate).filter(|&(begins_s, ends_s)| ends_s > from_s && begins_s < to_s);
        ahead.map(|(begins_s, _)| begins_s.max(from_s)).min_by(f64::total_cmp)
    }

    /// First moment of `from_s..to_s` at which a candidate is in open sky.
    pub fn first_open_s(&self, on: OnLeg, candidate: &Candidate, from_s: f64, to_s: f64) -> Option<f64> {
        if from_s >= to_s || self.is_masked(on, candidate) {
            return None;
        }
        // Every turn leaves one more shadow behind, so there are at most as many turns as shadows.
        let mut open_s = from_s;
        while let Some((_, ends_s)) =
            self.shadows_s(on.leg, candidate).find(|&(begins_s, ends_s)| begins_s <= open_s && open_s < ends_s)
        {
            open_s = ends_s;
            if open_s >= to_s {
                return None;
            }
        }
        Some(open_s)
    }
}
