//! Hidden folders in which outputs grow: what they are called, and what people know of what lies in one.
use std::path::Path;

/// Between the name of an output and random letters in the name of its hidden folder.
pub(crate) const MARK: &str = ".part-";
/// Random letters in the name of a hidden folder.
pub(crate) const RANDOM_LETTERS: usize = 12;

/// Whether a folder is named as those are in which outputs grow.
pub(crate) fn is_hidden(name: &str) -> bool {
    let letters = |end: &str| end.len() == RANDOM_LETTERS && end.bytes().all(|b| b.is_ascii_alphanumeric());
    name.starts_with('.') && name.rsplit_once(MARK).is_some_and(|(_, end)| letters(end))
}

/// The path that people know: of what lies in a hidden folder, the folder around it.
pub(crate) fn known(path: &Path) -> &Path {
    let named = |part: &&Path| part.file_name().and_then(|name| name.to_str()).is_some_and(is_hidden);
    let Some(outermost) = path.ancestors().filter(named).last() else { return path };
    outermost.parent().filter(|around| !around.as_os_str().is_empty()).unwrap_or(Path::new("."))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn of_what_is_hidden_the_folder_around_it_is_told() {
        for (path, want) in [
            ("out/x.gpkg", "out/x.gpkg"),
            ("out/.x.gpkg.part-abcDEF123456", "out"),
            ("out/.x.gpkg.part-abcDEF123456/content.gpkg", "out"),
            ("w/.dividing.part-aaaaaaaaaaaa/.n4675w02800.bundle.part-bbbbbbbbbbbb/content.out", "w"),
            (".x.gpkg.part-abcDEF123456/content.gpkg", "."),
            // Folders of people.
            ("out/.x.part-2/y.csv", "out/.x.part-2/y.csv"),
            ("out/x.part-abcDEF123456/y.csv", "out/x.part-abcDEF123456/y.csv"),
        ] {
            assert_eq!(known(Path::new(path)), Path::new(want), "{path}");
        }
    }
}
