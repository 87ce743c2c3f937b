//! What went wrong in an execution: panics, whoever caught them, memory and time.
use std::backtrace::Backtrace;
use std::panic::PanicHookInfo;
use std::sync::{Mutex, PoisonError};
use std::time::Duration;

use peak_alloc::PeakAlloc;
use waymask::base::foreign::foreign;

#[global_allocator]
static ALLOCATED: PeakAlloc = PeakAlloc;

/// A panic that was seen.
#[derive(Debug, Clone)]
pub struct Panicked {
    /// File and line, and what it said.
    pub said: String,
    /// It is not in a crate of other people.
    pub ours: bool,
}

static PANICS: Mutex<Vec<Panicked>> = Mutex::new(Vec::new());

/// Begins to see every panic, before the border to foreign parsers hides it.
pub fn panics_from_now_on() {
    std::panic::set_hook(Box::new(|_| {}));
    // The border puts its own hook over that; ours is asked before it.
    let _ = foreign("nothing", || ());
    let border = std::panic::take_hook();
    std::panic::set_hook(Box::new(move |info| {
        let seen = Panicked { said: said(info), ours: is_ours(info) };
        PANICS.lock().unwrap_or_else(PoisonError::into_inner).push(seen);
        border(info);
    }));
}

/// Panics since the last call.
pub fn panics() -> Vec<Panicked> {
    std::mem::take(&mut *PANICS.lock().unwrap_or_else(PoisonError::into_inner))
}

fn said(info: &PanicHookInfo<'_>) -> String {
    let payload = info.payload();
    let said = payload.downcast_ref::<&str>().copied().or_else(|| payload.downcast_ref::<String>().map(String::as_str));
    let at = info.location().map_or(String::new(), |at| format!("{}:{}", at.file(), at.line()));
    format!("{at}: {}", said.unwrap_or("no reason given").chars().take(300).collect::<String>())
}

/// Our files have relative paths; where it is the standard library that panics, whoever called it is looked up.
fn is_ours(info: &PanicHookInfo<'_>) -> bool {
    let file = info.location().map_or("", |at| at.file());
    if !file.starts_with("/rustc/") && !file.contains("/rustlib/") {
        return !file.starts_with('/');
    }
    let trace = Backtrace::force_capture().to_string();
    let files = trace.lines().filter_map(|line| line.trim().strip_prefix("at "));
    // Behind the hook itself come the standard library and then whoever called it.
    let mut callers = files.skip_while(|file| file.contains("tests/fuzz/watch.rs") || file.starts_with("/rustc/"));
    callers.next().is_none_or(|file| !file.contains("/registry/"))
}

/// Bytes that `work` had at most beyond what there was before it.
pub fn most_bytes<T>(work: impl FnOnce() -> T) -> (T, usize) {
    let before = ALLOCATED.current_usage();
    ALLOCATED.reset_peak_usage();
    let done = work();
    (done, ALLOCATED.peak_usage().saturating_sub(before))
}

/// Time that the processor spent on this program: a machine that is busy with others makes nothing slow. In steps of 10 ms.
pub fn worked() -> Duration {
    let stat = std::fs::read_to_string("/proc/self/stat").unwrap_or_default();
    // Behind the name of the program, which may hold spaces: the 12th and 13th word, in hundredths of a second (proc(5)).
    let words: Vec<&str> = stat.rsplit(')').next().unwrap_or_default().split_whitespace().collect();
    let ticks = |i: usize| words.get(i).and_then(|word| word.parse::<u64>().ok()).unwrap_or(0);
    Duration::from_millis(10 * (ticks(11) + ticks(12)))
}
