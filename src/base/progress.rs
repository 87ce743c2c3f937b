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
    /// What lies ahead, once it is known.
    fn ahead(&self, _: &WorkAhead) {}
    /// How far all stages together are, for work that shows one bar for the whole. Called between `begin` and `end` of none.
    fn far(&self, _: &HowFar) {}
}

/// What a build takes, told before it rates anything.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WorkAhead {
    /// Road, kilometres.
    pub km: f64,
    /// Districts with road or places to stop.
    pub districts: usize,
    /// Those of them whose part is there already.
    pub there: usize,
    /// Worker threads.
    pub threads: usize,
    /// Time by the clock for rating, seconds.
    pub rating_s: f64,
    /// Time by the clock for joining the layer, seconds; 0 where none is written.
    pub join_s: f64,
    /// The most memory that the process holds, bytes.
    pub memory_bytes: u64,
    /// Parts on disk that are not there yet, bytes.
    pub parts_bytes: u64,
    /// The layer, bytes; 0 where none is written.
    pub layer_bytes: u64,
}

/// How far work of several stages is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HowFar {
    /// Share of all the work that is done, 0 to 1; 1 ends it.
    pub share: f64,
    /// Time left for all of it, seconds; nothing while that is not known.
    pub left_s: Option<f64>,
    /// What it is doing.
    pub stage: &'static str,
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
