//! What cannot be: heights beyond nature, rasters of one kind given as another.
//!
//! A unit that nobody declared (decimetres read as metres) or a raster given under the wrong option makes figures that are wrong
//! and look sure. Pixels near the roads of the run are looked at, of each source by itself, as the raster claims them.
use super::kind::ElevationKind;
use super::reader::Reader;
use super::source::OpenSource;
use crate::base::error::{Error, Result};
use crate::base::geodesy::Position;

/// Pixels this near a road are looked at, metres.
const NEAR_M: f64 = 200.0;
/// Fewer pixels than this prove nothing.
const LEAST_PIXELS: usize = 30;
/// A raster may be wrong about this share of its pixels and still be what it is said to be.
const FREAKS: f64 = 0.05;
/// Trees higher than this, metres, are so rare that no forest has [`FREAKS`] of them; the highest stands 116 m
/// (Guinness World Records, tallest tree living: 115.85 m in 2017).
const TALL_M: f32 = 80.0;
/// What is lower than this is not a tree, metres.
const TREE_M: f32 = 2.0;
/// No region has fewer pixels without trees near its roads than this share.
const LEAST_BARE: f64 = 0.02;
/// Within 400 m heights of trees differ by more than this share of their median, and heights of land by less; a height that is
/// the same everywhere is a class of trees.
const SPREAD_OF_TREES: f64 = 0.12;
const SPREAD_OF_CLASSES: f64 = 0.001;
/// Where exact zeros stand next to heights in more than this share of neighbours, trees and gaps alternate; along a shore or a
/// wall one in fourteen pairs does so.
const GAPPED: f64 = 0.12;
/// Heights beside exact zeros that tell trees, metres.
const GAP_M: f32 = 5.0;
/// Two rasters of one place that differ by more than this in the median show two places, two units or two datums, metres: heights above
/// the ellipsoid and above the sea differ by some 106 m at most (the geoid EGM2008 of the NGA; the figure is from memory, its pages
/// name none).
const MOST_APART_M: f64 = 120.0;
/// A surface that lies lower than bare earth by more than this at the roads, in the median, is of another datum or place, or
/// the two have changed places, metres: surveys of one place agree within a metre or two.
const MOST_BELOW_M: f64 = 5.0;
/// Numbers that often stand for nothing without being declared so.
const UNDECLARED: [f32; 7] = [-9999.0, -32768.0, -32767.0, -99999.0, 32767.0, 65535.0, 9999.0];

/// What the pixels of one source near roads look like.
struct NearRoads {
    /// Pixels by place.
    places: Vec<Vec<f32>>,
    /// Share of neighbours, over all places, of which one is exactly 0 and the other as high as trees.
    gapped: f64,
}

impl Reader {
    /// Looks at pixels near positions on roads.
    ///
    /// # Errors
    /// Heights of a source cannot be those of what it is said to hold; `option` is how it was given, without dashes.
    pub fn check_nature(&self, positions: &[Position], option: &str) -> Result<()> {
        for source in self.sources() {
            let look = NearRoads::of(source, positions)?;
            match source.kind {
                ElevationKind::CanopyHeight => look.check_trees(source, option)?,
                _ => look.check_land(source, option)?,
            }
        }
        Ok(())
    }

    /// Whether this reader's heights lie near another's: the median difference, metres; `None` where too few places
    /// have both.
    ///
    /// # Errors
    /// A raster cannot be read.
    pub fn apart_m(&self, other: &Self, positions: &[Position]) -> Result<Option<f64>> {
        let mut apart = Vec::new();
        for position in positions {
            if let (Some(a), Some(b)) = (self.height_m(*position)?, other.height_m(*position)?) {
                apart.push(f64::from(a) - f64::from(b));
            }
        }
        apart.sort_by(f64::total_cmp);
        let median_m = apart.get(apart.len() / 2).copied();
        // On roads a surface lies on the ground or on crowns above it; it is below the ground in no place.
        Ok(median_m.filter(|m| *m > MOST_APART_M || *m < -MOST_BELOW_M))
    }

    /// The sources among themselves, where two have heights.
    ///
    /// # Errors
    /// Two of them differ by more than any datum does.
    pub fn check_agreement(&self, positions: &[Position], option: &str) -> Result<()> {
        for (k, source) in self.sources().iter().enumerate() {
            for better in &self.sources()[..k] {
                let mut apart = Vec::new();
                for position in positions {
                    if let (Some(a), Some(b)) = (better.height_m(*position, 0.0)?, source.height_m(*position, 0.0)?) {
                        apart.push(f64::from(a) - f64::from(b));
                    }
                }
                apart.sort_by(f64::total_cmp);
                if let Some(median_m) = apart.get(apart.len() / 2).filter(|m| m.abs() > MOST_APART_M) {
                    let fact = format!(
                        "lies {:.0} m {} {} in the median where both have heights",
                        median_m.abs(),
                        if *median_m < 0.0 { "above" } else { "below" },
                        better.mosaic.disk().display()
                    );
                    let next = format!("give --{option}-scale if one is not in metres, or leave one of them out");
                    return Err(Error::file(source.mosaic.disk(), fact, next));
                }
            }
        }
        Ok(())
    }
}

impl NearRoads {
    fn of(source: &OpenSource, positions: &[Position]) -> Result<Self> {
        let (scale, offset) = (source.mosaic.first.metres_per_value, source.mosaic.first.offset_m);
        let told = |z: &f32| UNDECLARED.iter().all(|v| (f64::from(*v) * scale + offset) as f32 != *z) && z.abs() < 1e6;
        let bytes = source.mosaic.first.data_type == gdal::raster::GdalDataType::UInt8;
        let full = (255.0 * scale + offset) as f32;
        let (mut places, mut pairs, mut gaps) = (Vec::new(), 0_usize, 0_usize);
        for position in positions {
            let (columns, mut pixels) = source.spread_m(*position, NEAR_M)?;
            let beside = (0..pixels.len()).filter(|i| i % columns > 0).map(|i| (i - 1, i));
            for (a, b) in beside.chain((columns..pixels.len()).map(|i| (i - columns, i))) {
                let (low, high) = (pixels[a].min(pixels[b]), pixels[a].max(pixels[b]));
                pairs += 1;
                gaps += usize::from(low == 0.0 && high > GAP_M && high < TALL_M);
            }
            pixels.retain(|z| told(z) && !(bytes && *z == full));
            pixels.sort_by(f32::total_cmp);
            if !pixels.is_empty() {
                places.push(pixels);
            }
        }
        Ok(Self { places, gapped: gaps as f64 / pairs.max(1) as f64 })
    }
    fn pixels(&self) -> usize {
        self.places.iter().map(Vec::len).sum()
    }
    /// Share of all pixels.
    fn share(&self, of: impl Fn(f32) -> bool) -> f64 {
        let count = self.places.iter().flatten().filter(|z| of(**z)).count();
        count as f64 / self.pixels().max(1) as f64
    }
    /// Median over places of a figure of their pixels, which are sorted.
    fn median(&self, of: impl Fn(&[f32]) -> f64) -> f64 {
        let mut all: Vec<f64> = self.places.iter().map(|p| of(p)).collect();
        all.sort_by(f64::total_cmp);
        all.get(all.len() / 2).copied().unwrap_or(0.0)
    }

    fn check_land(&self, source: &OpenSource, option: &str) -> Result<()> {
        if self.pixels() < LEAST_PIXELS {
            return Ok(());
        }
        let (low, high) = source.kind.plausible_m().into_inner();
        let beyond = self.share(|z| !(low..=high).contains(&z));
        if beyond > FREAKS {
            let fact = format!("{:.0} % of its pixels near roads lie outside {low} to {high} m", 100.0 * beyond);
            let next = format!(
                "if its values are not metres, give their unit with --{option}-scale (0.1 for decimetres), or give \
                 another raster"
            );
            return Err(Error::file(source.mosaic.disk(), fact, next));
        }
        if self.gapped > GAPPED && self.share(|z| z > TALL_M) < FREAKS {
            let fact = "looks like heights of trees: exact zeros and heights of trees alternate near the roads";
            let next = format!("give it with --canopy, or elevation with --{option}");
            return Err(Error::file(source.mosaic.disk(), fact, next));
        }
        Ok(())
    }

    fn check_trees(&self, source: &OpenSource, option: &str) -> Result<()> {
        if self.pixels() < LEAST_PIXELS {
            return Ok(());
        }
        let disk = source.mosaic.disk();
        let at = |p: &[f32], share: f64| f64::from(p[((p.len() - 1) as f64 * share).round() as usize]);
        let spread = self.median(|p| (at(p, 0.9) - at(p, 0.1)) / at(p, 0.5).abs().max(1.0));
        if self.share(|z| z < TREE_M) < LEAST_BARE && (SPREAD_OF_CLASSES..SPREAD_OF_TREES).contains(&spread) {
            let fact = "looks like elevation: hardly any pixel near roads is bare, and neighbouring pixels are alike";
            return Err(Error::file(
                disk,
                fact,
                format!("give it with --elevation, and heights of trees with --{option}"),
            ));
        }
        let tall = self.share(|z| z > TALL_M) / self.share(|z| z >= TREE_M).max(f64::MIN_POSITIVE);
        if tall > FREAKS && self.share(|z| z > TALL_M) * self.pixels() as f64 >= LEAST_PIXELS as f64 {
            let fact = format!("{:.0} % of its trees near roads are higher than {TALL_M} m", 100.0 * tall);
            let next = format!(
                "give its unit with --{option}-scale (0.1 for decimetres), or give it with --elevation if it is \
                 elevation"
            );
            return Err(Error::file(disk, fact, next));
        }
        Ok(())
    }
}
