//! The rasters of a build, opened and checked.
use std::path::{Path, PathBuf};

use super::ground::covers_none;
use super::options::BuildOptions;
use super::readers::{Rasters, Readers};
use crate::base::error::{Error, Result};
use crate::base::geodesy::Position;
use crate::base::words::InputRole;
use crate::relief::{ElevationKind, FileRecord, RasterInput, RasterPlace, Sources};

/// Places of roads looked up to see whether a raster covers them.
const ASKED: usize = 2000;

/// Places of roads around which pixels are looked at.
const LOOKED_AT: usize = 400;
/// Most metres per value.
const MOST_SCALE: f64 = 100.0;

/// Metres per value are more than 0 and at most [`MOST_SCALE`].
fn check_scale(kind: ElevationKind, scale: Option<f64>) -> Result<()> {
    match scale {
        Some(metres) if !(metres > 0.0 && metres <= MOST_SCALE) => Err(Error::usage(
            format!("{metres} metres per value of {}", kind.name()),
            "is not a plausible scale for heights",
            format!("give more than 0 and at most {MOST_SCALE}, such as 0.1 for decimetres"),
        )),
        _ => Ok(()),
    }
}

/// At most `most` of some places, from all over them.
fn spread(roads: &[Position], most: usize) -> impl Iterator<Item = &Position> {
    roads.iter().step_by(roads.len().div_ceil(most).max(1))
}

/// Whether rasters have a height at any of some places.
fn shows_any(sources: &Sources, places: &[&Position]) -> Result<bool> {
    let reader = sources.reader()?;
    for place in places {
        if reader.height_m(**place)?.is_some() {
            return Ok(true);
        }
    }
    Ok(false)
}

/// All rasters of a build; holds no open handle.
pub(crate) struct Opened {
    elevation: Sources,
    canopy: Sources,
    surface: Sources,
}

impl Opened {
    /// Opens what the options name.
    ///
    /// # Errors
    /// A raster is missing, broken or says too little about itself.
    pub fn new(options: &BuildOptions) -> Result<Self> {
        let slope_deg = options.profile.relief.seam_slope_deg;
        let open = |paths: &[PathBuf], kind, metres_per_value| {
            check_scale(kind, metres_per_value)?;
            let input = |path: &PathBuf| RasterInput { path: path.clone(), kind, metres_per_value };
            Sources::open_inputs(&paths.iter().map(input).collect::<Vec<_>>(), slope_deg)
        };
        check_scale(ElevationKind::BareEarth, options.elevation_scale)?;
        Ok(Self {
            elevation: Sources::open_inputs(&options.elevation_inputs(), slope_deg)?,
            canopy: open(&options.canopy, ElevationKind::CanopyHeight, options.canopy_scale)?,
            surface: open(&options.surface, ElevationKind::Surface, options.surface_scale)?,
        })
    }
    /// Whether any elevation is of a kind.
    pub fn shows(&self, kind: ElevationKind) -> bool {
        self.elevation.has(kind)
    }
    /// What cannot be stops a build: damaged blocks, units nobody declared, one kind of raster given as another.
    ///
    /// # Errors
    /// A block of a raster is damaged; heights near the roads are beyond nature, or no heights of what their option says.
    pub(crate) fn check_nature(&self, roads: &[Position]) -> Result<()> {
        let places: Vec<_> = spread(roads, LOOKED_AT).copied().collect();
        let all = [(&self.elevation, "elevation"), (&self.surface, "surface"), (&self.canopy, "canopy")];
        for (sources, option) in all.iter().filter(|(sources, _)| !sources.is_empty()) {
            // First, as heights of damaged blocks are of no kind at all.
            sources.check_blocks()?;
            let reader = sources.reader()?;
            reader.check_nature(&places, option)?;
            if *option != "canopy" {
                reader.check_agreement(&places, option)?;
            }
        }
        if !self.elevation.is_empty()
            && let Some(path) = self.surface.files().next()
            && let Some(apart_m) = self.surface.reader()?.apart_m(&self.elevation.reader()?, &places)?
        {
            let fact = match apart_m < 0.0 {
                true => format!(
                    "lies {:.0} m below --elevation at the roads in the median, but a surface is never below the \
                     ground: the two differ in datum or place, or were given the wrong way round",
                    -apart_m
                ),
                false => format!(
                    "lies {apart_m:.0} m above --elevation in the median: the two differ in place, unit or datum"
                ),
            };
            let next = "give rasters of one vertical datum (gdal_calc.py adds an offset), --surface-scale or --elevation-scale if one \
                        is not in metres, or leave out --surface";
            return Err(Error::file(path, fact, next));
        }
        Ok(())
    }
    /// Every file that is read, those of folders by themselves.
    pub(crate) fn files(&self) -> impl Iterator<Item = &Path> {
        [&self.elevation, &self.canopy, &self.surface].into_iter().flat_map(Sources::files)
    }
    /// Where the files lie, in the order of [`Self::file_records`].
    pub fn places(&self) -> impl Iterator<Item = (InputRole, RasterPlace<'_>)> {
        self.by_role().into_iter().flat_map(|(role, sources)| sources.places().map(move |place| (role, place)))
    }
    /// Lattices of the rasters of each role, in order.
    pub fn lattices(&self) -> Vec<(InputRole, [f64; 6], usize, usize)> {
        let of = |(role, sources): (InputRole, &Sources)| {
            let all = sources.lattices();
            all.map(move |(transform, columns, rows)| (role, transform, columns, rows)).collect::<Vec<_>>()
        };
        self.by_role().into_iter().flat_map(of).collect()
    }
    fn by_role(&self) -> [(InputRole, &Sources); 3] {
        [
            (InputRole::Elevation, &self.elevation),
            (InputRole::Surface, &self.surface),
            (InputRole::Canopy, &self.canopy),
        ]
    }
    /// As workers read them.
    pub fn readers(&self) -> Rasters<'_> {
        Rasters {
            elevation: Readers::new(&self.elevation),
            canopy: Readers::new(&self.canopy),
            surface: Readers::new(&self.surface),
        }
    }
    /// Rasters that were given but show nothing where roads are are the wrong ones.
    ///
    /// # Errors
    /// None of up to [`ASKED`] places spread over the roads lies in them.
    pub(crate) fn check_cover(&self, options: &BuildOptions, roads: &[Position]) -> Result<()> {
        let places: Vec<_> = spread(roads, ASKED).collect();
        if let Some(first) = options.elevation.first()
            && !shows_any(&self.elevation, &places)?
        {
            return Err(covers_none(first));
        }
        for (sources, paths, option) in
            [(&self.canopy, &options.canopy, "--canopy"), (&self.surface, &options.surface, "--surface")]
        {
            if let Some(first) = paths.first()
                && !shows_any(sources, &places)?
            {
                let (low, high) = sources.kind().plausible_m().into_inner();
                let fact = format!("shows no height from {low} to {high} m at any of the roads sampled");
                let unit = if option == "--canopy" { ", give its unit with --canopy-scale" } else { "" };
                let next = format!("give rasters for the extract's region{unit}, or leave out {option}");
                return Err(Error::file(first, fact, next));
            }
        }
        Ok(())
    }
    /// Every file with its role and checksum.
    ///
    /// # Errors
    /// A file cannot be read any more.
    pub fn file_records(&self) -> Result<Vec<(InputRole, FileRecord)>> {
        let mut out = Vec::new();
        for (role, sources) in self.by_role() {
            out.extend(sources.file_records()?.into_iter().map(|file| (role, file)));
        }
        Ok(out)
    }
}
