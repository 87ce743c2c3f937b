//! A key of a settings file, and tables of them.

/// Where a starting value comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Mark {
    /// A published source, named with the meaning.
    Published,
    /// Common practice, without a source.
    CommonPractice,
    /// Our assumption.
    Assumed,
    /// There is no starting value: nobody but the user knows it.
    Users,
}

impl Mark {
    /// As printed.
    pub fn name(self) -> &'static str {
        match self {
            Self::Published => "published",
            Self::CommonPractice => "common practice, no source",
            Self::Assumed => "assumed",
            Self::Users => "no starting value",
        }
    }
}

/// What a key holds, and what is allowed.
#[derive(Debug, Clone, Copy)]
pub enum Holds {
    /// A number.
    Number {
        /// Lowest allowed.
        from: f64,
        /// Highest allowed.
        to: f64,
    },
    /// A whole number.
    Whole {
        /// Lowest allowed.
        from: i64,
        /// Highest allowed.
        to: i64,
    },
    /// `true` or `false`.
    Flag,
    /// One word of a closed set.
    Word(&'static [&'static str]),
    /// Any text.
    Text,
    /// A time of the day in quotes.
    Time,
    /// Names of the user's own, each with a word of a closed set.
    Named(&'static [&'static str]),
    /// A list of tables.
    List {
        /// Keys of an entry; their paths are bare names.
        fields: &'static [Key],
        /// Fewest entries.
        least: usize,
    },
}

/// An end of a range.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum End {
    /// The smallest value.
    Low,
    /// The largest.
    High,
}

/// A key.
#[derive(Debug, Clone, Copy)]
pub struct Key {
    /// Section and name, `link.slot_s`; a bare name for a list outside all sections.
    pub path: &'static str,
    /// What it holds, and what is allowed.
    pub holds: Holds,
    /// Unit of its numbers; empty where they have none.
    pub unit: &'static str,
    /// Where the starting value comes from.
    pub mark: Mark,
    /// What it means, and the source.
    pub meaning: &'static str,
    /// Lowest and highest value that an assumption may well have.
    pub likely: Option<(f64, f64)>,
    /// Which end of `likely` is the unfavourable one, for assumptions about the roadside.
    pub worse: Option<End>,
    /// Whether an entry of a list has to give it. Keys of sections may always be left out.
    pub required: bool,
    /// What the example shows, as TOML, where the key has no starting value.
    pub sample: &'static str,
    /// What it was called before; empty where it never had another name.
    pub was: &'static str,
}

const fn key(path: &'static str, mark: Mark, holds: Holds, meaning: &'static str) -> Key {
    Key { path, holds, unit: "", mark, meaning, likely: None, worse: None, required: false, sample: "", was: "" }
}

/// A number between two limits.
pub const fn number(
    path: &'static str,
    mark: Mark,
    from: f64,
    to: f64,
    unit: &'static str,
    meaning: &'static str,
) -> Key {
    Key { unit, ..key(path, mark, Holds::Number { from, to }, meaning) }
}
/// A whole number between two limits.
pub const fn whole(
    path: &'static str,
    mark: Mark,
    from: i64,
    to: i64,
    unit: &'static str,
    meaning: &'static str,
) -> Key {
    Key { unit, ..key(path, mark, Holds::Whole { from, to }, meaning) }
}
/// One word of a closed set.
pub const fn word(path: &'static str, mark: Mark, words: &'static [&'static str], meaning: &'static str) -> Key {
    key(path, mark, Holds::Word(words), meaning)
}
/// `true` or `false`.
pub const fn flag(path: &'static str, mark: Mark, meaning: &'static str) -> Key {
    key(path, mark, Holds::Flag, meaning)
}
/// Any text.
pub const fn text(path: &'static str, mark: Mark, meaning: &'static str) -> Key {
    key(path, mark, Holds::Text, meaning)
}
/// A time of the day.
pub const fn time(path: &'static str, mark: Mark, meaning: &'static str) -> Key {
    key(path, mark, Holds::Time, meaning)
}
/// Names of the user's own, each with a word of a closed set.
pub const fn named(path: &'static str, mark: Mark, words: &'static [&'static str], meaning: &'static str) -> Key {
    key(path, mark, Holds::Named(words), meaning)
}
/// A list of tables with these keys, and the fewest of them.
pub const fn list(path: &'static str, mark: Mark, fields: &'static [Key], least: usize, meaning: &'static str) -> Key {
    key(path, mark, Holds::List { fields, least }, meaning)
}

impl Key {
    /// With the lowest and the highest value that the assumption may well have.
    pub(crate) const fn likely(mut self, low: f64, high: f64) -> Self {
        self.likely = Some((low, high));
        self
    }
    /// For an assumption about the roadside: which end of what is likely hides more sky.
    pub(crate) const fn worse(mut self, end: End) -> Self {
        self.worse = Some(end);
        self
    }
    /// For a key that an entry of a list has to give.
    pub const fn required(mut self) -> Self {
        self.required = true;
        self
    }
    /// With what the example shows, as TOML, where the key has no starting value.
    pub const fn sample(mut self, value: &'static str) -> Self {
        self.sample = value;
        self
    }
    /// With the name it had before, so that whoever still writes it is given the new one.
    pub const fn was(mut self, path: &'static str) -> Self {
        self.was = path;
        self
    }
    /// The section it is in, or its own name outside all sections.
    pub fn head(&self) -> &'static str {
        self.path.split_once('.').map_or(self.path, |(head, _)| head)
    }
    /// What is allowed, for people; empty where anything is.
    pub fn allowed(&self) -> String {
        let unit = if self.unit.is_empty() { String::new() } else { format!(" {}", self.unit) };
        match self.holds {
            Holds::Number { from, to } => format!("{from} to {to}{unit}"),
            Holds::Whole { from, to } => format!("{from} to {to}{unit}"),
            Holds::Flag => "true or false".to_owned(),
            Holds::Word(words) => any_of(words),
            Holds::Time => "hours and minutes in quotes".to_owned(),
            Holds::Named(words) => format!("each {}", any_of(words)),
            Holds::Text | Holds::List { .. } => String::new(),
        }
    }
}

/// Words with `or` before the last.
fn any_of(words: &[&str]) -> String {
    match words {
        [before @ .., last] if !before.is_empty() => format!("{} or {last}", before.join(", ")),
        _ => words.concat(),
    }
}

/// Everything that one kind of file may hold.
#[derive(Debug, Clone, Copy)]
pub struct Keys {
    /// Tables of keys, in the order in which they are printed.
    pub parts: &'static [&'static [Key]],
    /// The command that prints all of them.
    pub shown_by: &'static str,
}

impl Keys {
    /// All keys, in the order in which they are printed.
    pub fn iter(&self) -> impl Iterator<Item = &'static Key> + use<> {
        self.parts.iter().flat_map(|part| part.iter())
    }
    /// The key of a path.
    pub fn find(&self, path: &str) -> Option<&'static Key> {
        self.iter().find(|key| key.path == path)
    }
    /// Whether a name is a section, with keys below it.
    pub(crate) fn is_section(&self, name: &str) -> bool {
        self.iter().any(|key| key.head() == name && key.path != name)
    }
}
