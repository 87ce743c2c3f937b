//! The help as a person meets it: the commands in groups, and what each command's own help ends with.
use std::fmt::Write;

use clap::builder::styling::Style;
use clap::{Command, CommandFactory};

use super::args::Args;
use super::notes::HelpNotes;
use super::{
    build, completions, corridor, diff, edges, guide, info, man, map, merge, mounts, plan, route, sensitivity,
    settings, shards, sky, spend, stops,
};

/// What the commands are for, and which those are, in the order they are listed in.
pub(crate) const GROUPS: [(&str, &[&str]); 3] = [
    ("Make a layer", &["build", "shards", "merge", "sensitivity"]),
    ("Ask it", &["map", "corridor", "route", "plan", "mounts", "stops", "sky", "spend"]),
    ("Look after it", &["info", "diff", "edges", "settings", "guide", "man", "completions"]),
];

/// The notes of a command, by the words that lead to it.
pub(crate) const NOTES: [(&str, &HelpNotes); 22] = [
    ("build", &build::NOTES),
    ("completions", &completions::NOTES),
    ("corridor", &corridor::NOTES),
    ("diff", &diff::NOTES),
    ("edges", &edges::NOTES),
    ("guide", &guide::NOTES),
    ("info", &info::NOTES),
    ("man", &man::NOTES),
    ("map", &map::NOTES),
    ("merge", &merge::NOTES),
    ("mounts", &mounts::NOTES),
    ("plan", &plan::NOTES),
    ("route", &route::NOTES),
    ("sensitivity", &sensitivity::NOTES),
    ("settings", &settings::NOTES),
    ("settings profile", &settings::PROFILE_NOTES),
    ("settings trip", &settings::TRIP_NOTES),
    ("settings user", &settings::USER_NOTES),
    ("shards", &shards::NOTES),
    ("sky", &sky::NOTES),
    ("spend", &spend::NOTES),
    ("stops", &stops::NOTES),
];

/// The command line with its whole help.
pub(crate) fn command() -> Command {
    let command = with_notes(Args::command(), "");
    let template = template(&command);
    command.help_template(template)
}

/// The notes of the command that some words lead to.
pub(crate) fn notes(words: &str) -> Option<&'static HelpNotes> {
    NOTES.iter().find(|(of, _)| *of == words).map(|(_, notes)| *notes)
}

fn with_notes(command: Command, words: &str) -> Command {
    let command = match notes(words) {
        Some(notes) => command.after_long_help(notes.text()),
        None => command,
    };
    command.mut_subcommands(|inner| {
        let words = format!("{words} {}", inner.get_name());
        with_notes(inner, words.trim_start())
    })
}

/// The program's own help. clap lists all commands under one heading; here each group has its own.
fn template(command: &Command) -> String {
    let (heading, name) = (*command.get_styles().get_header(), *command.get_styles().get_literal());
    let mut out = String::from("{about-with-newline}\n{usage-heading} {usage}\n");
    for (title, names) in GROUPS {
        let _ = write!(out, "\n{}\n", styled(heading, &format!("{title}:")));
        for inner in names.iter().filter_map(|name| command.find_subcommand(name)) {
            let about = inner.get_about().map(ToString::to_string).unwrap_or_default();
            let _ = writeln!(out, "  {}  {about}", styled(name, &format!("{:11}", inner.get_name())));
        }
    }
    let more = "`waymask COMMAND -h` lists the options of a command. `waymask COMMAND --help`\n\
                tells more of each, what the command reads and writes, and examples.";
    let _ = write!(out, "\n{more}\n\n{}\n{{options}}{{after-help}}", styled(heading, "Options:"));
    out
}

fn styled(style: Style, text: &str) -> String {
    format!("{style}{text}{style:#}")
}
