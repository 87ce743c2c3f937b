//! Defects of the input as the error that ends a strict build.
use std::collections::BTreeMap;
use std::path::Path;

use crate::base::defect::{Defects, Tally};
use crate::base::error::Error;

/// Names every kind of defect with its number and examples.
pub(crate) fn strict_error(input: &Path, defects: &Defects) -> Error {
    told(input, defects.iter().map(|(defect, tally)| (defect.code(), tally)))
}

/// The same for defects by their codes.
pub(crate) fn strict_error_of(input: &Path, defects: &BTreeMap<String, Tally>) -> Error {
    told(input, defects.iter().map(|(code, tally)| (code.as_str(), tally)))
}

fn told<'t>(input: &Path, defects: impl Iterator<Item = (&'t str, &'t Tally)>) -> Error {
    let list: Vec<String> =
        defects.map(|(code, t)| format!("{} x {code} (such as {})", t.count, t.examples.join(", "))).collect();
    Error::file(input, format!("defects in the input: {}", list.join("; ")), "fix them, or leave out --strict")
}
