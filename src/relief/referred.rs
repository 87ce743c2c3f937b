//! Files that a mosaic (VRT) refers to: what it shows is in them, and they change without it.
use std::collections::BTreeSet;
use std::fs::File;
use std::io::Read;
use std::path::{Path, PathBuf};

use crate::base::foreign::foreign;

/// Larger mosaics are not looked into, bytes: a list of half a million tiles.
const LARGEST_BYTES: u64 = 64 << 20;
/// Elements whose text names a file.
const NAMING: [&str; 2] = ["SourceFilename", "SourceDataset"];

/// Files on this disk that a mosaic shows, and those that mosaics in it show, each once, in the order they are named; nothing for
/// any other file. What is not a file here is left to GDAL.
pub(super) fn referred(path: &Path) -> Vec<PathBuf> {
    let mut seen = BTreeSet::from([path.to_owned()]);
    let mut found = Vec::new();
    let mut next = named_in(path);
    next.reverse();
    while let Some(file) = next.pop() {
        if seen.insert(file.clone()) && file.is_file() {
            next.extend(named_in(&file).into_iter().rev());
            found.push(file);
        }
    }
    found
}

/// Files that one mosaic names.
fn named_in(path: &Path) -> Vec<PathBuf> {
    let is_mosaic = path.extension().is_some_and(|e| e.eq_ignore_ascii_case("vrt"));
    let Some(text) = is_mosaic.then(|| text_of(path)).flatten() else { return Vec::new() };
    let home = path.parent().unwrap_or(Path::new(""));
    let read = || {
        // What GDAL cannot read either is told when it opens the mosaic.
        let Ok(document) = roxmltree::Document::parse(&text) else { return Vec::new() };
        let naming = document.descendants().filter(|node| NAMING.contains(&node.tag_name().name()));
        let file = |node: roxmltree::Node| {
            let name = Path::new(node.text()?.trim());
            let relative = node.attribute("relativeToVRT") == Some("1");
            Some(if relative { home.join(name) } else { name.to_owned() })
        };
        naming.filter_map(file).collect()
    };
    foreign("mosaics", read).unwrap_or_default()
}

/// The text of a mosaic; nothing where it is none, or too large.
fn text_of(path: &Path) -> Option<String> {
    let mut text = String::new();
    let read = File::open(path).ok()?.take(LARGEST_BYTES + 1).read_to_string(&mut text).ok()?;
    (read as u64 <= LARGEST_BYTES).then_some(text)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_mosaic_of_mosaics_names_every_file_once() {
        let home = tempfile::tempdir().unwrap();
        let at = |name: &str| home.path().join(name);
        let source = |name: &str, relative: u8| {
            format!(
                r#"<VRTRasterBand band="1"><SimpleSource><SourceFilename relativeToVRT="{relative}">{name}</SourceFilename></SimpleSource></VRTRasterBand>"#
            )
        };
        let vrt = |bands: &[String]| format!("<VRTDataset>{}</VRTDataset>", bands.concat());
        std::fs::write(at("a.tif"), b"a").unwrap();
        std::fs::write(at("b.tif"), b"b").unwrap();
        let absolute = at("b.tif").display().to_string();
        std::fs::write(at("inner.vrt"), vrt(&[source("a.tif", 1), source("outer.vrt", 1)])).unwrap();
        let bands = [source("inner.vrt", 1), source(&absolute, 0), source("a.tif", 1), source("gone.tif", 1)];
        std::fs::write(at("outer.vrt"), vrt(&bands)).unwrap();
        assert_eq!(referred(&at("outer.vrt")), [at("inner.vrt"), at("a.tif"), at("b.tif")]);
        assert_eq!(referred(&at("a.tif")), Vec::<PathBuf>::new());
        std::fs::write(at("bad.vrt"), "<VRTDataset>").unwrap();
        assert_eq!(referred(&at("bad.vrt")), Vec::<PathBuf>::new());
    }
}
