//! Satellites: the closed form compared with moving patterns, element files, SGP4, shells, passes.
mod fit;
mod passes;
mod reading;
mod sgp4_published;
mod timeline;
mod walker;

/// Test data that is not part of the project, or nothing, with the reason printed.
fn shared(name: &str) -> Option<Vec<u8>> {
    let folder = std::env::var_os("WAYMASK_DATA").map_or_else(
        || std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../shared/data"),
        std::path::PathBuf::from,
    );
    let path = folder.join(name);
    let bytes = std::fs::read(&path);
    if let Err(e) = &bytes {
        eprintln!("skipped: {}: {e} (set WAYMASK_DATA)", path.display());
    }
    bytes.ok()
}
