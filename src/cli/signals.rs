//! Interrupts: nothing half-written stays, and the user is told what was kept.
use std::fmt::Write;
use std::path::PathBuf;

use signal_hook::consts::{SIGHUP, SIGINT, SIGTERM};
use signal_hook::iterator::Signals;
use signal_hook::low_level;

use super::terminal;
use crate::base::files::{self, Left};
use crate::base::plain::one_line;

/// Signals by which people and systems ask a program to end, and their names.
const ASKED_TO_END: [(i32, &str); 3] = [(SIGINT, "SIGINT"), (SIGTERM, "SIGTERM"), (SIGHUP, "SIGHUP")];
/// By custom a program that a signal ended has this much more than the signal's number as its exit code.
const SIGNAL_CODE: i32 = 128;

/// Watches for signals that ask the program to end, from a thread of its own: the others may be anywhere, in libraries too.
pub(crate) fn listen() {
    let ignored = ignored();
    let asked = ASKED_TO_END.map(|(signal, _)| signal).into_iter().filter(|signal| ignored >> (signal - 1) & 1 == 0);
    // Without a watcher signals end the program as they always do; the next run tidies up.
    let Ok(mut signals) = Signals::new(asked) else { return };
    let waiting = move || {
        if let Some(signal) = signals.forever().next() {
            end(signal);
        }
    };
    // A system without room for one more thread refuses those that do the work, too.
    let _ = std::thread::Builder::new().name("signals".into()).spawn(waiting);
}

/// Removes what is unfinished, says so and ends. Not by the way that also runs what libraries have left for the end: the
/// other threads are still inside them.
fn end(signal: i32) -> ! {
    let left = files::stop();
    // The terminal shows `^C` or a bar where the line would begin.
    let begin = if terminal::is_watched() { "\n" } else { "" };
    terminal::complain(&format!("{begin}waymask: {}", said(signal, &left)));
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
