//! The usable satellites of a moment: drawn once a second, sifted by the mask of every station.
use super::choice::Choice;
use super::draw::Draw;
use super::hiding::{Hiding, OnLeg};
use super::sky::{Candidate, LinkSky};
use super::views::CellState;

/// Lists that are filled when first asked for.
pub(super) struct Usable<'a> {
    sky: &'a LinkSky,
    draws: Draw,
    of_second: Vec<&'a Candidate>,
    second_is_current: bool,
    list: Vec<Choice<'a>>,
    list_is_current: bool,
    /// Whether crowns stand before one of the list.
    pub is_unsure: bool,
    /// Through how many further stations the masks hide every usable satellite of this second.
    pub shut_run: usize,
    /// Until this place, metres along the stroke, shadows hide every satellite of the list.
    pub hidden_until_m: f64,
}

impl<'a> Usable<'a> {
    /// Before the first look.
    pub fn new(sky: &'a LinkSky, draws: Draw) -> Self {
        Self {
            sky,
            draws,
            of_second: Vec::new(),
            second_is_current: false,
            list: Vec::new(),
            list_is_current: false,
            is_unsure: false,
            shut_run: 0,
            hidden_until_m: f64::NEG_INFINITY,
        }
    }

    /// Forgets what the last station or second showed.
    pub fn pass(&mut self, second: bool) {
        self.list_is_current = false;
        self.second_is_current &= !second;
    }

    /// Those that the mask of the station may let through, as last looked up.
    pub fn list(&self) -> &[Choice<'a>] {
        &self.list
    }

    /// Every usable satellite of a second, whatever hides it.
    pub fn of_second(&mut self, second: u64) -> &[&'a Candidate] {
        if !self.second_is_current {
            self.draw(second);
            self.second_is_current = true;
        }
        &self.of_second
    }

    /// Fills the lists for a moment.
    pub fn look_up(&mut self, hiding: &Hiding, on: OnLeg, second: u64) {
        if self.list_is_current {
            return;
        }
        self.of_second(second);
        self.sift(hiding, on);
        self.list_is_current = true;
        self.hidden_until_m = f64::NEG_INFINITY;
    }

    /// Draws which satellites of a second can be used. They follow no pattern: a list that is written without a branch takes
    /// half the time.
    fn draw(&mut self, second: u64) {
        let (candidates, share) = (self.sky.at(second), self.sky.rules.usable_share);
        self.of_second.clear();
        self.of_second.extend(candidates);
        let mut count = 0;
        for candidate in candidates {
            self.of_second[count] = candidate;
            count += usize::from(self.draws.of(u64::from(candidate.satellite)).unit() < share);
        }
        self.of_second.truncate(count);
    }

    fn sift(&mut self, hiding: &Hiding, on: OnLeg) {
        let heading_deg = on.leg.heading_deg(on.station);
        let (mut shut_run, mut all_shut) = (usize::MAX, true);
        self.is_unsure = false;
        self.list.clear();
        for &candidate in &self.of_second {
            match hiding.cell(on, candidate) {
                CellState::Shut(run) => shut_run = shut_run.min(run),
                cell => {
                    all_shut = false;
                    if self.sky.sees(candidate, heading_deg) {
                        // An open cell has no crowns, and its mask need not be asked.
                        let is_open = matches!(cell, CellState::Open(_));
                        let leaves = if is_open { 0 } else { Hiding::leaves(on, candidate) };
                        let (crowns, dimness) = (hiding.odds.blocked(leaves), hiding.odds.dimness(leaves));
                        self.is_unsure |= crowns > 0.0;
                        self.list.push(Choice { candidate, crowns, dimness });
                    }
                }
            }
        }
        self.shut_run = if all_shut { shut_run } else { 0 };
    }
}
