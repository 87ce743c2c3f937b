//! Inputs that something went wrong with, as files.
use std::fs;
use std::path::{Path, PathBuf};

/// What went wrong.
#[derive(Debug, Clone)]
pub struct Find {
    /// `panic`, `caught` (a panic of ours that the border caught), `memory`, `slow`, `endless` or `died`.
    pub kind: &'static str,
    pub said: String,
}

impl Find {
    pub fn new(kind: &'static str, said: &str) -> Self {
        Self { kind, said: said.to_owned() }
    }
    /// The same for finds that have one cause, as far as that can be told.
    pub fn place(&self) -> String {
        // A file and a line; what is said holds values.
        let place: String = self.said.splitn(3, ':').take(2).collect();
        if ["panic", "caught"].contains(&self.kind) { format!("{} {place}", self.kind) } else { self.kind.to_owned() }
    }
}

/// Keeps an input, and tells how to repeat it.
pub fn keep(folder: &Path, target: &str, find: &Find, input: &[u8]) {
    let path: PathBuf = folder.join("finds").join(format!("{target}-{}-{}", find.kind, digest(input)));
    let kept = fs::create_dir_all(folder.join("finds")).and_then(|()| fs::write(&path, input));
    println!("found {} in {target}: {}", find.kind, find.said.replace('\n', " "));
    match kept {
        Ok(()) => println!("      repeat it: scripts/fuzz --repeat {}", path.display()),
        Err(e) => println!("      it cannot be kept as {}: {e}", path.display()),
    }
}

/// A short name for some bytes.
pub fn digest(bytes: &[u8]) -> String {
    // FNV-1a (Fowler, Noll and Vo), 64 bits.
    let mixed = bytes.iter().fold(0xcbf2_9ce4_8422_2325, |h: u64, b| (h ^ u64::from(*b)).wrapping_mul(0x100_0000_01b3));
    format!("{mixed:016x}")
}
