//! Outputs that are inputs, under whatever name.
use std::fs;
use std::os::unix::fs::MetadataExt;
use std::path::{Path, PathBuf};

use super::place::folder_of;
use crate::base::error::{Error, Result};

/// Refuses outputs that are one of the inputs or each other, also through links and other spellings: writing one would
/// destroy the other.
///
/// # Errors
/// The first output that is not a file of its own.
pub(crate) fn check_apart<'p>(
    inputs: impl IntoIterator<Item = &'p Path>,
    outputs: impl IntoIterator<Item = &'p Path>,
) -> Result<()> {
    let next = "choose another name for the output";
    let inputs: Vec<Identity> = inputs.into_iter().map(Identity::of).collect();
    let mut before: Vec<Identity> = Vec::new();
    for path in outputs {
        let output = Identity::of(path);
        if inputs.contains(&output) {
            return Err(Error::usage(path.display().to_string(), "is also an input of this command", next));
        }
        if before.contains(&output) {
            return Err(Error::usage(path.display().to_string(), "is named twice as an output of this command", next));
        }
        before.push(output);
    }
    Ok(())
}

/// Whether two names lead to one file, also through links and other spellings.
pub(crate) fn is_same_file(a: &Path, b: &Path) -> bool {
    Identity::of(a) == Identity::of(b)
}

/// What two names of one file have in common.
#[derive(Debug, PartialEq, Eq)]
enum Identity {
    /// Device and number of a file that is there, links followed.
    There(u64, u64),
    /// Where a file would appear.
    Name(PathBuf),
}

impl Identity {
    fn of(path: &Path) -> Self {
        if let Ok(file) = fs::metadata(path) {
            return Self::There(file.dev(), file.ino());
        }
        let folder = folder_of(path);
        let folder = fs::canonicalize(folder).unwrap_or_else(|_| folder.to_owned());
        Self::Name(path.file_name().map_or(folder.clone(), |name| folder.join(name)))
    }
}

#[cfg(test)]
mod tests {
    use std::os::unix::fs::symlink;

    use super::*;

    #[test]
    fn one_file_is_found_under_all_its_names() {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        fs::write(at("a.gpkg"), "a").unwrap();
        fs::write(at("b.gpkg"), "a").unwrap();
        fs::create_dir(at("sub")).unwrap();
        fs::hard_link(at("a.gpkg"), at("hard.gpkg")).unwrap();
        symlink("a.gpkg", at("soft.gpkg")).unwrap();
        symlink(folder.path(), at("sub/up")).unwrap();
        let refused = |input: &str, output: &str| check_apart([&*at(input)], [&*at(output)]).is_err();
        for name in ["a.gpkg", "hard.gpkg", "soft.gpkg", "./a.gpkg", "sub/../a.gpkg", "sub/up/a.gpkg"] {
            assert!(refused("a.gpkg", name) && refused(name, "a.gpkg"), "{name}");
            assert!(!refused("b.gpkg", name), "{name}");
            assert!(is_same_file(&at("a.gpkg"), &at(name)) && !is_same_file(&at("b.gpkg"), &at(name)), "{name}");
        }
        assert!(!refused("a.gpkg", "new.gpkg") && !refused("new.gpkg", "a.gpkg"));
    }

    #[test]
    fn two_outputs_are_two_files_even_before_they_are_there() {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        fs::create_dir(at("sub")).unwrap();
        let outputs = |a: &str, b: &str| check_apart([], [&*at(a), &*at(b)]);
        let error = outputs("x.csv", "sub/../x.csv").unwrap_err();
        assert!(error.to_string().contains("named twice as an output of this command"), "{error}");
        assert_eq!(error.exit_code(), 2);
        assert!(outputs("x.csv", "sub/x.csv").is_ok() && outputs("x.csv", "y.csv").is_ok());
    }
}
