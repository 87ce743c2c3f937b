//! How a long stage reports what it has done, without knowing who watches, and how long it took.

/// Watches one stage after another. Implementations decide what a person sees.
pub trait Progress: Sync {
    /// A stage begins; `total` is its number of steps where known, `unit` what one step is called (`cells`).
    fn begin(&self, stage: &str, unit: &'static str, total: Option<u64>);
    /// `steps` more steps are done. Cheap, may be called from any thread.
    fn advance(&self, steps: u64);
    /// The stage is over.
    fn end(&self);
    /// A line the user should see even when the run goes on.
    fn warn(&self, message: &str);
}

/// Shows nothing.
#[derive(Debug, Default)]
pub struct Silent;

impl Progress for Silent {
    fn begin(&self, _: &str, _: &'static str, _: Option<u64>) {}
    fn advance(&self, _: u64) {}
    fn end(&self) {}
    fn warn(&self, _: &str) {}
}

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
