//! Files that people give, read whole: how large they may be, and the one wording of why one cannot be read.
use std::fs::File;
use std::io::{self, ErrorKind, Read};
use std::path::Path;

use super::error::{Error, Result};

/// A kind of file that is read whole.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum InputKind {
    /// A trip file or a profile.
    Settings,
    /// An iCalendar file.
    Calendar,
    /// A track or places.
    Track,
    /// Orbital elements.
    Elements,
    /// The plan of a build.
    Plan,
    /// Polygons of a region.
    Area,
}

/// A megabyte.
const MB: u64 = 1_000_000;

impl InputKind {
    /// Every kind.
    pub const ALL: [Self; 6] = [Self::Settings, Self::Calendar, Self::Track, Self::Elements, Self::Plan, Self::Area];

    /// As errors name it.
    pub fn name(self) -> &'static str {
        match self {
            Self::Settings => "a file of settings",
            Self::Calendar => "a calendar",
            Self::Track => "a track",
            Self::Elements => "a file of orbital elements",
            Self::Plan => "the plan of a build",
            Self::Area => "a file of polygons",
        }
    }
    /// The most it may hold, megabytes (README and `decisions/foreign` say it too): the elements of all objects in space are
    /// some 60 as XML (64 allowed), a second-by-second track of a month's driving some 100 (128), the calendar of twenty busy
    /// years some 20 (32); all districts of the globe with land are some 20 in a plan (64), the borders of all countries some
    /// 20 (32).
    pub fn most_mb(self) -> u64 {
        match self {
            Self::Settings => 1,
            // Lines of a few letters take some sixty times their length in memory.
            Self::Calendar | Self::Area => 32,
            Self::Elements | Self::Plan => 64,
            Self::Track => 128,
        }
    }
}

/// The bytes of a file, a pipe or standard input (`/dev/stdin`); `next` is what to do where it cannot be read.
///
/// # Errors
/// It cannot be read, or holds more than its kind may: then no more than that has been read.
pub fn bytes(path: &Path, kind: InputKind, next: &str) -> Result<Vec<u8>> {
    read(path, kind, kind.most_mb() * MB, next)
}

/// The text of a file, likewise.
///
/// # Errors
/// See [`bytes`]; or it is not UTF-8.
pub fn text(path: &Path, kind: InputKind, next: &str) -> Result<String> {
    String::from_utf8(bytes(path, kind, next)?).map_err(|e| {
        let at = e.utf8_error().valid_up_to();
        Error::file(path, format!("is not UTF-8 text (byte {})", at + 1), next)
    })
}

fn read(path: &Path, kind: InputKind, most: u64, next: &str) -> Result<Vec<u8>> {
    let refused = |e: io::Error| cannot_read(path, &e, next);
    let known = std::fs::metadata(path).map_err(refused)?;
    if known.is_dir() {
        return Err(cannot_read(path, &ErrorKind::IsADirectory.into(), next));
    }
    if known.len() > most {
        return Err(too_large(path, kind, &format!("has {}", size(known.len())), most));
    }
    // Pipes and devices do not tell their length, and a file may grow: one byte more than allowed is enough to see it.
    let mut held = Vec::with_capacity(usize::try_from(known.len()).unwrap_or(0));
    File::open(path).and_then(|file| file.take(most + 1).read_to_end(&mut held)).map_err(refused)?;
    if held.len() as u64 > most {
        return Err(too_large(path, kind, &format!("holds more than {}", size(most)), most));
    }
    Ok(held)
}

fn too_large(path: &Path, kind: InputKind, fact: &str, most: u64) -> Error {
    let fact = format!("{fact}; {} may have at most {}", kind.name(), size(most));
    Error::file(path, fact, "check that it is the right file, or remove what is not needed")
}

/// A size as people read it, rounded up: what is too large never looks as if it were just right.
fn size(bytes: u64) -> String {
    match bytes {
        0..MB => format!("{bytes} bytes"),
        _ if bytes.is_multiple_of(MB) => format!("{} MB", bytes / MB),
        _ => format!("{:.1} MB", (bytes as f64 / MB as f64 * 10.0).ceil() / 10.0),
    }
}

/// The one wording of a file that cannot be read: `FILE: does not exist`, `is a folder` or `cannot be read: REASON`.
pub fn cannot_read(path: &Path, error: &io::Error, next: &str) -> Error {
    let fact = match error.kind() {
        ErrorKind::NotFound => "does not exist".to_owned(),
        // A part of the path is a file: nothing can lie below it.
        ErrorKind::NotADirectory => "does not exist (a part of its path is a file, not a folder)".to_owned(),
        ErrorKind::IsADirectory => "is a folder, not a file".to_owned(),
        _ => return Error::io(path, "cannot be read", error, next),
    };
    Error::file(path, fact, next)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::process::Command;

    fn said(path: &Path, most: u64) -> String {
        read(path, InputKind::Settings, most, "give another")
            .map(|b| format!("{} bytes", b.len()))
            .unwrap_or_else(|e| e.to_string())
    }

    #[test]
    fn no_more_is_read_than_may_be_and_the_error_says_what_there_was() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.toml");
        std::fs::write(&path, [b'#'; 11]).unwrap();
        assert_eq!(said(&path, 11), "11 bytes");
        let large = said(&path, 10);
        assert!(large.contains("a.toml: has 11 bytes; a file of settings may have at most 10 bytes"), "{large}");
        // A device has no length and no end.
        let endless = said(Path::new("/dev/zero"), 3 * MB);
        assert!(endless.contains("/dev/zero: holds more than 3 MB"), "{endless}");
        assert_eq!(said(Path::new("/dev/null"), 10), "0 bytes");
    }

    #[test]
    fn a_pipe_is_read_once_and_no_further_than_allowed() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("pipe");
        assert!(Command::new("mkfifo").arg(&path).status().unwrap().success());
        for (most, want) in [(10, "9 bytes"), (8, "holds more than 8 bytes")] {
            let mut writer = Command::new("sh").arg("-c").arg("printf 123456789 > \"$0\"").arg(&path).spawn().unwrap();
            let read = said(&path, most);
            assert!(read.contains(want), "{read}");
            writer.wait().unwrap();
        }
    }

    #[test]
    fn what_cannot_be_read_is_said_in_one_wording_without_numbers() {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| said(&folder.path().join(name), 10);
        std::fs::write(folder.path().join("file"), "x").unwrap();
        assert!(at("none").contains("none: does not exist\n"), "{}", at("none"));
        assert!(at("file/below").contains("below: does not exist (a part"), "{}", at("file/below"));
        assert!(at("").contains(": is a folder, not a file\n"), "{}", at(""));
        let error = io::Error::from_raw_os_error(13);
        let other = cannot_read(Path::new("x"), &error, "y").to_string();
        assert_eq!(other, "x: cannot be read: permission denied\n  Y");
    }

    #[test]
    fn text_that_is_not_utf_8_names_its_byte() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.toml");
        std::fs::write(&path, b"ab\xff").unwrap();
        let said = text(&path, InputKind::Settings, "save it as UTF-8").unwrap_err().to_string();
        assert!(said.contains("is not UTF-8 text (byte 3)"), "{said}");
    }
}
