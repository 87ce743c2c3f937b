//! The help: groups, examples, pages of the manual, completions, and what is said to words that are not known.
use std::collections::BTreeSet;

use clap::{Command, Parser};
use clap_complete::Shell;

use super::args::{self, Args};
use super::completions::{self, CompletionsArgs};
use super::help::{self, GROUPS, NOTES};
use super::man::{self, ManArgs};
use super::notes::{HelpExample, words};
use super::terminal::Said;

/// The words that lead to every command, those below another too.
fn all_commands() -> Vec<String> {
    fn below(command: &Command, path: &str, out: &mut Vec<String>) {
        for inner in command.get_subcommands() {
            let path = format!("{path} {}", inner.get_name()).trim_start().to_owned();
            below(inner, &path, out);
            out.push(path);
        }
    }
    let mut out = Vec::new();
    below(&help::command(), "", &mut out);
    out
}

fn code(said: Said) -> String {
    let Said::Code(code) = said else { panic!("not for a program: {said:?}") };
    code
}

/// Commands that are in no group or in several, and names in groups that no command has.
fn misplaced(command: &Command) -> Vec<String> {
    let known: Vec<&str> = command.get_subcommands().map(Command::get_name).collect();
    let grouped: Vec<&str> = GROUPS.iter().flat_map(|(_, names)| names.iter().copied()).collect();
    let times = |name: &&str| grouped.iter().filter(|g| *g == name).count();
    let wrong = known.iter().filter(|name| times(name) != 1).chain(grouped.iter().filter(|g| !known.contains(g)));
    wrong.map(|name| (*name).to_owned()).collect()
}

#[test]
fn every_command_is_in_one_group_and_the_help_shows_it_there() {
    let mut command = help::command();
    assert_eq!(misplaced(&command), Vec::<String>::new());
    assert_eq!(misplaced(&command.clone().subcommand(Command::new("new"))), ["new"]);
    let shown = command.render_help().to_string();
    let mut rest = shown.as_str();
    for (title, names) in GROUPS {
        rest = rest.split_once(&format!("\n{title}:\n")).unwrap_or_else(|| panic!("{title}: {shown}")).1;
        for name in names {
            let about = command.find_subcommand(name).unwrap().get_about().unwrap().to_string();
            let line = rest.lines().next().unwrap();
            assert!(line.trim_start().starts_with(name) && line.ends_with(&about), "{name}: {line}");
            assert!(line.len() <= 80, "too long for a narrow terminal: {line}");
            rest = rest.split_once('\n').unwrap().1;
        }
    }
    assert!(rest.contains("\nOptions:\n") && rest.contains("never the driver") && rest.contains("Exit codes: 0 done"));
}

#[test]
fn every_command_tells_what_it_reads_and_writes_and_two_examples_that_parse() {
    let told: BTreeSet<&str> = NOTES.iter().map(|(of, _)| *of).collect();
    let commands: BTreeSet<String> = all_commands().into_iter().collect();
    assert_eq!(told, commands.iter().map(String::as_str).collect());
    for (of, notes) in NOTES {
        for told in [notes.reads, notes.writes] {
            assert!(!told.is_empty() && told.len() <= 90, "one line: {told}");
        }
        assert!((2..=4).contains(&notes.examples.len()), "{of}");
        for example in notes.examples {
            assert!(example.line.starts_with(&format!("waymask {of}")), "{of}: {}", example.line);
            let typed: Vec<String> = typed(example.line);
            if let Err(error) = Args::try_parse_from(&typed) {
                panic!("{}\n{error}", example.line);
            }
            for line in example.folded() {
                assert!(line.len() + 4 <= 80, "too long for a narrow terminal: {line}");
            }
        }
    }
    assert!(Args::try_parse_from(typed("waymask info a.gpkg --jsn")).is_err());
}

/// The words of an example as the program gets them from the shell.
fn typed(line: &str) -> Vec<String> {
    let own = words(line).into_iter().take_while(|word| !["|", ">"].contains(word));
    own.map(|word| word.replace('"', "")).collect()
}

#[test]
fn the_short_help_is_short_and_the_long_one_ends_with_the_examples() {
    let mut whole = help::command();
    whole.build();
    for path in all_commands() {
        let mut command = path.split(' ').fold(&whole, |c, name| c.find_subcommand(name).unwrap()).clone();
        let (short, long) = (command.render_help().to_string(), command.render_long_help().to_string());
        assert!(
            !short.contains("Reads:") && long.contains("\nReads: ") && long.contains("\nWrites: "),
            "{path}: {long}"
        );
        let notes = help::notes(&path).unwrap();
        for example in notes.examples {
            let shown: Vec<String> = example.folded().iter().map(|line| format!("    {line}")).collect();
            assert!(long.contains(&shown.join("\n")), "{path}: {long}");
        }
    }
}

#[test]
fn texts_of_the_help_keep_to_one_style() {
    fn texts(command: &Command, out: &mut Vec<String>) {
        out.extend(command.get_about().map(ToString::to_string));
        out.extend(command.get_arguments().filter_map(|arg| arg.get_help()).map(ToString::to_string));
        command.get_subcommands().for_each(|inner| texts(inner, out));
    }
    let mut all = Vec::new();
    texts(&help::command(), &mut all);
    assert!(all.len() > 80, "only {} texts", all.len());
    for text in all {
        assert!(text.starts_with(char::is_uppercase) && !text.ends_with('.'), "{text}");
        assert_eq!(text.contains("several times"), text.contains("may be given several times"), "{text}");
        assert!(text.len() <= 140, "keep the rest for --help: {text}");
    }
}

#[test]
fn every_command_has_a_page_of_the_manual() {
    let page = |words: &[&str]| {
        let args = ManArgs { page: words.iter().map(|w| (*w).to_owned()).collect(), list: false };
        man::run(&args, help::command(), help::notes).map(code).unwrap()
    };
    let Said::Text(listed) = man::run(&ManArgs { page: vec![], list: true }, help::command(), help::notes).unwrap()
    else {
        panic!("no list");
    };
    let names: Vec<String> = all_commands().iter().map(|c| format!("waymask-{}", c.replace(' ', "-"))).collect();
    let (first, rest) = listed.split_once('\n').unwrap();
    assert_eq!(first, "waymask");
    assert_eq!(rest.lines().map(str::to_owned).collect::<BTreeSet<_>>(), names.iter().cloned().collect());
    for path in all_commands() {
        let text = page(&path.split(' ').collect::<Vec<_>>());
        let name = format!("waymask-{}", path.replace(' ', "-"));
        assert_eq!(text, page(&[&name]));
        assert!(text.contains(&format!(".SH NAME\n{} \\- ", name.replace('-', "\\-"))), "{text}");
        for heading in ["SYNOPSIS", "DESCRIPTION", "OPTIONS", "FILES", "EXAMPLES"] {
            assert!(text.contains(&format!("\n.SH {heading}\n")), "{heading}: {text}");
        }
        for line in help::notes(&path).unwrap().examples.iter().flat_map(HelpExample::folded) {
            assert!(text.replace("\\-", "-").replace("\\\\", "\\").contains(&line), "{line}: {text}");
        }
    }
    let program = page(&[]);
    assert!(program.contains("CAUTIONS") && program.contains("never the driver"), "{program}");
    let args = ManArgs { page: vec!["corider".into()], list: false };
    let said = man::run(&args, help::command(), help::notes).unwrap_err().to_string();
    assert!(said.starts_with("corider: is not a command\n  Did you mean `corridor`?"), "{said}");
}

#[test]
fn completions_name_every_command() {
    for shell in [Shell::Bash, Shell::Zsh, Shell::Fish, Shell::Elvish, Shell::PowerShell] {
        let text = code(completions::run(&CompletionsArgs { shell }, help::command()));
        for name in all_commands().iter().flat_map(|c| c.split(' ')) {
            assert!(text.contains(name), "{shell} does not complete {name}");
        }
        assert!(text.contains("polyline-precision"), "{shell} completes no flags");
    }
}

#[test]
fn words_that_are_not_known_are_told_the_nearest() {
    for (typed, near) in [
        ("corider l.gpkg t.gpx", "'corridor'"),
        ("plan l.gpkg t.gpx --meeting m.ics", "'--meetings'"),
        ("settings profil", "'profile'"),
        ("guide glosary", "'glossary'"),
        ("completions bsh", "'bash'"),
        ("build m.osm.pbf -o l.gpkg --elevation-kind surfac", "'surface'"),
        ("build m.osm.pbf -o l.gpkg -e surfac:dsm.tif", "`surface:`"),
        ("build m.osm.pbf -o l.gpkg --season leafon", "`leaf-on`"),
        ("stops l.gpkg --kind fule", "`fuel`"),
    ] {
        let words = ["waymask"].into_iter().chain(typed.split(' '));
        let said = args::Args::try_parse_from(words).unwrap_err().to_string();
        assert!(said.contains(near), "{typed}: {said}");
    }
}
