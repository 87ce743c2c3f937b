//! The one place that prints, but for the bars that `watch.rs` draws. What goes out here is cleaned of what a terminal would obey, whoever wrote it.
use std::ffi::OsString;
use std::io::{IsTerminal, Write};

use clap::Command;

use crate::base::error::{Error, Result};
use crate::base::plain::{escaped_json, many_lines, one_line};

/// What a command says on standard output.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Said {
    /// Text for people.
    Text(String),
    /// JSON: no character of it is lost.
    Json(String),
    /// For another program, a shell or `man`, as it is: made of the program's own words alone.
    Code(String),
}

/// Writes to standard output; a reader that has gone away is not an error.
pub(crate) fn print(said: &Said) -> Result<()> {
    let clean = match said {
        Said::Text(text) => many_lines(text),
        Said::Json(json) => escaped_json(json),
        Said::Code(code) => code.into(),
    };
    let mut out = std::io::stdout().lock();
    match out.write_all(clean.as_bytes()).and_then(|()| out.flush()) {
        Err(e) if e.kind() != std::io::ErrorKind::BrokenPipe => {
            Err(Error::io_of("standard output", "cannot be written", &e, "check where the output goes"))
        }
        _ => Ok(()),
    }
}

/// Writes lines to standard error. Where nobody can read them there is nobody to tell.
pub(crate) fn complain(lines: &str) {
    let lines = many_lines(lines.trim_end_matches('\n'));
    let _ = writeln!(std::io::stderr().lock(), "{lines}");
}

/// Whether a person sees standard error as it is written.
pub(crate) fn is_watched() -> bool {
    std::io::stderr().is_terminal()
}

/// What is wrong with the words typed. They are quoted in it, line ends and all, so the error is made anew from words
/// that hold none.
pub(crate) fn wrong_usage(command: Command, error: clap::Error, typed: impl Iterator<Item = OsString>) {
    complain(&remade(command, error, typed).render().to_string());
}

/// The same error, of words that hold no line ends.
fn remade(command: Command, error: clap::Error, typed: impl Iterator<Item = OsString>) -> clap::Error {
    let plain = typed.map(|word| OsString::from(one_line(&word.to_string_lossy()).as_ref()));
    command.try_get_matches_from(plain).err().filter(clap::Error::use_stderr).unwrap_or(error)
}

/// Prints what clap answers by itself, help and version, in the colours it has for a terminal. It holds no word of others. A
/// reader that has gone away (`waymask --help | head`) is not our failure.
pub(crate) fn help(answer: &clap::Error) {
    let _ = answer.print();
}

#[cfg(test)]
mod tests {
    use clap::{CommandFactory, Parser};

    use super::*;

    #[test]
    fn words_of_wrong_usage_are_quoted_on_one_line() {
        #[derive(Debug, Parser)]
        struct Few {
            #[arg(long)]
            n: u8,
        }
        let typed = ["few", "--n", "x\u{1b}[31m\nwaymask: all is well"].map(OsString::from);
        let error = Few::try_parse_from(&typed).unwrap_err();
        assert!(error.render().to_string().lines().any(|l| l.starts_with("waymask: all")), "the danger is real");
        let said = remade(Few::command(), error, typed.into_iter()).render().to_string();
        assert!(said.contains("x\u{FFFD}[31m waymask: all is well"), "{said}");
    }
}
