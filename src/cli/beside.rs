//! What lies beside an output: map pages that a brief links to.
use std::fs;
use std::io::Read;
use std::path::Path;

use crate::base::files::{ending, folder_of};
use crate::layer::Layer;
use crate::report::map_page::{is_map_of, layer_mark};

/// Bytes at the beginning of a page that say of which layer it is.
const HEAD_BYTES: u64 = 4_096;
/// Most files of a folder that are looked at, and most pages that are linked to.
const MOST: (usize, usize) = (1_000, 5);

/// Names of map pages of a layer in the folder of an output, in order. A file that cannot be read is none.
pub(crate) fn map_pages(output: &Path, layer: &Layer) -> Vec<String> {
    let mark = layer_mark(layer.record());
    let mut files: Vec<_> = fs::read_dir(folder_of(output)).into_iter().flatten().flatten().map(|e| e.path()).collect();
    files.sort();
    let pages = files.iter().filter(|path| ending(path) == "html" && path.file_name() != output.file_name());
    let of_layer = pages.take(MOST.0).filter(|path| is_map_of(&head_of(path).unwrap_or_default(), &mark));
    // A name that is not text would lead nowhere.
    let names = of_layer.filter_map(|path| path.file_name()?.to_str().map(str::to_owned));
    names.take(MOST.1).collect()
}

/// The beginning of a file; nothing of pipes and devices, which would be waited for.
fn head_of(path: &Path) -> Option<String> {
    fs::metadata(path).ok().filter(fs::Metadata::is_file)?;
    let mut bytes = Vec::new();
    fs::File::open(path).ok()?.take(HEAD_BYTES).read_to_end(&mut bytes).ok()?;
    Some(String::from_utf8_lossy(&bytes).into_owned())
}
