//! What killed runs left beside an output: told from what is in use by a lock, never by the number of a process, which
//! means nothing in another container.
use std::fs::{self, File, TryLockError};
use std::io::{self, Read, Write};
use std::os::unix::fs::MetadataExt;
use std::path::Path;

use super::ledger;
use super::place::folder_of;
use crate::base::hidden::{MARK, is_hidden};

/// Characters of the output's name in that of the hidden folder: names have a longest length.
const NAME_CHARACTERS: usize = 40;
/// The file in the hidden folder that is locked while it is in use.
const LOCK: &str = "lock";
/// More than it holds, bytes.
const LOCK_BYTES: u64 = 64;
/// What the lock holds where a lock tells nothing.
const UNKNOWN_START: &str = "unknown";
/// A hidden folder of another machine or an earlier start of this one is left alone for this long, seconds: a lock does
/// not reach there.
const FOREIGN_S: u64 = 7 * 24 * 3_600;

/// How the names of hidden folders of an output begin.
pub(super) fn prefix(path: &Path) -> String {
    let name = path.file_name().unwrap_or_default().to_string_lossy();
    format!(".{}{MARK}", name.chars().take(NAME_CHARACTERS).collect::<String>())
}

/// Locks a hidden folder for as long as the file handed out is open; one that is not locked where the file system has no
/// locks.
///
/// # Errors
/// No file can be made in it; or it is not there any more, because another run took it for abandoned before it was locked.
pub(super) fn claim(home: &Path) -> io::Result<File> {
    let mut lock = File::create_new(home.join(LOCK))?;
    // Others that look whether it is in use hold it for a moment.
    let is_locked = lock.lock().is_ok();
    let start = start_of_system();
    let told = if is_locked && !start.is_empty() { start.as_str() } else { UNKNOWN_START };
    lock.write_all(told.as_bytes())?;
    lock.flush()?;
    if lock.metadata()?.nlink() == 0 { Err(io::ErrorKind::NotFound.into()) } else { Ok(lock) }
}

/// Removes what killed runs left beside an output. Best effort: what cannot be removed stays.
pub(super) fn remove(path: &Path) {
    let prefix = prefix(path);
    remove_in(folder_of(path), |name| name.starts_with(&prefix));
}

/// Removes what killed runs left in a folder of our own, whatever it belongs to. Best effort.
pub(crate) fn remove_all_in(folder: &Path) {
    remove_in(folder, is_hidden);
}

fn remove_in(folder: &Path, ours: impl Fn(&str) -> bool) {
    let Ok(entries) = fs::read_dir(folder) else { return };
    for entry in entries.flatten() {
        let ours = entry.file_name().to_str().is_some_and(&ours);
        if ours && entry.file_type().is_ok_and(|t| t.is_dir()) {
            remove_if_abandoned(&entry.path());
        }
    }
}

fn remove_if_abandoned(home: &Path) {
    // Others may write in the folder, too: nothing but a file is opened, and no more of it read than there should be.
    let lock = home.join(LOCK);
    let removed = match fs::symlink_metadata(&lock) {
        Ok(there) if there.is_file() => match holder(&lock) {
            Holder::Someone => return,
            // Held until all is removed: its owner, who may be about to lock it, then finds that it is gone.
            Holder::Nobody(_lock) => fs::remove_dir_all(home),
            Holder::Unknown if is_old(&there) => fs::remove_dir_all(home),
            Holder::Unknown => return,
        },
        // Its owner died before it was made, or is about to make it, and then finds that the folder is gone.
        Err(e) if e.kind() == io::ErrorKind::NotFound => match fs::remove_dir(home) {
            Err(_) if fs::symlink_metadata(home).is_ok_and(|m| is_old(&m)) => fs::remove_dir_all(home),
            removed => removed,
        },
        _ => return,
    };
    if removed.is_ok() {
        ledger::note_tidied(home);
    }
}

/// Who holds the lock of a hidden folder.
enum Holder {
    Someone,
    /// A lock of this start of this system, or one that was never held; it is held now.
    Nobody(File),
    /// That cannot be told.
    Unknown,
}

fn holder(lock: &Path) -> Holder {
    let Ok(mut lock) = File::open(lock) else { return Holder::Unknown };
    match lock.try_lock() {
        Ok(()) => {
            let mut written = String::new();
            let read = Read::by_ref(&mut lock).take(LOCK_BYTES).read_to_string(&mut written);
            let is_ours = read.is_ok() && (written.is_empty() || written == start_of_system());
            if is_ours { Holder::Nobody(lock) } else { Holder::Unknown }
        }
        Err(TryLockError::Error(_)) => Holder::Unknown,
        Err(TryLockError::WouldBlock) => Holder::Someone,
    }
}

fn is_old(there: &fs::Metadata) -> bool {
    let age = there.modified().ok().and_then(|time| time.elapsed().ok());
    age.is_some_and(|age| age.as_secs() > FOREIGN_S)
}

/// Which start of which system this is; the same in all its containers, empty where it does not tell.
fn start_of_system() -> String {
    fs::read_to_string("/proc/sys/kernel/random/boot_id").unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn home(output: &Path, name: &str) -> std::path::PathBuf {
        let home = output.with_file_name(format!("{}{name}", prefix(output)));
        fs::create_dir(&home).unwrap();
        fs::write(home.join("content.gpkg"), "half").unwrap();
        home
    }

    #[test]
    fn only_what_no_one_holds_is_removed() {
        let folder = tempfile::tempdir().unwrap();
        let output = folder.path().join("x.gpkg");
        let [held, left, foreign, old, strange] =
            ["held", "left", "foreign", "old", "strange"].map(|name| home(&output, name));
        let lock = claim(&held).unwrap();
        assert_eq!(fs::read_to_string(held.join(LOCK)).unwrap(), start_of_system(), "this file system has no locks");
        drop(claim(&left).unwrap());
        for home in [&foreign, &old] {
            fs::write(home.join(LOCK), "another start of another machine").unwrap();
        }
        let long_ago = std::time::SystemTime::now() - std::time::Duration::from_secs(FOREIGN_S + 60);
        File::options().write(true).open(old.join(LOCK)).unwrap().set_modified(long_ago).unwrap();
        let of_another = home(&folder.path().join("y.gpkg"), "left");
        drop(claim(&of_another).unwrap());
        remove(&output);
        let there = [&held, &left, &foreign, &old, &strange, &of_another].map(|home| home.exists());
        assert_eq!(there, [true, false, true, false, true, true]);
        drop(lock);
        remove(&output);
        assert!(!held.exists());
    }

    #[test]
    fn what_was_begun_and_not_locked_goes_at_once_and_its_owner_is_told() {
        let folder = tempfile::tempdir().unwrap();
        let output = folder.path().join("x.gpkg");
        let [bare, begun] = ["bare", "begun"].map(|name| home(&output, name));
        fs::remove_file(bare.join("content.gpkg")).unwrap();
        fs::write(begun.join(LOCK), "").unwrap();
        remove(&output);
        assert_eq!([bare.exists(), begun.exists()], [false, false]);
        assert_eq!(claim(&bare).unwrap_err().kind(), io::ErrorKind::NotFound);
    }

    #[test]
    fn what_others_put_there_holds_nobody_up() {
        let folder = tempfile::tempdir().unwrap();
        let output = folder.path().join("x.gpkg");
        let [pipe, endless] = ["pipe", "endless"].map(|name| home(&output, name));
        let made = std::process::Command::new("mkfifo").arg(pipe.join(LOCK)).status().unwrap();
        assert!(made.success());
        std::os::unix::fs::symlink("/dev/zero", endless.join(LOCK)).unwrap();
        remove(&output);
        assert!(pipe.exists() && endless.exists());
    }

    #[test]
    fn long_names_still_have_room_for_the_rest() {
        let name = "x".repeat(250) + ".gpkg";
        assert!(prefix(Path::new(&name)).len() < 60);
    }
}
