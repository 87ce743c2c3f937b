//! What the ending of an output's name asks for.
use std::path::Path;

use crate::base::error::Error;
use crate::base::nearest::meant;

/// The ending of a name in small letters, without its dot; empty where there is none.
pub(crate) fn ending(path: &Path) -> String {
    path.extension().and_then(|e| e.to_str()).unwrap_or_default().to_ascii_lowercase()
}

/// The error of an output whose ending is none of those `known`.
pub(crate) fn unknown_ending(path: &Path, known: &[&str]) -> Error {
    let dotted: Vec<String> = known.iter().map(|ending| format!(".{ending}")).collect();
    let next = format!("give a name that ends in {}", one_of(&dotted));
    let (fact, next) = match path.extension() {
        Some(typed) => {
            let typed = format!(".{}", typed.display());
            let next = meant(&typed, dotted.iter().map(String::as_str), &next);
            (format!("`{typed}` is not a known ending"), next)
        }
        None => ("has no ending that tells its format".to_owned(), next),
    };
    Error::usage(path.display().to_string(), fact, next)
}

/// `a, b or c`.
fn one_of(words: &[String]) -> String {
    match words {
        [first @ .., last] if !first.is_empty() => format!("{} or {last}", first.join(", ")),
        _ => words.concat(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_unknown_ending_is_named_with_its_file_and_the_known_ones() {
        let said = |name: &str| unknown_ending(Path::new(name), &["html", "json", "ics"]).to_string();
        let next = "\n  Give a name that ends in .html, .json or .ics";
        assert_eq!(said("out/brief.pdf"), format!("out/brief.pdf: `.pdf` is not a known ending{next}"));
        assert_eq!(said("brief"), format!("brief: has no ending that tells its format{next}"));
        assert_eq!(
            said("a.jsn"),
            "a.jsn: `.jsn` is not a known ending\n  Did you mean `.json`? Give a name that ends in .html, .json or .ics"
        );
        assert!(unknown_ending(Path::new("a.txt"), &["csv"]).to_string().ends_with("Give a name that ends in .csv"));
        assert_eq!((ending(Path::new("a.B.HTML")), ending(Path::new(".csv"))), ("html".to_owned(), String::new()));
    }
}
