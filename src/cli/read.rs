//! Tracks that people give: opened and read, or typed.
use std::path::Path;

use crate::ask::track::{Track, read_bytes, read_with};
use crate::base::error::{Error, Result};
use crate::base::input::{self, InputKind};

/// Whether words name a file: there is one, or they look like the path of one and like no place.
pub(crate) fn names_file(words: &str) -> bool {
    Path::new(words).exists() || !words.contains(',') && words.contains(['/', '.'])
}

/// A track from a file, a pipe or standard input (`/dev/stdin`), or typed; `polyline_decimals` is the precision of an
/// encoded polyline where it is told.
pub fn track(track: &str, polyline_decimals: Option<u8>) -> Result<Track> {
    let path = Path::new(track);
    if names_file(track) {
        let next = "give a file (GPX, GeoJSON or encoded polyline), or waypoints such as \"42.5,1.5 42.51,1.5\"";
        let bytes = input::bytes(path, InputKind::Track, next)?;
        return read_bytes(bytes, polyline_decimals).map_err(|fact| Error::file(path, fact, next));
    }
    let next = "give a file, or waypoints such as \"42.5,1.5 42.51,1.5\"";
    read_with(track, polyline_decimals).map_err(|fact| Error::usage("track", fact, next))
}
