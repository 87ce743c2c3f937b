//! Files that a mosaic (VRT) refers to: what it shows is in them, and they change without it.
use std::collections::BTreeSet;
use std::fs::File;
use std::io::Read;
use std::path::{Path, PathBuf};

use crate::base::foreign::foreign;

/// Larger mosaics are not looked into, bytes: a list of half a million tiles.
const LARGEST_BYTES: u64 = 64 << 20;
/// A mosaic says so within this many bytes.
const HEAD_BYTES: u64 = 1_024;
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
    let Some(text) = text_of(path) else { return Vec::new() };
    let home = path.parent().unwrap_or(Path::new(""));
    let read = || {
        // What GDAL cannot read either is told when it opens the mosaic.
        let Ok(document) = roxmltree::Document::parse(&text) else { return Vec::new() };
        let naming = document.descendants().filter(|node| NAMING.contains(&node.tag_name().name()));
        let file = |node: roxmltree::Node| {
            let name = Path::new(node.text()?.trim());
            let relative =
                node.attributes().any(|a| a.name().eq_ignore_ascii_case("relativeToVRT") && a.value() == "1");
            let name = archive_of(name);
            Some(if relative { home.join(name) } else { name.to_owned() })
        };
        naming.filter_map(file).collect()
    };
    foreign("mosaics", read).unwrap_or_default()
}

/// The text of a mosaic, whatever its name; nothing where it is none, or too large.
fn text_of(path: &Path) -> Option<String> {
    let mut file = File::open(path).ok()?;
    let mut head = Vec::new();
    file.by_ref().take(HEAD_BYTES).read_to_end(&mut head).ok()?;
    if !String::from_utf8_lossy(&head).contains("<VRTDataset") {
        return None;
    }
    let mut text = head;
    file.take(LARGEST_BYTES).read_to_end(&mut text).ok()?;
    String::from_utf8(text).ok().filter(|text| text.len() as u64 <= LARGEST_BYTES)
}

/// The archive that a name of GDAL leads into, such as `/vsizip/a/b.zip/c.hgt` or `/vsizip/{a/b.zip}/c.hgt`; else the name.
fn archive_of(name: &Path) -> &Path {
    let Some(text) = name.to_str() else { return name };
    let inner = ["/vsizip/", "/vsitar/", "/vsigzip/"].iter().find_map(|prefix| text.strip_prefix(prefix));
    let Some(inner) = inner else { return name };
    if let Some((archive, _)) = inner.strip_prefix('{').and_then(|rest| rest.split_once('}')) {
        return Path::new(archive);
    }
    Path::new(inner).ancestors().find(|file| file.is_file()).unwrap_or(name)
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
        // In an archive; under another name.
        std::fs::write(at("c.zip"), b"c").unwrap();
        let zipped = format!("/vsizip/{}/c.hgt", at("c.zip").display());
        std::fs::write(at("zipped.xml"), vrt(&[source(&zipped, 0)])).unwrap();
        assert_eq!(referred(&at("zipped.xml")), [at("c.zip")]);
        std::fs::write(at("bad.vrt"), "<VRTDataset>").unwrap();
        assert_eq!(referred(&at("bad.vrt")), Vec::<PathBuf>::new());
    }
}
