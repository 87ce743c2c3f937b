//! Times each stage and tells the watcher.
use std::time::Instant;

use crate::progress::Progress;

/// How long one stage took.
#[derive(Debug, Clone, PartialEq)]
pub struct StageTime {
    /// Stage, by its folder's name.
    pub name: &'static str,
    /// Wall-clock seconds.
    pub seconds: f64,
    /// Things done.
    pub steps: u64,
    /// What one of them is called.
    pub unit: &'static str,
}

impl StageTime {
    /// Things per second; nothing where none were counted.
    pub fn rate(&self) -> Option<f64> {
        (self.steps > 0 && self.seconds > 0.0).then(|| self.steps as f64 / self.seconds)
    }
}

/// Runs stages one after another.
pub struct Stages<'a> {
    watcher: &'a dyn Progress,
    /// The stages run so far.
    pub times: Vec<StageTime>,
}

impl<'a> Stages<'a> {
    /// Nothing run yet.
    pub fn new(watcher: &'a dyn Progress) -> Self {
        Self { watcher, times: Vec::new() }
    }
    /// Runs one stage; `steps` counts what it did, for the rate.
    pub fn run<T>(
        &mut self,
        name: &'static str,
        unit: &'static str,
        total: Option<u64>,
        work: impl FnOnce(&dyn Progress) -> T,
        steps: impl FnOnce(&T) -> u64,
    ) -> T {
        self.watcher.begin(name, unit, total);
        let began = Instant::now();
        let out = work(self.watcher);
        self.watcher.end();
        self.times.push(StageTime { name, seconds: began.elapsed().as_secs_f64(), steps: steps(&out), unit });
        out
    }
}
