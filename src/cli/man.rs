//! `man`: pages of the manual, made of the commands and options themselves.
use clap::Command;
use clap_mangen::Man;
use clap_mangen::roff::{Roff, bold, roman};

use super::notes::{HelpExample, HelpNotes};
use super::terminal::Said;
use crate::base::error::{Error, Result};
use crate::base::nearest::meant;

/// What the help of `man` ends with.
pub(crate) const NOTES: HelpNotes = HelpNotes {
    reads: "nothing",
    writes: "nothing; the page is printed. `scripts/manual FOLDER` writes all of them",
    examples: &[
        HelpExample { does: "The page of a command", line: "waymask man plan | man -l -" },
        HelpExample { does: "What pages there are", line: "waymask man --list" },
    ],
};

/// Options of `man`.
#[derive(Debug, clap::Args)]
pub(crate) struct ManArgs {
    /// Command whose page is printed; without it that of the program
    #[arg(value_name = "COMMAND")]
    pub page: Vec<String>,
    /// List the names of all pages instead
    #[arg(long, conflicts_with = "page")]
    pub list: bool,
}

/// The page asked for, in the language of `man`; `command` is the whole command line, `notes` those of the words that lead to
/// a command.
///
/// # Errors
/// There is no such command.
pub fn run(args: &ManArgs, command: Command, notes: impl Fn(&str) -> Option<&'static HelpNotes>) -> Result<Said> {
    let pages = pages(command);
    if args.list {
        return Ok(Said::Text(pages.iter().map(|page| format!("{}\n", page.name)).collect()));
    }
    let asked = args.page.join("-");
    let name = match asked.as_str() {
        "" => PROGRAM.to_owned(),
        own if own == PROGRAM || own.starts_with("waymask-") => own.to_owned(),
        command => format!("{PROGRAM}-{command}"),
    };
    let Some(page) = pages.iter().find(|page| page.name == name) else {
        let known = pages.iter().map(|page| page.words.as_str()).filter(|words| !words.is_empty());
        let next = meant(&args.page.join(" "), known, "`waymask man --list` lists the pages");
        return Err(Error::usage(args.page.join(" "), "is not a command", next));
    };
    Ok(Said::Code(page.text(notes(&page.words))))
}

/// What the first page is called, and what the names of the others begin with.
const PROGRAM: &str = "waymask";

/// A page of the manual.
struct ManPage {
    /// `waymask-settings-trip`
    name: String,
    /// `settings trip`: what leads to the command.
    words: String,
    command: Command,
}

/// The program's page and one for each command, also those below another.
fn pages(command: Command) -> Vec<ManPage> {
    let mut whole = command.disable_help_subcommand(true);
    whole.build();
    let mut out = Vec::new();
    collect(&whole, String::new(), &mut out);
    out
}

fn collect(command: &Command, words: String, out: &mut Vec<ManPage>) {
    let name = format!("{PROGRAM} {words}").trim_end().replace(' ', "-");
    out.push(ManPage { name, words: words.clone(), command: command.clone() });
    for inner in command.get_subcommands() {
        collect(inner, format!("{words} {}", inner.get_name()).trim_start().to_owned(), out);
    }
}

impl ManPage {
    fn text(&self, notes: Option<&HelpNotes>) -> String {
        let man = Man::new(self.command.clone())
            .title(&self.name)
            .source(concat!("waymask ", env!("CARGO_PKG_VERSION")))
            .manual("waymask");
        let mut out = Vec::new();
        // Writing to memory does not fail.
        let _ = man.render_title(&mut out);
        let _ = man.render_name_section(&mut out);
        let _ = man.render_synopsis_section(&mut out);
        let _ = man.render_description_section(&mut out);
        let _ = man.render_options_section(&mut out);
        if self.command.has_subcommands() {
            let _ = man.render_subcommands_section(&mut out);
        }
        let _ = self.end(notes).to_writer(&mut out);
        String::from_utf8_lossy(&out).into_owned()
    }

    /// What the help ends with. The crate that makes pages would run its lines together.
    fn end(&self, notes: Option<&HelpNotes>) -> Roff {
        let mut roff = Roff::new();
        if let Some(notes) = notes {
            roff.control("SH", ["FILES"]);
            roff.text([bold("Reads: "), roman(notes.reads)]);
            roff.control("PP", []);
            roff.text([bold("Writes: "), roman(notes.writes)]);
            roff.control("SH", ["EXAMPLES"]);
            roff.text([roman(HelpNotes::FROM)]);
            for example in notes.examples {
                roff.control("PP", []);
                roff.text([roman(format!("{}:", example.does))]);
                roff.control("PP", []);
                roff.control("RS", ["4"]);
                roff.control("EX", []);
                for line in example.folded() {
                    roff.text([roman(line)]);
                }
                roff.control("EE", []);
                roff.control("RE", []);
            }
        } else if let Some(text) = self.command.get_after_help() {
            roff.control("SH", ["CAUTIONS AND EXIT STATUS"]);
            for paragraph in text.to_string().split("\n\n") {
                roff.text([roman(paragraph)]);
                roff.control("PP", []);
            }
        }
        roff
    }
}
