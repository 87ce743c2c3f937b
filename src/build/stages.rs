//! Times each stage and reports to the watcher.
use std::time::Instant;

use crate::base::error::Result;
use crate::base::progress::{Progress, StageTime};

/// Runs stages one after another.
pub(crate) struct Stages<'a> {
    watcher: &'a dyn Progress,
    /// The stages run so far.
    pub times: Vec<StageTime>,
}

impl<'a> Stages<'a> {
    /// Nothing run yet.
    pub fn new(watcher: &'a dyn Progress) -> Self {
        Self { watcher, times: Vec::new() }
    }
    /// A stage that reports to the watcher itself, if at all; `steps` counts what it made.
    pub fn whole<T>(
        &mut self,
        name: &'static str,
        unit: &'static str,
        work: impl FnOnce(&dyn Progress) -> Result<T>,
        steps: impl FnOnce(&T) -> u64,
    ) -> Result<T> {
        let began = Instant::now();
        let out = work(self.watcher)?;
        self.times.push(StageTime { name, seconds: began.elapsed().as_secs_f64(), steps: steps(&out), unit });
        Ok(out)
    }
    /// A stage of a known number of steps, each reported to the watcher as it is done.
    pub fn counted<T>(
        &mut self,
        name: &'static str,
        unit: &'static str,
        total: usize,
        work: impl FnOnce(&dyn Progress) -> Result<T>,
    ) -> Result<T> {
        let began = Instant::now();
        self.watcher.begin(name, unit, Some(total as u64));
        let out = work(self.watcher);
        self.watcher.end();
        let seconds = began.elapsed().as_secs_f64();
        self.times.push(StageTime { name, seconds, steps: total as u64, unit });
        out
    }
    /// Several stages that workers run side by side: their times are shares of how long all of it took.
    pub fn several<T>(
        &mut self,
        name: &'static str,
        unit: &'static str,
        total: u64,
        work: impl FnOnce(&dyn Progress) -> Result<(T, Vec<StageTime>)>,
    ) -> Result<T> {
        let began = Instant::now();
        self.watcher.begin(name, unit, Some(total));
        let out = work(self.watcher);
        self.watcher.end();
        let (out, times) = out?;
        let all_s: f64 = times.iter().map(|t| t.seconds).sum();
        let share = if all_s > 0.0 { began.elapsed().as_secs_f64() / all_s } else { 1.0 };
        self.times.extend(times.into_iter().map(|t| StageTime { seconds: t.seconds * share, ..t }));
        Ok(out)
    }
    /// Says that the last stage also made things worth a rate of their own.
    pub fn made(&mut self, steps: u64, unit: &'static str) {
        if let Some(last) = self.times.last_mut() {
            (last.steps, last.unit) = (steps, unit);
        }
    }
}

/// Times of the same stages in several places, added up.
pub(crate) fn joined(all: &[Vec<StageTime>]) -> Vec<StageTime> {
    let mut sums: Vec<StageTime> = Vec::new();
    for time in all.iter().flatten() {
        match sums.iter_mut().find(|sum| sum.name == time.name) {
            Some(sum) => {
                sum.seconds += time.seconds;
                sum.steps += time.steps;
            }
            None => sums.push(time.clone()),
        }
    }
    sums
}
