//! What killed runs left beside an output: told from what is in use by a lock, never by the number of a process, which
//! means nothing in another container.
use std::fs::{self, File, TryLockError};
use std::io::{self, Read, Write};
use std::path::Path;

use super::place::folder_of;

/// Between the name of an output and random letters in the name of the hidden folder it grows in.
const MARK: &str = ".part-";
/// Characters of the output's name in that of the hidden folder: names have a longest length.
const NAME_CHARACTERS: usize = 40;
/// The file in the hidden folder that is locked while it is in use.
const LOCK: &str = "lock";
/// More than it holds, bytes.
const LOCK_BYTES: u64 = 64;
/// A hidden folder of another machine or an earlier start of this one is left alone for this long, seconds: a lock does
/// not reach there.
const FOREIGN_S: u64 = 7 * 24 * 3_600;

/// How the names of hidden folders of an output begin.
pub(super) fn prefix(path: &Path) -> String {
    let name = path.file_name().unwrap_or_default().to_string_lossy();
    format!(".{}{MARK}", name.chars().take(NAME_CHARACTERS).collect::<String>())
}

/// Locks a hidden folder for as long as the file handed out is open; nothing where the file system has no locks.
///
/// # Errors
/// No file can be made in it.
pub(super) fn claim(home: &Path) -> io::Result<Option<File>> {
    let mut lock = File::create_new(home.join(LOCK))?;
    // Others that look whether it is in use hold it for a moment.
    if lock.lock().is_err() {
        return Ok(None);
    }
    lock.write_all(start_of_system().as_bytes())?;
    lock.flush()?;
    Ok(Some(lock))
}

/// Removes what killed runs left beside an output. Best effort: what cannot be removed stays.
pub(super) fn remove(path: &Path) {
    let Ok(entries) = fs::read_dir(folder_of(path)) else { return };
    let prefix = prefix(path);
    for entry in entries.flatten() {
        let ours = entry.file_name().to_str().is_some_and(|name| name.starts_with(&prefix));
        if ours && entry.file_type().is_ok_and(|t| t.is_dir()) {
            remove_if_abandoned(&entry.path());
        }
    }
}

fn remove_if_abandoned(home: &Path) {
    // Others may write in the folder, too: nothing but a file is opened, and no more of it read than there should be.
    let lock = home.join(LOCK);
    let abandoned = match fs::symlink_metadata(&lock) {
        Ok(there) if there.is_file() => is_free(&lock).unwrap_or_else(|| is_old(&there)),
        // Its owner died, or ran out of files, before it was made.
        Err(e) if e.kind() == io::ErrorKind::NotFound => fs::symlink_metadata(home).is_ok_and(|m| is_old(&m)),
        _ => false,
    };
    if abandoned {
        let _ = fs::remove_dir_all(home);
    }
}

/// Whether nobody holds a lock of this start of this system; nothing where that cannot be told.
fn is_free(lock: &Path) -> Option<bool> {
    let lock = File::open(lock).ok()?;
    match lock.try_lock() {
        Ok(()) => {
            let mut written = String::new();
            lock.take(LOCK_BYTES).read_to_string(&mut written).ok()?;
            // Empty where its owner is about to lock it, or could not.
            (!written.is_empty() && written == start_of_system()).then_some(true)
        }
        Err(TryLockError::Error(_)) => None,
        Err(TryLockError::WouldBlock) => Some(false),
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
        assert!(lock.is_some(), "this file system has no locks");
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
