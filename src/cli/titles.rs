//! Titles of pages that nobody gave one.
use std::path::Path;

/// The name of a file without its ending, as words; other words where it names none.
pub(crate) fn title_of(file: &Path, otherwise: &str) -> String {
    let stem = file.file_stem().and_then(|stem| stem.to_str()).filter(|_| file.is_file());
    let words = stem.unwrap_or(otherwise).replace(['-', '_'], " ");
    let mut chars = words.chars();
    chars.next().map_or(String::new(), |c| c.to_uppercase().chain(chars).collect())
}
