//! One bar for a whole build: each stage has a share of it, by the time it is forecast to take.
use std::sync::Mutex;
use std::time::Instant;

use super::forecast::StageForecast;
use crate::base::progress::{HowFar, Progress, WorkAhead};

/// Forecasts are believed until this much time has passed, seconds; then more and more what was measured.
const BELIEVED_S: f64 = 5.0;
/// What all stages are called before the road is known.
const READING: &str = "reading";
/// The bar moves by no less than this share.
const STEP: f64 = 0.001;

/// Turns the progress of stages, one after another, into that of all.
pub(super) struct Overall<'a> {
    watcher: &'a dyn Progress,
    began: Instant,
    course: Mutex<Course>,
}

impl<'a> Overall<'a> {
    /// Of stages in the order in which they come.
    pub fn new(watcher: &'a dyn Progress, stages: Vec<StageForecast>) -> Self {
        Self { watcher, began: Instant::now(), course: Mutex::new(Course::new(stages)) }
    }
    /// Forecasts of stages that are known better now.
    pub fn learn(&self, stages: &[StageForecast]) {
        self.change(|course| course.learn(stages));
    }
    fn change(&self, change: impl FnOnce(&mut Course)) {
        let Ok(mut course) = self.course.lock() else { return };
        change(&mut course);
        if let Some(far) = course.news(self.began.elapsed().as_secs_f64()) {
            self.watcher.far(&far);
        }
    }
}

impl Progress for Overall<'_> {
    fn begin(&self, stage: &str, _: &'static str, total: Option<u64>) {
        self.change(|course| course.begin(stage, total));
    }
    fn advance(&self, steps: u64) {
        self.change(|course| course.advance(steps));
    }
    fn end(&self) {
        self.change(Course::end);
    }
    fn warn(&self, message: &str) {
        self.watcher.warn(message);
    }
    fn ahead(&self, work: &WorkAhead) {
        self.watcher.ahead(work);
    }
}

impl Drop for Overall<'_> {
    fn drop(&mut self) {
        // Whatever became of it, there is no bar any more.
        self.watcher.far(&HowFar { share: 1.0, left_s: Some(0.0), stage: "" });
    }
}

/// Stages and how much of each is done.
#[derive(Debug)]
struct Course {
    stages: Vec<StageDone>,
    now: usize,
    /// In a stage that nobody forecast.
    aside: bool,
    /// Whether the road is known, and with it the time that it takes.
    learned: bool,
    told: f64,
}

#[derive(Debug)]
struct StageDone {
    forecast: StageForecast,
    done: u64,
    total: Option<u64>,
    over: bool,
}

impl StageDone {
    fn share(&self) -> f64 {
        match self.total {
            _ if self.over => 1.0,
            Some(total) if total > 0 => (self.done as f64 / total as f64).min(1.0),
            _ => 0.0,
        }
    }
}

impl Course {
    fn new(stages: Vec<StageForecast>) -> Self {
        let stage = |forecast| StageDone { forecast, done: 0, total: None, over: false };
        Self { stages: stages.into_iter().map(stage).collect(), now: 0, aside: false, learned: false, told: -1.0 }
    }
    fn learn(&mut self, stages: &[StageForecast]) {
        self.learned = true;
        for better in stages {
            if let Some(stage) = self.stages.iter_mut().find(|stage| stage.forecast.name == better.name) {
                stage.forecast = *better;
            }
        }
    }
    /// What comes before a stage that begins is over; one that was not forecast does not count.
    fn begin(&mut self, name: &str, total: Option<u64>) {
        let k = self.stages.iter().position(|stage| stage.forecast.name == name);
        self.aside = k.is_none();
        let Some(k) = k else { return };
        self.stages[..k].iter_mut().for_each(|stage| stage.over = true);
        (self.now, self.stages[k].done, self.stages[k].total) = (k, 0, total);
    }
    fn advance(&mut self, steps: u64) {
        if let Some(stage) = self.current() {
            stage.done += steps;
        }
    }
    fn end(&mut self) {
        if let Some(stage) = self.current() {
            stage.over = true;
        }
    }
    fn current(&mut self) -> Option<&mut StageDone> {
        self.stages.get_mut(self.now).filter(|stage| !self.aside && stage.total.is_some())
    }
    /// How far it is, if that is more than was told.
    fn news(&mut self, elapsed_s: f64) -> Option<HowFar> {
        let all_s: f64 = self.stages.iter().map(|stage| stage.forecast.seconds).sum();
        let done_s: f64 = self.stages.iter().map(|stage| stage.forecast.seconds * stage.share()).sum();
        let share = if all_s > 0.0 { done_s / all_s } else { 0.0 };
        // A forecast that grew does not move the bar back.
        if share < self.told + STEP || share >= 1.0 {
            return None;
        }
        self.told = share;
        let pace = (elapsed_s + BELIEVED_S) / (done_s + BELIEVED_S);
        let stage = self.stages.get(self.now).map_or("", |stage| stage.forecast.name);
        let stage = if self.learned { stage } else { READING };
        Some(HowFar { share, left_s: self.learned.then_some((all_s - done_s) * pace), stage })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn course() -> Course {
        let stage = |name, seconds| StageForecast { name, seconds };
        Course::new(vec![stage("read", 10.0), stage("rating", 80.0), stage("join", 10.0)])
    }

    #[test]
    fn stages_add_up_to_one_whole_and_time_left_is_that_of_all() {
        let mut course = course();
        course.begin("read", Some(4));
        course.advance(1);
        // How long the rest takes is a guess as long as the road is not known, and is not told.
        assert_eq!(course.news(5.0), Some(HowFar { share: 0.025, left_s: None, stage: "reading" }));
        course.learn(&[]);
        course.advance(1);
        // Five seconds of a hundred are done, as forecast.
        assert_eq!(course.news(5.0), Some(HowFar { share: 0.05, left_s: Some(95.0), stage: "read" }));
        assert_eq!(course.news(5.0), None, "nothing new");
        course.begin("rating", Some(100));
        course.advance(50);
        // Half of all is done in twice the time: so is the rest, but for what is still believed of the forecast.
        let far = course.news(100.0).unwrap();
        assert!(
            far.share == 0.5 && (far.left_s.unwrap() - 50.0 * 105.0 / 55.0).abs() < 1e-9 && far.stage == "rating",
            "{far:?}"
        );
        course.end();
        course.begin("join", Some(1));
        assert!((course.news(180.0).unwrap().share - 0.9).abs() < 1e-9);
        course.advance(1);
        assert_eq!(course.news(190.0), None, "the end is told by the build");
    }

    #[test]
    fn the_bar_never_goes_back_and_stages_nobody_forecast_do_not_count() {
        let mut course = course();
        course.begin("read", Some(1));
        course.advance(1);
        assert_eq!(course.news(1.0).map(|far| far.share), Some(0.1));
        course.learn(&[StageForecast { name: "rating", seconds: 980.0 }]);
        assert_eq!(course.news(1.0), None);
        course.begin("polish", Some(7));
        course.advance(7);
        course.begin("rating", None);
        course.advance(500);
        assert_eq!(course.news(1.0), None, "its steps are not known");
        course.begin("rating", Some(98));
        course.advance(49);
        assert_eq!(course.news(500.0).map(|far| far.share), Some(0.5));
    }
}
