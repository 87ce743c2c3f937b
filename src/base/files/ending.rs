//! What the ending of an output's name asks for.
use std::path::Path;

use crate::base::error::Error;

/// The ending of a name in small letters, without its dot; empty where there is none.
pub(crate) fn ending(path: &Path) -> String {
    path.extension().and_then(|e| e.to_str()).unwrap_or_default().to_ascii_lowercase()
}

/// The error of an output whose ending is none of those `known`, listed as in `.csv or .json`.
pub(crate) fn unknown_ending(path: &Path, known: &str) -> Error {
    let fact = match path.extension() {
        Some(ending) => format!("`.{}` is not a known ending", ending.display()),
        None => "has no ending that tells its format".to_owned(),
    };
    Error::usage(path.display().to_string(), fact, format!("give a name that ends in {known}"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_unknown_ending_is_named_with_its_file_and_the_known_ones() {
        let said = |name: &str| unknown_ending(Path::new(name), ".html, .json or .ics").to_string();
        let next = "\n  Give a name that ends in .html, .json or .ics";
        assert_eq!(said("out/brief.pdf"), format!("out/brief.pdf: `.pdf` is not a known ending{next}"));
        assert_eq!(said("brief"), format!("brief: has no ending that tells its format{next}"));
        assert_eq!((ending(Path::new("a.B.HTML")), ending(Path::new(".csv"))), ("html".to_owned(), String::new()));
    }
}
