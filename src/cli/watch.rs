//! Progress as a person sees it: a bar on a terminal, a line every ten seconds elsewhere, or nothing.
use std::fmt::Write;
use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant};

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressState, ProgressStyle};

use super::terminal::{complain, is_watched};
use crate::base::plain::one_line;
use crate::base::progress::{HowFar, Progress, WorkAhead};
use crate::report;

/// Between two lines where there is no terminal.
const LINE_EVERY: Duration = Duration::from_secs(10);

/// Chooses how progress is shown on standard error.
pub(crate) fn watcher(quiet: bool) -> Box<dyn Progress> {
    match (quiet, is_watched()) {
        (true, _) => Box::new(Quiet),
        (false, true) => Box::new(Bars { bar: Mutex::new(ProgressBar::hidden()) }),
        (false, false) => {
            Box::new(Lines { stage: Mutex::new(None), done: AtomicU64::new(0), told: Mutex::new(Instant::now()) })
        }
    }
}

/// Progress and warnings go to standard error, a line each.
fn line(text: &str) {
    complain(&one_line(text));
}

/// Only warnings are lost work worth hearing about even then; `--quiet` drops them too.
struct Quiet;

impl Progress for Quiet {
    fn begin(&self, _: &str, _: &'static str, _: Option<u64>) {}
    fn advance(&self, _: u64) {}
    fn end(&self) {}
    fn warn(&self, _: &str) {}
}

/// A rate as a person reads it: one decimal while it is small.
fn rate(per_s: f64) -> String {
    if per_s < 100.0 { format!("{per_s:.1}") } else { format!("{per_s:.0}") }
}

/// A bar per stage with rate and time left.
struct Bars {
    bar: Mutex<ProgressBar>,
}

impl Bars {
    fn with(&self, f: impl FnOnce(&mut ProgressBar)) {
        if let Ok(mut bar) = self.bar.lock() {
            f(&mut bar);
        }
    }
}

impl Progress for Bars {
    fn begin(&self, stage: &str, unit: &'static str, total: Option<u64>) {
        let bar = match total {
            Some(n) => ProgressBar::with_draw_target(Some(n), ProgressDrawTarget::stderr()),
            None => ProgressBar::new_spinner(),
        };
        let template = match total {
            Some(_) => "{prefix:>10} [{bar:30}] {human_pos}/{human_len} {msg}  {rate}  {eta} left",
            None => "{prefix:>10} {spinner} {human_pos} {msg}  {rate}  {elapsed}",
        };
        if let Ok(style) = ProgressStyle::with_template(template) {
            bar.set_style(style.progress_chars("=> ").with_key(
                "rate",
                move |state: &ProgressState, out: &mut dyn Write| {
                    // A line that cannot be written is drawn again with the next tick.
                    let _ = write!(out, "{} {unit}/s", rate(state.per_sec()));
                },
            ));
        }
        bar.set_prefix(one_line(stage).into_owned());
        bar.set_message(unit);
        bar.enable_steady_tick(Duration::from_millis(200));
        self.with(|b| *b = bar);
    }
    fn advance(&self, steps: u64) {
        self.with(|b| b.inc(steps));
    }
    fn end(&self) {
        self.with(|b| b.finish_and_clear());
    }
    fn warn(&self, message: &str) {
        self.with(|b| b.suspend(|| line(&format!("warning: {message}"))));
    }
    fn ahead(&self, work: &WorkAhead) {
        self.with(|b| b.suspend(|| line(&report::ahead_line(work))));
    }
    fn far(&self, far: &HowFar) {
        if far.share >= 1.0 {
            return self.end();
        }
        self.with(|b| {
            if b.length() != Some(WHOLE) || b.is_finished() {
                *b = whole_bar();
            }
            b.set_position((far.share * WHOLE as f64) as u64);
            b.set_message(in_words(far));
        });
    }
}

/// Steps of the bar of a whole build.
const WHOLE: u64 = 10_000;

fn whole_bar() -> ProgressBar {
    let bar = ProgressBar::with_draw_target(Some(WHOLE), ProgressDrawTarget::stderr());
    if let Ok(style) = ProgressStyle::with_template("[{bar:30}] {percent:>3} %  {msg}") {
        bar.set_style(style.progress_chars("=> "));
    }
    bar.enable_steady_tick(Duration::from_millis(200));
    bar
}

/// `rating, 2 min left`
fn in_words(far: &HowFar) -> String {
    far.left_s.map_or(far.stage.to_owned(), |left_s| format!("{}, {} left", far.stage, report::lasting(left_s)))
}

/// One line every ten seconds.
struct Lines {
    stage: Mutex<Option<Stage>>,
    done: AtomicU64,
    /// When the last line of a whole build was written.
    told: Mutex<Instant>,
}

struct Stage {
    name: String,
    unit: &'static str,
    total: Option<u64>,
    began: Instant,
    last: Instant,
}

impl Stage {
    fn text(&self, done: u64) -> String {
        let seconds = self.began.elapsed().as_secs_f64();
        let rate = done as f64 / seconds.max(1e-3);
        let (name, unit) = (&self.name, self.unit);
        match self.total {
            Some(n) if n > 0 && done > 0 => {
                let left = (n.saturating_sub(done)) as f64 / rate.max(1e-9);
                format!(
                    "{name}: {done} of {n} {unit} ({:.0} %), {} {unit}/s, {left:.0} s left",
                    100.0 * done as f64 / n as f64,
                    self::rate(rate)
                )
            }
            _ => format!("{name}: {done} {unit}, {} {unit}/s", self::rate(rate)),
        }
    }
}

impl Progress for Lines {
    fn begin(&self, stage: &str, unit: &'static str, total: Option<u64>) {
        self.done.store(0, Ordering::Relaxed);
        if let Ok(mut slot) = self.stage.lock() {
            let now = Instant::now();
            *slot = Some(Stage { name: stage.to_owned(), unit, total, began: now, last: now });
        }
    }
    fn advance(&self, steps: u64) {
        let done = self.done.fetch_add(steps, Ordering::Relaxed) + steps;
        // Another thread that holds the lock is writing the line already.
        if let Ok(mut slot) = self.stage.try_lock()
            && let Some(stage) = slot.as_mut()
            && stage.last.elapsed() >= LINE_EVERY
        {
            stage.last = Instant::now();
            line(&stage.text(done));
        }
    }
    fn end(&self) {
        if let Ok(mut slot) = self.stage.lock() {
            *slot = None;
        }
    }
    fn warn(&self, message: &str) {
        line(&format!("warning: {message}"));
    }
    fn ahead(&self, work: &WorkAhead) {
        line(&report::ahead_line(work));
    }
    fn far(&self, far: &HowFar) {
        if let Ok(mut told) = self.told.try_lock()
            && told.elapsed() >= LINE_EVERY
            && far.share < 1.0
        {
            *told = Instant::now();
            line(&format!("{:.0} % done: {}", 100.0 * far.share, in_words(far)));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_tells_share_rate_and_time_left() {
        let began = Instant::now() - Duration::from_secs(10);
        let stage = Stage { name: "sky".into(), unit: "cells", total: Some(200), began, last: began };
        let text = stage.text(50);
        assert!(text.starts_with("sky: 50 of 200 cells (25 %), 5.0 cells/s, 30 s left"), "{text}");
    }
}
