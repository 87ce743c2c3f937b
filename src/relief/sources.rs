//! Elevation sources in order of preference: mosaics of like rasters.
use std::io::Read;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use sha2::{Digest, Sha256};

use super::block_sums::check_blocks;
use super::calls::set_up_gdal;
use super::files::rasters_of;
use super::kind::ElevationKind;
use super::mosaic::{Mosaic, grouped};
use super::raster::inspect;
use super::reader::Reader;
use super::referred::referred;
use crate::base::district::Reach;
use crate::base::error::{Error, Result};
use crate::base::foreign::{BrokeOff, foreign};
use crate::base::hex::hexadecimal;
use crate::base::input::cannot_read;

/// One file that went into a build.
#[derive(Debug, Clone, PartialEq)]
pub struct FileRecord {
    /// As the user named it, or as found in the user's folder.
    pub path: PathBuf,
    /// Size, bytes.
    pub bytes: u64,
    /// SHA-256, lower-case hexadecimal.
    pub sha256: String,
    /// How its heights were read, the finest of an archive; `None` for what is not a raster.
    pub read_as: Option<RasterUse>,
}

/// How the heights of a raster were read.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RasterUse {
    /// What they are heights of.
    pub kind: ElevationKind,
    /// Side of a pixel, metres, roughly.
    pub pixel_m: f64,
    /// Metres per value.
    pub metres_per_value: f64,
}

/// A raster, archive of rasters or folder, as asked for.
#[derive(Debug, Clone, PartialEq)]
pub struct RasterInput {
    /// Where it lies.
    pub path: PathBuf,
    /// What its heights are heights of.
    pub kind: ElevationKind,
    /// Metres per value, instead of the unit, scale and offset it declares.
    pub metres_per_value: Option<f64>,
}

/// A file that was opened, and where it lies.
#[derive(Debug, Clone, Copy)]
pub struct RasterPlace<'a> {
    /// The file on disk.
    pub path: &'a Path,
    /// Box around all of its pixels; nothing where that is not known, or a turn around the earth.
    pub reach: Option<Reach>,
}

#[derive(Debug)]
struct SourceFile {
    path: PathBuf,
    used: RasterUse,
    reach: Option<Reach>,
}

/// Where one source ends and the next goes on, offsets between them fade along a slope of this many degrees.
const SEAM_SLOPE_DEG: f64 = 1.0;

/// Every elevation source of a run, best first. Holds no open handle; see [`Sources::reader`].
#[derive(Debug)]
pub struct Sources {
    mosaics: Vec<Arc<Mosaic>>,
    files: Vec<SourceFile>,
    seam_slope: f64,
}

impl Sources {
    /// Opens rasters, archives of rasters and folders, in order of preference. Within a folder finer
    /// rasters come first, then by name.
    ///
    /// # Errors
    /// One is missing, damaged or says too little about itself.
    pub fn open(paths: &[PathBuf], kind: ElevationKind) -> Result<Self> {
        let input = |path: &PathBuf| RasterInput { path: path.clone(), kind, metres_per_value: None };
        Self::open_inputs(&paths.iter().map(input).collect::<Vec<_>>(), SEAM_SLOPE_DEG)
    }
    /// The same, each with its kind and scale; offsets between sources fade along `seam_slope_deg`.
    ///
    /// # Errors
    /// As [`Self::open`].
    pub fn open_inputs(inputs: &[RasterInput], seam_slope_deg: f64) -> Result<Self> {
        set_up_gdal();
        let seam_slope = seam_slope_deg.to_radians().tan();
        let mut sources = Self { mosaics: Vec::new(), files: Vec::new(), seam_slope };
        for input in inputs {
            let rasters = rasters_of(&input.path)?
                .iter()
                .map(|file| {
                    let broke_off = |broken: BrokeOff| {
                        Error::file(&file.disk, broken.to_string(), "download the file again or leave it out")
                    };
                    foreign("rasters", || inspect(file, input.kind, input.metres_per_value)).map_err(broke_off)?
                })
                .collect::<Result<Vec<_>>>()?;
            for raster in &rasters {
                let (kind, pixel_m) = (raster.kind, raster.rough_pixel_m);
                let used = RasterUse { kind, pixel_m, metres_per_value: raster.metres_per_value };
                match sources.files.iter_mut().find(|file| file.path == raster.file.disk) {
                    Some(known) => {
                        known.reach = known.reach.zip(raster.reach).map(|(a, b)| a.with(&b));
                        if pixel_m < known.used.pixel_m {
                            known.used = used;
                        }
                    }
                    None => {
                        let path = raster.file.disk.clone();
                        sources.files.push(SourceFile { path, used, reach: raster.reach });
                    }
                }
            }
            for group in grouped(rasters) {
                sources.mosaics.push(Arc::new(Mosaic::of(group)?));
            }
        }
        Ok(sources)
    }
    /// What the heights of the best source are heights of; bare earth without sources.
    pub fn kind(&self) -> ElevationKind {
        self.mosaics.first().map_or(ElevationKind::BareEarth, |m| m.first.kind)
    }
    /// Whether any source has heights of a kind.
    pub fn has(&self, kind: ElevationKind) -> bool {
        self.mosaics.iter().any(|m| m.first.kind == kind)
    }
    /// Whether there is no source at all.
    pub fn is_empty(&self) -> bool {
        self.mosaics.is_empty()
    }
    /// Handles for one thread; they stay usable when the sources are gone.
    pub fn reader(&self) -> Result<Reader> {
        Reader::new(&self.mosaics, self.kind(), self.seam_slope)
    }
    /// Every file used, in order.
    pub(crate) fn files(&self) -> impl Iterator<Item = &Path> {
        self.files.iter().map(|file| file.path.as_path())
    }
    /// Where they lie, in the same order.
    pub fn places(&self) -> impl Iterator<Item = RasterPlace<'_>> {
        self.files.iter().map(|file| RasterPlace { path: &file.path, reach: file.reach })
    }
    /// Unpacks the files whose blocks have checksums.
    ///
    /// # Errors
    /// A block is damaged.
    pub fn check_blocks(&self) -> Result<()> {
        self.files.iter().try_for_each(|file| {
            check_blocks(&file.path)?;
            referred(&file.path).iter().try_for_each(|shown| check_blocks(shown))
        })
    }
    /// Transform, columns and rows of the lattices that rasters are joined to, in order: all that a raster changes far from where it lies.
    pub fn lattices(&self) -> impl Iterator<Item = ([f64; 6], usize, usize)> {
        self.mosaics.iter().map(|m| (m.to_crs, m.columns, m.rows))
    }
    /// Every file used, in order, with its checksum. Reads all of them.
    pub fn file_records(&self) -> Result<Vec<FileRecord>> {
        let of = |file: &SourceFile| Ok(FileRecord { read_as: Some(file.used), ..file_record(&file.path)? });
        self.files.iter().map(of).collect()
    }
}

/// A file with its checksum; that of a mosaic covers the files it shows, too, and its length is that of all of them.
///
/// # Errors
/// It cannot be read.
pub fn file_record(path: &Path) -> Result<FileRecord> {
    let (mut hash, mut bytes) = (Sha256::new(), 0);
    hash_file(path, &mut hash, &mut bytes)?;
    referred(path).iter().try_for_each(|file| hash_file(file, &mut hash, &mut bytes))?;
    Ok(FileRecord { path: path.to_owned(), bytes, sha256: hexadecimal(&hash.finalize()), read_as: None })
}

/// Bytes of a file, and of those that it shows where it is a mosaic; nothing where it cannot be told.
pub fn file_bytes(path: &Path) -> Option<u64> {
    let of = |path: &Path| std::fs::metadata(path).ok().map(|m| m.len());
    referred(path).iter().try_fold(of(path)?, |sum, file| Some(sum + of(file)?))
}

fn hash_file(path: &Path, hash: &mut Sha256, bytes: &mut u64) -> Result<()> {
    let failed = |e: std::io::Error| cannot_read(path, &e, "check that it is still there");
    let mut file = std::fs::File::open(path).map_err(failed)?;
    let mut buffer = vec![0; 1 << 18];
    loop {
        let n = file.read(&mut buffer).map_err(failed)?;
        if n == 0 {
            return Ok(());
        }
        hash.update(&buffer[..n]);
        *bytes += n as u64;
    }
}
