//! What SQLite and GDAL say of a layer, in words for people: theirs name statements that nobody typed.
use std::io::{self, Read, Write};
use std::path::Path;

use rusqlite::ErrorCode;

use super::fixed::{LONGEST_BYTES, SQLITE};
use super::schema::Table;
use crate::base::error::{Error, INPUT_OUTPUT_ERROR};
use crate::base::files;

/// The next step where this program made a mistake.
pub(crate) const REPORT: &str = "this is a fault of the program: please report it with the command and the input";
/// Written to see whether a disk takes more, bytes: what an empty layer needs.
const PROBE_BYTES: usize = 1 << 18;

/// A step on the file of a layer that failed.
#[derive(Debug)]
pub(crate) enum StepFailure {
    /// A statement.
    Sql(rusqlite::Error),
    /// A call of GDAL.
    Gdal(gdal::errors::GdalError),
    /// GDAL answered, but not what it should.
    Answer(&'static str),
}

impl From<rusqlite::Error> for StepFailure {
    fn from(e: rusqlite::Error) -> Self {
        Self::Sql(e)
    }
}

impl From<gdal::errors::GdalError> for StepFailure {
    fn from(e: gdal::errors::GdalError) -> Self {
        Self::Gdal(e)
    }
}

impl StepFailure {
    /// The error of a layer that will be at `path` and grows in `home`.
    pub fn on(&self, path: &Path, home: &Path) -> Error {
        // GDAL tells neither always nor why its own statements failed; a disk that takes no more does.
        if let Err(e) = probe(home) {
            return files::cannot_write(path, &e);
        }
        let fact = match self {
            Self::Sql(e) => return cannot_write(path, e),
            Self::Gdal(e) => format!("GDAL cannot create it: {}", last_part(&e.to_string())),
            Self::Answer(fact) => (*fact).to_owned(),
        };
        let next = "check GDAL: `ogrinfo --formats` must list GPKG with rw+; if it does, report this";
        Error::failed(format!("writing {}", path.display()), fact, next)
    }
}

/// A statement that failed while a layer was written.
pub(crate) fn cannot_write(path: &Path, e: &rusqlite::Error) -> Error {
    match refusal(e) {
        Some(e) => files::cannot_write(path, &e),
        None => Error::failed(format!("writing {}", path.display()), message(e), REPORT),
    }
}

/// A statement that failed while a layer was read; `table` is what it asked where that is known.
pub(crate) fn cannot_read(path: &Path, table: Option<&str>, e: &rusqlite::Error) -> Error {
    match e.sqlite_error_code() {
        Some(ErrorCode::CannotOpen | ErrorCode::ReadOnly) if is_in_wal_mode(path) => Error::file(
            path,
            "was left in WAL mode by a program that edited it, and SQLite reads such a file only in a folder that it \
             can write to",
            "copy the layer with its -wal file, if there is one, to a folder you may write to, and give the copy",
        ),
        Some(ErrorCode::ReadOnly) => Error::file(
            path,
            "was left in the middle of a change by a program that wrote to it: its -journal file is next to it",
            "open it once with that program, which repairs it, or build it again with `waymask build`",
        ),
        _ => match refusal(e) {
            Some(e) => Error::io(path, "cannot be read as a layer", &e, REBUILD),
            None => damaged(path, &table.map_or_else(|| message(e), |table| format!("table {table}: {}", message(e)))),
        },
    }
}

/// The next step where a layer is of no use.
pub(crate) const REBUILD: &str = "build it again with `waymask build`";

/// A layer that breaks its own rules.
pub(crate) fn damaged(path: &Path, fact: &str) -> Error {
    Error::file(path, format!("cannot be read as a layer: {fact}"), REBUILD)
}

/// A value that contradicts other rows, or what is packed in it, and is named by its row and column.
pub(crate) fn damaged_value(path: &Path, table: &Table, id: i64, column: &str, fact: &str) -> Error {
    damaged(path, &format!("table {}, {} {id}, column {column}: {fact}", table.name, table.id))
}

/// What the system or another program refused, if that is why a statement failed.
fn refusal(e: &rusqlite::Error) -> Option<io::Error> {
    Some(match e.sqlite_error_code()? {
        ErrorCode::DiskFull => io::ErrorKind::StorageFull.into(),
        ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked | ErrorCode::FileLockingProtocolFailed => {
            io::ErrorKind::ResourceBusy.into()
        }
        ErrorCode::OutOfMemory => io::ErrorKind::OutOfMemory.into(),
        // SQLite does not hand on the number of the system.
        ErrorCode::SystemIoFailure => io::Error::from_raw_os_error(INPUT_OUTPUT_ERROR),
        ErrorCode::CannotOpen => io::Error::other("SQLite cannot open it"),
        ErrorCode::PermissionDenied | ErrorCode::ReadOnly => io::ErrorKind::PermissionDenied.into(),
        _ => return None,
    })
}

/// SQLite's message without the statement it stumbled over.
pub(crate) fn message(e: &rusqlite::Error) -> String {
    match e {
        _ if e.sqlite_error_code() == Some(ErrorCode::DatabaseCorrupt) => "its pages are damaged".to_owned(),
        _ if e.sqlite_error_code() == Some(ErrorCode::NotADatabase) => "the file is not a database".to_owned(),
        _ if e.sqlite_error_code() == Some(ErrorCode::TooBig) => {
            format!("a value is longer than {} MB", LONGEST_BYTES >> 20)
        }
        rusqlite::Error::SqlInputError { msg, .. } => msg.clone(),
        rusqlite::Error::SqliteFailure(_, Some(msg)) => msg.clone(),
        _ => e.to_string(),
    }
}

/// The end of a chain of messages, without the statements before it.
fn last_part(message: &str) -> &str {
    message.rsplit("failed:").next().unwrap_or(message).trim()
}

/// Whether a disk takes as much as an empty layer.
fn probe(folder: &Path) -> io::Result<()> {
    let mut file = tempfile::tempfile_in(folder)?;
    file.write_all(&vec![1; PROBE_BYTES])?;
    file.sync_all()
}

/// Whether a file is an SQLite database in WAL mode, by bytes 18 and 19 of its header (SQLite file format, 1.3.3).
pub(crate) fn is_in_wal_mode(path: &Path) -> bool {
    let mut header = [0; 20];
    let read = std::fs::File::open(path).and_then(|mut f| f.read_exact(&mut header));
    read.is_ok() && header.starts_with(SQLITE) && header[18..] == [2, 2]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn statements_are_left_out() {
        let connection = rusqlite::Connection::open_in_memory().unwrap();
        let e = connection.prepare("SELECT bogus FROM sqlite_master WHERE name = 'x'").unwrap_err();
        assert!(e.to_string().contains("SELECT"), "{e}");
        assert_eq!(message(&e), "no such column: bogus");
        let gdal = "sqlite3_exec(CREATE TABLE a (b,\n c)) failed: database or disk is full";
        assert_eq!(last_part(gdal), "database or disk is full");
    }
}
