//! The program as others meet it: its outputs, signals and exit codes.
mod apart;
mod codes;
mod examples;
mod modes;
mod places;
mod shown;
mod signals;
mod together;

use std::path::Path;
use std::process::{Command, Output};

/// Runs the program; paths among the words are given as text.
fn waymask(words: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_waymask")).args(words).output().unwrap()
}

/// What the program said of its trouble.
pub fn said(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

fn text(path: &Path) -> &str {
    path.to_str().unwrap()
}

/// A short road as a map.
fn map(folder: &Path) -> std::path::PathBuf {
    let mut sketch = crate::build::kit::Sketch::at(47.0);
    sketch.line(&[(0.0, 0.0), (700.0, 100.0)], &[("highway", "tertiary")]);
    sketch.write(folder)
}
