//! What is fuzzed: a reader, what it is fed with at first, and what it may cost.
use std::path::Path;

use waymask::Error;

/// What an execution came to, for guidance: inputs that come to something new are kept and changed again.
pub type Outcome = String;

/// One execution; it panics where the reader breaks a promise.
pub type Reader = Box<dyn FnMut(&[u8]) -> Outcome>;

/// A reader and how it is fuzzed.
pub struct Target {
    /// Its name on the command line.
    pub name: &'static str,
    /// Inputs to begin with.
    pub seeds: fn() -> Vec<Vec<u8>>,
    /// Prepares what reads an input, with a folder of its own.
    pub prepare: fn(&Path) -> Reader,
    /// Words of the format.
    pub words: &'static [&'static str],
    /// Our own code, of which the quoted words are words of the format.
    pub code: &'static [&'static str],
    /// Longest input, bytes.
    pub longest: usize,
    /// Most that an execution may hold, megabytes.
    pub most_mb: usize,
}

impl Target {
    /// A target whose inputs have at most 4 kB, and whose executions hold at most 64 MB.
    pub const fn new(name: &'static str, seeds: fn() -> Vec<Vec<u8>>, prepare: fn(&Path) -> Reader) -> Self {
        Self { name, seeds, prepare, words: &[], code: &[], longest: 4_096, most_mb: 64 }
    }
    /// With words of the format.
    pub const fn words(self, words: &'static [&'static str]) -> Self {
        Self { words, ..self }
    }
    /// With the quoted words of some code.
    pub const fn code(self, code: &'static [&'static str]) -> Self {
        Self { code, ..self }
    }
    /// With inputs of at most this many bytes.
    pub const fn longest(self, longest: usize) -> Self {
        Self { longest, ..self }
    }
    /// With executions that hold at most this many megabytes.
    pub const fn most_mb(self, most_mb: usize) -> Self {
        Self { most_mb, ..self }
    }
    /// All words of the format.
    pub fn all_words(&self) -> Vec<String> {
        // Between every other pair of quotes of a line; what is not a word does little harm.
        let quoted = self.code.iter().flat_map(|code| code.lines()).flat_map(|line| line.split('"').skip(1).step_by(2));
        let quoted = quoted.filter(|word| (1..=30).contains(&word.len()) && !word.contains(['{', '\\']));
        let mut all: Vec<String> = self.words.iter().copied().chain(quoted).map(str::to_owned).collect();
        all.sort();
        all.dedup();
        all
    }
}

/// The outcome of a reader: a refusal without what differs between inputs.
pub fn outcome<T, E: std::fmt::Display>(read: &Result<T, E>) -> Outcome {
    match read {
        Ok(_) => "read".to_owned(),
        Err(refusal) => {
            // As the program tells it: the error says no more than a person reads, whatever it quotes.
            let said = refusal.to_string();
            says(&Error::file(Path::new("x"), said.clone(), "mend it").to_string());
            // Numbers and quoted words differ from input to input.
            let plain = said.split(['`', '"']).step_by(2).flat_map(str::chars).filter(|c| c.is_ascii_alphabetic());
            plain.take(120).collect()
        }
    }
}

/// A refusal says something, and no more than a person reads.
pub fn says(refusal: &str) {
    assert!(!refusal.trim().is_empty(), "a refusal without words");
    assert!(refusal.chars().count() < 2_000, "a refusal longer than a person reads: {refusal:?}");
}
