//! `guide`: the pages of the guide, as they are written.
use std::fmt::Write;

use clap::builder::PossibleValuesParser;

use super::notes::{HelpExample, HelpNotes};
use crate::guide;

/// What the help of `guide` ends with.
pub(crate) const NOTES: HelpNotes = HelpNotes {
    reads: "nothing; the pages are in the program",
    writes: "nothing; the page is printed",
    examples: &[
        HelpExample { does: "What pages there are", line: "waymask guide" },
        HelpExample { does: "What the words mean", line: "waymask guide glossary" },
    ],
};

/// Options of `guide`.
#[derive(Debug, clap::Args)]
pub(crate) struct GuideArgs {
    /// Page to print; without it the pages are listed
    #[arg(value_name = "TOPIC", value_parser = PossibleValuesParser::new(guide::pages().map(|page| page.topic)), hide_possible_values = true)]
    pub topic: Option<String>,
}

/// The page asked for, else the list of topics.
pub fn answer(args: &GuideArgs) -> String {
    match args.topic.as_deref().and_then(guide::find) {
        Some(page) => page.text.trim_start().to_owned(),
        None => topics(),
    }
}

fn topics() -> String {
    let mut out = String::from("waymask guide TOPIC prints one of\n");
    for page in guide::pages() {
        let _ = writeln!(out, "  {:22}  {}", page.topic, page.title);
    }
    out
}

#[cfg(test)]
mod tests {
    use clap::Parser;

    use super::*;
    use crate::cli::args::{Args, Command};

    fn asked(words: &[&str]) -> Result<String, String> {
        let args = Args::try_parse_from([&["waymask", "guide"], words].concat()).map_err(|e| e.to_string())?;
        let Command::Guide(args) = args.command else { panic!("another command") };
        Ok(answer(&args))
    }

    #[test]
    fn without_topic_all_are_listed() {
        let listed = asked(&[]).unwrap();
        for page in guide::pages() {
            assert!(
                listed.lines().any(|l| l.trim_start().starts_with(page.topic) && l.ends_with(page.title)),
                "{listed}"
            );
        }
    }

    #[test]
    fn a_topic_is_printed_as_it_is_written() {
        assert_eq!(asked(&["decisions/drives"]).unwrap(), guide::find("decisions/drives").unwrap().text);
    }

    #[test]
    fn a_typo_is_told_the_nearest_topic() {
        let refusal = asked(&["glosary"]).unwrap_err();
        assert!(refusal.contains("similar") && refusal.contains("glossary"), "{refusal}");
    }
}
