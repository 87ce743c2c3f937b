//! Whether what a build is asked for can be.
use super::options::BuildOptions;
use super::sources::Opened;
use crate::base::defect::Defect;
use crate::base::error::{Error, Result};
use crate::base::files::check_apart;
use crate::map::divide::Divided;
use crate::relief::ElevationKind;

/// An extract without roads is the wrong file.
pub(super) fn roads(options: &BuildOptions, read: &Divided) -> Result<()> {
    if read.counts.roads > 0 {
        return Ok(());
    }
    let (fact, next) = match read.defects.count(Defect::NearPole) {
        0 => (
            "holds no road that a vehicle may drive",
            "use an extract of the region's roads (osmium extract cuts one from a larger file)",
        ),
        _ => (
            "holds roads only near a pole, where directions have no meaning",
            "use an extract that reaches no farther than 89.9 degrees of latitude",
        ),
    };
    Err(Error::file(&options.extract, fact, next))
}

/// Rasters that say the same thing twice, or nothing without another.
pub(super) fn rasters(options: &BuildOptions) -> Result<()> {
    let surface = !options.elevation.is_empty()
        && options.elevation_inputs().iter().all(|input| input.kind == ElevationKind::Surface);
    match (options.surface.first(), options.canopy.first()) {
        (Some(path), _) if surface => Err(Error::usage(
            path.display().to_string(),
            "a surface above another surface does not give the height of what stands there",
            "give bare earth with --elevation, or leave out --surface",
        )),
        (Some(path), _) if options.elevation.is_empty() => Err(Error::usage(
            path.display().to_string(),
            "a surface shows how high things are only where bare earth is known too",
            "give bare earth with --elevation too, or this raster as --elevation with --elevation-kind surface",
        )),
        (None, Some(path)) if surface => Err(Error::usage(
            path.display().to_string(),
            "trees would be counted twice: once in the surface and once here",
            "give bare earth with --elevation, or leave out --canopy",
        )),
        _ => Ok(()),
    }
}

/// An output that is one of the inputs would replace it.
pub(super) fn output(options: &BuildOptions, sources: &Opened) -> Result<()> {
    let orbits = options.orbits.as_ref().map(|o| o.path.as_path());
    let buildings = options.buildings.as_ref().map(|b| b.path.as_path());
    let inputs = sources.files().chain([options.extract.as_path()]).chain(orbits).chain(buildings);
    check_apart(inputs, [options.output.as_path()])
}
