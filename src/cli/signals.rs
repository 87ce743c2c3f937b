//! Interrupts: nothing half-written stays, and the user is told what was kept.
use std::fmt::Write;
use std::path::PathBuf;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, mpsc};
use std::time::Duration;

use signal_hook::consts::{SIGHUP, SIGINT, SIGTERM};
use signal_hook::iterator::Signals;
use signal_hook::{flag, low_level};

use super::terminal;
use crate::base::files::{self, Left};
use crate::base::plain::one_line;

/// Signals by which people and systems ask a program to end, and their names.
const ASKED_TO_END: [(i32, &str); 3] = [(SIGINT, "SIGINT"), (SIGTERM, "SIGTERM"), (SIGHUP, "SIGHUP")];
/// By custom a program that a signal ended has this much more than the signal's number as its exit code.
const SIGNAL_CODE: i32 = 128;
/// The program ends after this, whether or not what it says was taken: a terminal may be held, a pipe full.
const TELLING: Duration = Duration::from_secs(1);

/// Watches for signals that ask the program to end, from a thread of its own: the others may be anywhere, in libraries too.
pub(crate) fn listen() {
    let ignored = ignored();
    let asked = ASKED_TO_END.map(|(signal, _)| signal).into_iter().filter(|signal| ignored >> (signal - 1) & 1 == 0);
    let asked: Vec<i32> = asked.collect();
    // The second one ends the program at once, whatever the first still waits for: a slow disk, a full pipe.
    let stopping = Arc::new(AtomicBool::new(false));
    for signal in &asked {
        let _ = flag::register_conditional_shutdown(*signal, SIGNAL_CODE + signal, Arc::clone(&stopping));
    }
    let begun = Arc::clone(&stopping);
    let watching = Signals::new(&asked).and_then(|mut signals| {
        let waiting = move || {
            if let Some(signal) = signals.forever().next() {
                begun.store(true, Ordering::SeqCst);
                end(signal);
            }
        };
        std::thread::Builder::new().name("signals".into()).spawn(waiting)
    });
    // Without a watcher the first one ends the program at once; the next run tidies up.
    if watching.is_err() {
        stopping.store(true, Ordering::SeqCst);
    }
}

/// Removes what is unfinished, says so and ends. Not by the way that also runs what libraries have left for the end: the
/// other threads are still inside them.
fn end(signal: i32) -> ! {
    let left = files::stop();
    // The terminal shows `^C` or a bar where the line would begin.
    let begin = if terminal::is_watched() { "\n" } else { "" };
    let (tell, told) = mpsc::channel();
    let telling = move || {
        terminal::complain(&format!("{begin}waymask: {}", said(signal, &left)));
        let _ = tell.send(());
    };
    if std::thread::Builder::new().spawn(telling).is_ok() {
        let _ = told.recv_timeout(TELLING);
    }
    low_level::exit(SIGNAL_CODE + signal)
}

/// What stopped the program and what is left of every output.
fn said(signal: i32, left: &[(PathBuf, Left)]) -> String {
    let name = ASKED_TO_END.iter().find(|(number, _)| *number == signal).map_or("a signal", |(_, name)| name);
    let mut text = format!("stopped by {name}");
    for (path, left) in left {
        let what = match left {
            Left::Whole => "was finished before and is kept",
            Left::Before => "what was there before is untouched; the new file was not finished and is removed",
            Left::Nothing => "was not finished and is removed",
        };
        let _ = write!(text, "\n  {}: {what}", one_line(&path.display().to_string()));
    }
    text
}

/// Signals that whoever started the program told it to ignore (`nohup`, a shell that starts it in the background), one
/// bit each; they stay ignored.
fn ignored() -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let mask = status.lines().find_map(|line| line.strip_prefix("SigIgn:"));
    mask.and_then(|hex| u64::from_str_radix(hex.trim(), 16).ok()).unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_left_is_told_file_by_file() {
        let left = [("a.csv", Left::Whole), ("b.gpkg", Left::Before), ("c.gpkg", Left::Nothing)];
        let text = said(SIGTERM, &left.map(|(path, left)| (path.into(), left)));
        let lines: Vec<&str> = text.lines().collect();
        assert_eq!((lines.len(), lines[0]), (4, "stopped by SIGTERM"));
        assert!(lines[1].starts_with("  a.csv: ") && lines[1].ends_with("is kept"), "{text}");
        assert!(lines[2].contains("b.gpkg") && lines[2].contains("before is untouched"), "{text}");
        assert!(lines[3].contains("c.gpkg") && !lines[3].contains("before"), "{text}");
        assert_eq!(said(SIGINT, &[]), "stopped by SIGINT");
    }
}
