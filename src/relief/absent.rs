//! Pixels that a raster does not hold and GDAL reads as zeros: sea level, or land without trees, which nobody measured.
//!
//! A GeoTIFF may lack blocks: a program that writes one leaves out blocks of zeros where it is told to, but a file that was only
//! begun, or lost a part of its list of blocks, looks the same. A mosaic (VRT) lacks the pixels that no file of it covers.
//! Where a raster declares a value for nothing, both are read as that, and stay unknown.
use std::path::Path;

use gdal::raster::RasterBand;
use gdal::{Dataset, Metadata};

use super::calls::open;
use super::referred::referred;

/// A mosaic is looked at in this many places along each side: a missing tile is seen among fifty in a row.
const LOOKS: usize = 50;

/// What a raster lacks, where it does not say by a value what is unknown; nothing where it holds everything.
pub(super) fn absent(dataset: &Dataset, band: &RasterBand) -> Option<String> {
    // A value for nothing, or a mask.
    if band.mask_flags().is_ok_and(|flags| !flags.is_all_valid()) {
        return None;
    }
    match dataset.driver().short_name().as_str() {
        "GTiff" | "COG" => absent_block(band),
        "VRT" => uncovered_pixel(band),
        _ => None,
    }
}

/// What the files lack that a mosaic shows: it passes their zeros on, also where it declares a value for nothing itself.
pub(super) fn absent_behind(mosaic: &Path) -> Option<String> {
    referred(mosaic).iter().find_map(|shown| {
        // What cannot be opened is told when it is read.
        let dataset = open(shown).ok()?;
        let gap = absent(&dataset, &dataset.rasterband(1).ok()?)?;
        Some(format!("it shows {}: {gap}", shown.display()))
    })
}

/// The first block that is not in the file.
fn absent_block(band: &RasterBand) -> Option<String> {
    let ((columns, rows), (wide, high)) = (band.size(), band.block_size());
    let (across, down) = (columns.div_ceil(wide.max(1)), rows.div_ceil(high.max(1)));
    // Where a block begins; at 0 there is the head of the file.
    let begins = |x: usize, y: usize| band.metadata_item(&format!("BLOCK_OFFSET_{x}_{y}"), "TIFF");
    let there = |x: usize, y: usize| begins(x, y).is_some_and(|at| at != "0");
    let (mut gone, mut first) = (0_usize, None);
    for (x, y) in (0..down).flat_map(|y| (0..across).map(move |x| (x, y))) {
        if !there(x, y) {
            gone += 1;
            first.get_or_insert((x * wide, y * high));
        }
    }
    let (column, row) = first?;
    let all = across * down;
    Some(format!(
        "{gone} of its {all} blocks are missing, the first at column {column} and row {row}; they would be read as zeros"
    ))
}

/// The first pixel looked at that no file of a mosaic covers.
fn uncovered_pixel(band: &RasterBand) -> Option<String> {
    let (columns, rows) = band.size();
    let places = |size: usize| {
        let looks = LOOKS.min(size);
        (0..looks).map(move |k| k * (size - 1) / (looks - 1).max(1))
    };
    for (x, y) in places(rows).flat_map(|y| places(columns).map(move |x| (x, y))) {
        // Mosaics of another kind, such as warped ones, do not answer.
        let files = band.metadata_item(&format!("Pixel_{x}_{y}"), "LocationInfo")?;
        if !files.contains("<File>") {
            return Some(format!("no file of this mosaic covers column {x} and row {y}; it would be read as zero"));
        }
    }
    None
}

#[cfg(test)]
mod tests {
    use gdal::DriverManager;
    use gdal::raster::{Buffer, RasterCreationOptions};

    use super::*;

    const SIDE: usize = 64;

    /// A raster of four strips, of which the first `strips` are written; empty ones are left out.
    fn tiff(path: &Path, strips: usize, nodata: Option<f64>) {
        let options = RasterCreationOptions::from_iter(["SPARSE_OK=TRUE", "BLOCKYSIZE=16"]);
        let driver = DriverManager::get_driver_by_name("GTiff").unwrap();
        let mut dataset = driver.create_with_band_type_with_options::<i16, _>(path, SIDE, SIDE, 1, &options).unwrap();
        dataset.set_geo_transform(&[1.0, 0.001, 0.0, 42.0, 0.0, -0.001]).unwrap();
        let mut band = dataset.rasterband(1).unwrap();
        band.set_no_data_value(nodata).unwrap();
        let mut heights = Buffer::new((SIDE, 16), vec![60_i16; SIDE * 16]);
        for strip in 0..strips {
            band.write((0, 16 * strip as isize), (SIDE, 16), &mut heights).unwrap();
        }
    }

    fn told(path: &Path) -> Option<String> {
        let dataset = Dataset::open(path).unwrap();
        let band = dataset.rasterband(1).unwrap();
        absent(&dataset, &band)
    }

    #[test]
    fn blocks_that_a_geotiff_lacks_are_no_flat_land() {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        tiff(&at("whole.tif"), 4, None);
        assert_eq!(told(&at("whole.tif")), None);
        tiff(&at("half.tif"), 2, None);
        let half = told(&at("half.tif")).unwrap();
        assert!(half.starts_with("2 of its 4 blocks are missing, the first at column 0 and row 32;"), "{half}");
        tiff(&at("empty.tif"), 0, None);
        assert!(told(&at("empty.tif")).unwrap().starts_with("4 of its 4"));
        // Nothing is taken for zero where the file says what stands for nothing.
        tiff(&at("voids.tif"), 2, Some(-9999.0));
        assert_eq!(told(&at("voids.tif")), None);
    }

    #[test]
    fn what_no_file_of_a_mosaic_covers_is_no_flat_land() {
        let folder = tempfile::tempdir().unwrap();
        tiff(&folder.path().join("whole.tif"), 4, None);
        let mosaic = |name: &str, row: i32, more: &str| {
            let text = format!(
                r#"<VRTDataset rasterXSize="64" rasterYSize="64"><GeoTransform>1, 0.001, 0, 42, 0, -0.001</GeoTransform>
                <VRTRasterBand dataType="Int16" band="1">{more}<SimpleSource>
                <SourceFilename relativeToVRT="1">whole.tif</SourceFilename><SourceBand>1</SourceBand>
                <SrcRect xOff="0" yOff="0" xSize="64" ySize="64"/><DstRect xOff="0" yOff="{row}" xSize="64" ySize="64"/>
                </SimpleSource></VRTRasterBand></VRTDataset>"#
            );
            let path = folder.path().join(name);
            std::fs::write(&path, text).unwrap();
            told(&path)
        };
        assert_eq!(mosaic("whole.vrt", 0, ""), None);
        let low = mosaic("low.vrt", 40, "").unwrap();
        assert_eq!(low, "no file of this mosaic covers column 0 and row 0; it would be read as zero");
        assert!(mosaic("high.vrt", -40, "").is_some());
        assert_eq!(mosaic("voids.vrt", 40, "<NoDataValue>-9999</NoDataValue>"), None);
        // What a tile lacks is lacking behind a mosaic, too, whatever that declares.
        assert_eq!(absent_behind(&folder.path().join("voids.vrt")), None);
        tiff(&folder.path().join("whole.tif"), 2, None);
        let behind = absent_behind(&folder.path().join("voids.vrt")).unwrap();
        assert!(behind.contains("whole.tif: 2 of its 4 blocks are missing"), "{behind}");
    }
}
