//! The map library that pages hold.

/// The map library, as its package has it, and the licence that goes with it. `scripts/map_page/renew` puts it here.
const LIBRARY: &str = include_str!("vendor/maplibre-gl.js");
pub(super) const LIBRARY_LICENCE: &str = include_str!("vendor/LICENSE-maplibre-gl.txt");

/// The library without the line that names a file beside it.
pub(super) fn library() -> &'static str {
    LIBRARY.rsplit_once("//# sourceMappingURL").map_or(LIBRARY, |(before, _)| before)
}
