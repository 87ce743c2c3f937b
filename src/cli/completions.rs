//! `completions`: what a shell completes, made of the commands and options themselves.
use clap::Command;
use clap_complete::{Shell, generate};

use super::notes::{HelpExample, HelpNotes};
use super::terminal::Said;

/// What the help of `completions` ends with.
pub(crate) const NOTES: HelpNotes = HelpNotes {
    reads: "nothing",
    writes: "nothing; the completions are printed",
    examples: &[
        HelpExample {
            does: "For bash",
            line: "waymask completions bash > ~/.local/share/bash-completion/completions/waymask",
        },
        HelpExample { does: "For fish", line: "waymask completions fish > ~/.config/fish/completions/waymask.fish" },
    ],
};

/// Options of `completions`.
#[derive(Debug, clap::Args)]
pub(crate) struct CompletionsArgs {
    /// Shell that is to complete
    #[arg(value_name = "SHELL")]
    pub shell: Shell,
}

/// The completions of the whole command line.
pub fn run(args: &CompletionsArgs, mut command: Command) -> Said {
    let mut out = Vec::new();
    generate(args.shell, &mut command, "waymask", &mut out);
    Said::Code(String::from_utf8_lossy(&out).into_owned())
}
