//! Files that people give, opened and read.
use std::path::Path;

use crate::ask::track::{Track, read_with};
use crate::base::error::{Error, Result};

/// The bytes of a file; `next` is what to do where it cannot be read.
pub fn bytes(path: &Path, next: &str) -> Result<Vec<u8>> {
    std::fs::read(path).map_err(|e| Error::io(path, "cannot be read", &e, next))
}

/// The text of a file; `next` is what to do where it cannot be read.
pub fn text(path: &Path, next: &str) -> Result<String> {
    std::fs::read_to_string(path).map_err(|e| Error::io(path, "cannot be read", &e, next))
}

/// A track from a file, or typed; `polyline_decimals` is the precision of an encoded polyline where it is told.
pub fn track(track: &str, polyline_decimals: Option<u8>) -> Result<Track> {
    let path = Path::new(track);
    if path.is_file() {
        let next = "give a GPX, GeoJSON or encoded polyline";
        let text = String::from_utf8(bytes(path, next)?);
        let text = text.map_err(|e| Error::file(path, format!("is not UTF-8: {e}"), next))?;
        return read_with(&text, polyline_decimals).map_err(|fact| Error::file(path, fact, next));
    }
    let next = "give a file, or waypoints such as \"42.5,1.5 42.6,1.6\"";
    if !track.contains(',') && track.contains(['/', '.']) {
        return Err(Error::file(path, "is not there", next));
    }
    read_with(track, polyline_decimals).map_err(|fact| Error::usage("track", fact, next))
}
