//! Defects of the input as the error that ends a strict build.
use std::path::Path;

use crate::base::defect::Defects;
use crate::base::error::Error;

/// Names every kind of defect with its number and examples.
pub(crate) fn strict_error(input: &Path, defects: &Defects) -> Error {
    let list: Vec<String> = defects
        .iter()
        .map(|(d, t)| format!("{} x {} (such as {})", t.count, d.code(), t.examples.join(", ")))
        .collect();
    Error::file(input, format!("defects in the input: {}", list.join("; ")), "fix them, or leave out --strict")
}
