//! What the help of a command ends with: what it reads and writes, and examples. Each command has its own beside its options.
use std::fmt::Write;

/// The notes of a command.
#[derive(Debug)]
pub(crate) struct HelpNotes {
    /// What it reads.
    pub reads: &'static str,
    /// What it writes to files.
    pub writes: &'static str,
    /// Lines that work.
    pub examples: &'static [HelpExample],
}

/// A line to type.
#[derive(Debug)]
pub(crate) struct HelpExample {
    /// What it is good for.
    pub does: &'static str,
    /// The line; what follows ` | ` or ` > ` is for the shell.
    pub line: &'static str,
}

/// Columns of a narrow terminal, less what examples are set in by.
const WIDTH: usize = 74;

impl HelpNotes {
    /// Where the lines work.
    pub const FROM: &'static str =
        "Type these in the folder of the sources, after scripts/demo has made out/varrow.gpkg.";

    /// As the help shows them.
    pub fn text(&self) -> String {
        let mut out = format!("Reads: {}\nWrites: {}\n\nExamples. {}", self.reads, self.writes, Self::FROM);
        for example in self.examples {
            let _ = write!(out, "\n  {}:", example.does);
            example.folded().iter().for_each(|line| out += &format!("\n    {line}"));
        }
        out
    }
}

impl HelpExample {
    /// The line, cut where it is too long for a narrow terminal, so that the shell still takes it as one.
    pub fn folded(&self) -> Vec<String> {
        // A flag and its value stay together.
        let mut parts: Vec<String> = Vec::new();
        for word in words(self.line) {
            match parts.last_mut() {
                Some(part) if part.starts_with('-') && !part.contains(' ') && !word.starts_with('-') => {
                    *part += &format!(" {word}");
                }
                _ => parts.push(word.to_owned()),
            }
        }
        let mut lines: Vec<String> = Vec::new();
        for word in parts {
            match lines.last_mut() {
                Some(line) if line.len() + 1 + word.len() <= WIDTH => *line += &format!(" {word}"),
                _ => {
                    if let Some(line) = lines.last_mut() {
                        *line += " \\";
                    }
                    lines.push(if lines.is_empty() { word } else { format!("  {word}") });
                }
            }
        }
        lines
    }
}

/// The words of a line; those in quotes stay together, with their quotes.
pub(crate) fn words(line: &str) -> Vec<&str> {
    let mut quoted = false;
    line.split(|c: char| {
        quoted ^= c == '"';
        c == ' ' && !quoted
    })
    .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn long_lines_are_cut_between_words_and_come_together_again() {
        let line =
            "waymask plan out/a-layer-of-a-name.gpkg \"46.96922,-28.05054 46.98550,-27.94961\" --way steadiest -q -o x";
        assert_eq!(words(line).len(), 9);
        let folded = HelpExample { does: "", line }.folded();
        assert!(folded.len() == 2 && folded.iter().all(|l| l.len() <= WIDTH + 2), "{folded:?}");
        let close = format!("waymask info {} --way steadiest", "x".repeat(WIDTH - 19));
        assert_eq!(HelpExample { does: "", line: close.leak() }.folded()[1], "  --way steadiest");
        assert_eq!(folded.join("\n").replace(" \\\n  ", " "), line);
    }
}
