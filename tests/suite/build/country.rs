//! A country with its elevation, built once for all tests that only read it.
use std::fs::File;
use std::path::{Path, PathBuf};

use waymask::base::progress::Silent;
use waymask::build::{self, BuildOptions};
use waymask::profile::Profile;

use crate::need;

/// Its extract in the shared data.
pub const ANDORRA: &str = "andorra/andorra-2025.osm.pbf";
/// As a setting, for a test that rates it again.
pub const DRIVES: &str = "link.drives=8";

/// A layer of Andorra with its relief and few drives. Tests run in processes of their own: the first that asks builds it,
/// the others wait. It is built anew for every build of this program, whose time is in its name; nobody may write to it.
pub fn andorra() -> Option<PathBuf> {
    let extract = need::data(ANDORRA)?;
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR"));
    let made = std::env::current_exe().unwrap().metadata().unwrap().modified().unwrap();
    let made_ns = made.duration_since(std::time::UNIX_EPOCH).unwrap().as_nanos();
    let layer = folder.join(format!("andorra-{made_ns}.gpkg"));
    let lock = File::create(folder.join("andorra.lock")).unwrap();
    lock.lock().unwrap();
    if !layer.exists() {
        // Those of earlier programs.
        for entry in std::fs::read_dir(folder).unwrap().map(Result::unwrap) {
            let name = entry.file_name().into_string().unwrap();
            if name.starts_with("andorra-") && name.ends_with(".gpkg") {
                std::fs::remove_file(entry.path()).unwrap();
            }
        }
        let mut profile = Profile::default();
        profile.link.drives = 8;
        let elevation = vec![extract.parent().unwrap().to_owned()];
        build::build(&BuildOptions { profile, elevation, ..BuildOptions::new(extract, layer.clone()) }, &Silent)
            .unwrap();
    }
    Some(layer)
}
