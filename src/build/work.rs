//! The folder that a build works in: finished parts stay there, so that a build that was killed goes on where it was, and an
//! update rates only what changed.
use std::collections::BTreeSet;
use std::fs::{self, File, TryLockError};
use std::io;
use std::path::{Path, PathBuf};

use crate::base::district::District;
use crate::base::error::{Error, Result};
use crate::base::files::{folder_of, is_same_file, note_mark, note_tidied, remove_all_in, remove_if_bare};
use crate::base::hidden::is_hidden;
use crate::map::divide::{DistrictBundle, path_of};

use super::named_parts::{NamedParts, PartKey, part_name};

/// Says that a folder is one of these; locked while a build uses it.
const MARK: &str = "waymask-work";
/// Name of the folder of bundles in it.
const BUNDLES: &str = "bundles";
/// What a default folder adds to the name of the output.
const ENDING: &str = ".work";
/// In the names of parts that are not finished.
const NEW: &str = ".new.";

/// A folder in use.
#[derive(Debug)]
pub(crate) struct WorkFolder {
    path: PathBuf,
    /// Named by the user, who keeps the parts.
    given: bool,
    mark: Option<File>,
}

impl WorkFolder {
    /// Opens the folder given, else one next to the output, and makes it where it is not there.
    ///
    /// # Errors
    /// It holds something else, another build uses it, or it cannot be made.
    pub fn open(given: Option<&Path>, output: &Path) -> Result<Self> {
        let path = given.map_or_else(|| beside(output), Path::to_owned);
        let folder = Self::prepared(&path, given.is_some())?;
        check_outside(output, &path)?;
        folder.locked()
    }
    /// Opens a folder in which a build is planned; nothing else may go on in it meanwhile.
    ///
    /// # Errors
    /// As of [`Self::open`].
    pub fn open_to_plan(path: &Path) -> Result<Self> {
        Self::prepared(path, true)?.locked()
    }
    fn locked(mut self) -> Result<Self> {
        if let Some(Err(TryLockError::WouldBlock)) = self.mark.as_ref().map(File::try_lock) {
            // What is in it is the other build's: it is not tidied up when this is dropped.
            self.mark = None;
            return Err(in_use(&self.path));
        }
        self.remove(|name| name.contains(NEW)).iter().for_each(|path| note_tidied(path));
        self.remove_hidden();
        Ok(self)
    }
    /// Opens a folder that several shards work in at the same time, which a whole build does not.
    ///
    /// # Errors
    /// As of [`Self::open`].
    pub fn open_shared(path: &Path) -> Result<Self> {
        let folder = Self::prepared(path, true)?;
        if let Some(Err(TryLockError::WouldBlock)) = folder.mark.as_ref().map(File::try_lock_shared) {
            return Err(in_use(path));
        }
        // Others may be at work in it: only what no one holds.
        remove_all_in(path);
        Ok(folder)
    }
    fn prepared(path: &Path, given: bool) -> Result<Self> {
        let failed = |e: io::Error| Error::io(path, "cannot be used to work in", &e, "name another folder with --work");
        let mark = path.join(MARK);
        if !given {
            note_mark(&mark);
        }
        let is_new = match fs::symlink_metadata(path) {
            Ok(_) if !path.is_dir() => {
                return Err(Error::file(path, "is not a folder", "name a folder to work in with --work"));
            }
            Ok(_) => check_ours(path, failed).map(|()| false)?,
            Err(_) => fs::create_dir_all(path).map(|()| true).map_err(failed)?,
        };
        let mark = File::options().create(true).append(true).open(&mark).map_err(|e| {
            if is_new {
                // One that cannot be removed is empty.
                let _ = fs::remove_dir(path);
            }
            failed(e)
        })?;
        Ok(Self { path: path.to_owned(), given, mark: Some(mark) })
    }
    /// Its path.
    pub fn path(&self) -> &Path {
        &self.path
    }
    /// A finished part that is still what it was; nothing where it must be made (again). `told` hears of damaged ones.
    pub fn part(
        &self,
        (named, district, key): (&NamedParts, District, &PartKey),
        told: &dyn Fn(&Path),
    ) -> Option<PathBuf> {
        let (whole, damaged) = named.whole(district, key);
        for path in damaged {
            told(&path);
            // Left there it would be found damaged again; one that cannot be removed is no worse.
            let _ = fs::remove_file(&path);
        }
        whole
    }
    /// Where a part is written.
    pub fn new_part(&self, district: District) -> PathBuf {
        self.path.join(format!("{district}{NEW}gpkg"))
    }
    /// Gives a part that is written its name. Another process that rates the same district may have kept it: its bytes are
    /// the same.
    ///
    /// # Errors
    /// The disk fails.
    pub fn keep(&self, district: District, key: &PartKey) -> Result<PathBuf> {
        let new = self.new_part(district);
        let kept = || {
            let path = self.path.join(part_name(district, key, &new)?);
            fs::rename(&new, &path).map(|()| path)
        };
        let by_another = |e: io::Error| NamedParts::of(&self.path).whole(district, key).0.ok_or(e);
        kept()
            .or_else(by_another)
            .map_err(|e| Error::io(&new, "cannot be kept", &e, "check the disk, then run again: finished parts stay"))
    }
    /// Keeps the bundles of a plan, for shards that have no extract; those of another plan go.
    ///
    /// # Errors
    /// The disk fails.
    pub fn keep_bundles(&self, bundles: &[DistrictBundle]) -> Result<()> {
        let home = bundles_in(&self.path);
        let failed =
            |path: &Path, e: &io::Error| Error::io(path, "cannot be kept", e, "check the disk, then plan again");
        self.remove_bundles();
        fs::create_dir_all(&home).map_err(|e| failed(&home, &e))?;
        for bundle in bundles {
            let kept = path_of(&home, bundle.district);
            fs::rename(&bundle.path, &kept).map_err(|e| failed(&kept, &e))?;
        }
        Ok(())
    }
    /// Removes bundles of a plan. What cannot be removed stays.
    fn remove_bundles(&self) {
        let home = bundles_in(&self.path);
        let Ok(entries) = fs::read_dir(&home) else { return };
        for path in entries.flatten().map(|e| e.path()) {
            let district = path.file_stem().and_then(|stem| stem.to_str()).map(str::parse::<District>);
            if matches!(district, Some(Ok(district)) if path_of(&home, district) == path) {
                let _ = fs::remove_file(path);
            }
        }
        // Not if something else is in it.
        let _ = fs::remove_dir(home);
    }
    /// Ends the work: what these parts took the place of goes, and all of them where nobody named the folder. Parts of other
    /// districts stay: neighbouring regions may share a folder.
    pub fn finish(mut self, used: &BTreeSet<PathBuf>) {
        let done: BTreeSet<District> =
            used.iter().filter_map(|path| district_in(&path.file_name()?.to_string_lossy())).collect();
        let of_others = |name: &str| district_in(name).is_some_and(|d| !done.contains(&d)) && !name.contains(NEW);
        let keep = |name: &str| self.given && (of_others(name) || used.contains(&self.path.join(name)));
        self.remove(|name| name.ends_with(".gpkg") && !keep(name));
        self.remove_bundles();
        if !self.given {
            self.give_up();
        }
    }
    /// Removes files of ours, and says which. What cannot be removed stays.
    fn remove(&self, which: impl Fn(&str) -> bool) -> Vec<PathBuf> {
        let entries = fs::read_dir(&self.path).into_iter().flatten().flatten();
        let ours = entries.filter(|entry| {
            let name = entry.file_name().to_string_lossy().into_owned();
            is_part(&name) && which(&name)
        });
        ours.map(|entry| entry.path()).filter(|path| fs::remove_file(path).is_ok()).collect()
    }
    /// Removes the folders that things grew in when a build was killed: nobody else is at work here. Those of what is made
    /// again would go anyway; that of a part that was finished a moment before would stay.
    fn remove_hidden(&self) {
        let Ok(entries) = fs::read_dir(&self.path) else { return };
        for entry in entries.flatten() {
            let name = entry.file_name().to_string_lossy().into_owned();
            let is_folder = is_hidden(&name) && entry.file_type().is_ok_and(|kind| kind.is_dir());
            if is_folder && fs::remove_dir_all(entry.path()).is_ok() {
                note_tidied(&entry.path());
            }
        }
    }
    /// Removes the folder if nothing but the mark is in it.
    fn give_up(&mut self) {
        self.mark = None;
        remove_if_bare(&self.path.join(MARK));
    }
}

impl Drop for WorkFolder {
    fn drop(&mut self) {
        if self.mark.is_some() && !self.given {
            self.remove(|name| name.contains(NEW));
            self.give_up();
        }
    }
}

fn in_use(path: &Path) -> Error {
    let next = "wait until that build is done, or name another folder with --work";
    Error::again(path.display().to_string(), "is in use by another build", next)
}

/// Where the bundles of a plan are.
pub(crate) fn bundles_in(folder: &Path) -> PathBuf {
    folder.join(BUNDLES)
}

/// The folder of an output where none is named.
pub fn beside(output: &Path) -> PathBuf {
    let mut name = output.as_os_str().to_owned();
    name.push(ENDING);
    PathBuf::from(name)
}

/// An output in a folder of parts could take the place of one, or of their plan.
///
/// # Errors
/// It lies in the folder, or in one below it.
pub fn check_outside(output: &Path, folder: &Path) -> Result<()> {
    let home = folder_of(output);
    let is_folder = |above: &Path| !above.as_os_str().is_empty() && is_same_file(above, folder);
    if !home.starts_with(folder) && !home.ancestors().any(is_folder) {
        return Ok(());
    }
    let next = "write it to another folder";
    Err(Error::usage(output.display().to_string(), format!("lies in the work folder {}", folder.display()), next))
}

/// Whether a file is named as a part is, finished or not.
fn is_part(name: &str) -> bool {
    name.ends_with(".gpkg") && district_in(name).is_some()
}

/// The district that the name of a part begins with.
fn district_in(name: &str) -> Option<District> {
    name.split(['-', '.']).next()?.parse().ok()
}

/// Files of other things must not be taken for parts, nor be removed with them.
fn check_ours(path: &Path, failed: impl Fn(io::Error) -> Error) -> Result<()> {
    if path.join(MARK).exists() {
        return Ok(());
    }
    match fs::read_dir(path).map_err(failed)?.next() {
        None => Ok(()),
        Some(_) => Err(Error::file(
            path,
            "holds other files than those of a build",
            "name an empty folder, or one that does not exist yet, with --work",
        )),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::geodesy::Position;

    fn district() -> District {
        District::of(Position::from_deg(1.6, 42.6))
    }

    fn make(folder: &WorkFolder, key: &PartKey, text: &str) -> PathBuf {
        fs::write(folder.new_part(district()), text).unwrap();
        folder.keep(district(), key).unwrap()
    }

    #[test]
    fn a_part_is_found_by_what_it_depends_on_and_only_whole() {
        let home = tempfile::tempdir().unwrap();
        let output = home.path().join("x.gpkg");
        let folder = WorkFolder::open(None, &output).unwrap();
        let (key, other) = (PartKey::of([b"a".as_slice(), b"bc"]), PartKey::of([b"ab".as_slice(), b"c"]));
        let part = make(&folder, &key, "whole");
        let told = std::cell::Cell::new(0);
        let named = || NamedParts::of(folder.path());
        let look = |key: &PartKey| folder.part((&named(), district(), key), &|_| told.set(told.get() + 1));
        assert_eq!((look(&key), look(&other), told.get()), (Some(part.clone()), None, 0));
        fs::write(&part, "whale").unwrap();
        assert_eq!((look(&key), told.get(), part.exists()), (None, 1, false));
    }

    #[test]
    fn a_part_that_another_process_kept_meanwhile_is_taken() {
        let home = tempfile::tempdir().unwrap();
        let folder = WorkFolder::open_shared(&home.path().join("work")).unwrap();
        let key = PartKey::of([]);
        let part = make(&folder, &key, "the same bytes");
        assert_eq!(folder.keep(district(), &key).unwrap(), part);
        let error = folder.keep(district(), &PartKey::of([b"other".as_slice()])).unwrap_err();
        assert!(error.to_string().contains("cannot be kept"), "{error}");
    }

    #[test]
    fn a_folder_of_our_own_goes_when_all_is_done_and_stays_when_it_is_not() {
        let home = tempfile::tempdir().unwrap();
        let output = home.path().join("x.gpkg");
        let work = home.path().join("x.gpkg.work");
        drop(WorkFolder::open(None, &output).unwrap());
        assert!(!work.exists(), "nothing was finished");
        let folder = WorkFolder::open(None, &output).unwrap();
        let part = make(&folder, &PartKey::of([]), "1");
        fs::write(folder.new_part(district()), "half").unwrap();
        drop(folder);
        let left =
            fs::read_dir(&work).unwrap().filter(|e| e.as_ref().unwrap().path().to_string_lossy().contains(NEW)).count();
        assert_eq!((part.exists(), left), (true, 0));
        WorkFolder::open(None, &output).unwrap().finish(&BTreeSet::from([part]));
        assert!(!work.exists());
    }

    #[test]
    fn hidden_folders_of_a_killed_build_go_and_others_stay() {
        const LETTERS: &str = "abcdef123456";
        let home = tempfile::tempdir().unwrap();
        let work = home.path().join("work");
        let open = || WorkFolder::open(Some(&work), Path::new("x.gpkg"));
        drop(open().unwrap());
        let names =
            [format!(".{}{NEW}gpkg.part-{LETTERS}", district()), format!(".plan.json.part-{LETTERS}"), ".notes".into()];
        let [held, left, other] = names.map(|name| work.join(name));
        for folder in [&held, &left, &other] {
            fs::create_dir(folder).unwrap();
            fs::write(folder.join("lock"), "").unwrap();
        }
        let lock = File::open(held.join("lock")).unwrap();
        lock.lock().unwrap();
        drop(WorkFolder::open_shared(&work).unwrap());
        assert!(held.exists() && !left.exists(), "another shard is at work in one of them");
        drop(lock);
        drop(open().unwrap());
        assert_eq!([held.exists(), other.exists()], [false, true]);
    }

    #[test]
    fn a_folder_that_is_named_keeps_the_parts_in_use_and_what_is_not_ours() {
        let home = tempfile::tempdir().unwrap();
        let work = home.path().join("deep/work");
        let open = || WorkFolder::open(Some(&work), Path::new("x.gpkg"));
        let folder = open().unwrap();
        fs::write(folder.new_part(district()), "half").unwrap();
        assert!(open().unwrap_err().to_string().contains("in use by another build"));
        assert!(folder.new_part(district()).exists(), "the other build goes on");
        let (old, new) = (make(&folder, &PartKey::of([b"1".as_slice()]), "1"), make(&folder, &PartKey::of([]), "2"));
        let neighbour = work.join("n4250e00175-1-1.gpkg");
        fs::write(&neighbour, "3").unwrap();
        fs::write(work.join("notes.gpkg"), "mine").unwrap();
        folder.finish(&BTreeSet::from([new.clone()]));
        let there = [&old, &new, &neighbour, &work.join("notes.gpkg")].map(|path| path.exists());
        assert_eq!(there, [false, true, true, true]);
        drop(open().unwrap());
        let strange = home.path().join("strange");
        fs::create_dir(&strange).unwrap();
        fs::write(strange.join("a.txt"), "").unwrap();
        let error = WorkFolder::open(Some(&strange), Path::new("x.gpkg")).unwrap_err().to_string();
        assert!(error.contains("holds other files"), "{error}");
    }
}
