//! The usable satellites of a moment: drawn once a second, sifted by the mask of every station.
use std::cell::RefCell;
use std::rc::Rc;

use super::choice::Choice;
use super::draw::Draw;
use super::hiding::{Hiding, OnLeg};
use super::sky::{Candidate, LinkSky};
use super::views::CellState;

/// What was drawn for each second of a drive, for others that meet the same satellites.
#[derive(Default)]
pub(super) struct DrawnSeconds<'a> {
    drawn: Vec<&'a Candidate>,
    /// Where in it a second begins and ends, counted from the first one that was asked for; nothing is drawn where it ends before
    /// it begins.
    spans: Vec<(u32, u32)>,
    first: Option<u64>,
}

/// No second was drawn there.
const NOT_DRAWN: (u32, u32) = (1, 0);

impl<'a> DrawnSeconds<'a> {
    fn at(&self, second: u64) -> Option<&[&'a Candidate]> {
        let nth = usize::try_from(second.checked_sub(self.first?)?).ok()?;
        let (from, to) = self.spans.get(nth).copied().unwrap_or(NOT_DRAWN);
        self.drawn.get(from as usize..to as usize)
    }
    /// Drives ask for their seconds in order, from the same first one on.
    fn keep(&mut self, second: u64, drawn: &[&'a Candidate]) {
        let first = *self.first.get_or_insert(second);
        let Some(nth) = second.checked_sub(first).and_then(|nth| usize::try_from(nth).ok()) else { return };
        if self.spans.len() <= nth {
            self.spans.resize(nth + 1, NOT_DRAWN);
        }
        let from = self.drawn.len() as u32;
        self.drawn.extend_from_slice(drawn);
        self.spans[nth] = (from, self.drawn.len() as u32);
    }
}

/// Lists that are filled when first asked for.
pub(super) struct Usable<'a> {
    sky: &'a LinkSky,
    draws: Draw,
    /// What drives with the same draws have drawn already.
    shared: Option<Rc<RefCell<DrawnSeconds<'a>>>>,
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
            shared: None,
            of_second: Vec::new(),
            second_is_current: false,
            list: Vec::new(),
            list_is_current: false,
            is_unsure: false,
            shut_run: 0,
            hidden_until_m: f64::NEG_INFINITY,
        }
    }

    /// Takes and keeps what is drawn with others that have the same draws under the same sky.
    pub fn share(&mut self, drawn: &Rc<RefCell<DrawnSeconds<'a>>>) {
        self.shared = Some(Rc::clone(drawn));
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
            self.take(second);
            self.second_is_current = true;
        }
        &self.of_second
    }

    fn take(&mut self, second: u64) {
        let Some(shared) = self.shared.clone() else { return self.draw(second) };
        if let Some(drawn) = shared.borrow().at(second) {
            self.of_second.clear();
            self.of_second.extend_from_slice(drawn);
            return;
        }
        self.draw(second);
        shared.borrow_mut().keep(second, &self.of_second);
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
