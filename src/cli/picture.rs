//! Pictures as pixels; without the feature `png` only the advice to draw SVG.
#[cfg(feature = "png")]
use resvg::{tiny_skia, usvg};

use crate::base::error::{Error, Result};
#[cfg(feature = "png")]
use crate::base::foreign::foreign;

/// Pixels per unit of the drawing: text of twelve units stays readable on a telephone.
#[cfg(feature = "png")]
const PIXELS_PER_UNIT: f32 = 2.0;

/// A drawing (SVG) as PNG.
///
/// # Errors
/// The machine has no font, or the drawing cannot be rendered.
#[cfg(feature = "png")]
pub(crate) fn png(svg: &str) -> Result<Vec<u8>> {
    // Names of roads, and fonts, come from outside.
    foreign("drawings and fonts", || drawn(svg))
        .map_err(|broken| Error::failed("picture", broken.to_string(), "write .svg instead"))?
}

#[cfg(feature = "png")]
fn drawn(svg: &str) -> Result<Vec<u8>> {
    let mut options = usvg::Options::default();
    let fonts = options.fontdb_mut();
    fonts.load_system_fonts();
    let sans = |name: &str| name == "DejaVu Sans" || name == "Liberation Sans";
    let families: Vec<String> = fonts.faces().flat_map(|f| f.families.iter().map(|(name, _)| name.clone())).collect();
    let Some(family) = families.iter().find(|f| sans(f)).or(families.first()) else {
        let next = "install one (Debian: fonts-dejavu-core), or write .svg";
        return Err(Error::failed("picture", "this machine has no font to write its words with", next));
    };
    fonts.set_sans_serif_family(family.clone());
    let failed = |fact: String| Error::failed("picture", fact, "write .svg instead");
    let tree = usvg::Tree::from_str(svg, &options).map_err(|e| failed(e.to_string()))?;
    let pixels = |units: f32| (units * PIXELS_PER_UNIT).ceil() as u32;
    let size = tree.size();
    let mut pixmap = tiny_skia::Pixmap::new(pixels(size.width()), pixels(size.height()))
        .ok_or_else(|| failed("has no size".into()))?;
    let scale = tiny_skia::Transform::from_scale(PIXELS_PER_UNIT, PIXELS_PER_UNIT);
    resvg::render(&tree, scale, &mut pixmap.as_mut());
    pixmap.encode_png().map_err(|e| failed(e.to_string()))
}

/// A drawing (SVG) as PNG, which this program cannot make.
///
/// # Errors
/// Always: it was built without the feature `png`.
#[cfg(not(feature = "png"))]
pub(crate) fn png(_: &str) -> Result<Vec<u8>> {
    Err(Error::usage("--output", "this program was built without PNG", "give a name that ends in .svg"))
}

#[cfg(all(test, not(feature = "png")))]
mod tests {
    #[test]
    fn without_png_another_ending_is_advised() {
        let error = super::png("<svg/>").unwrap_err().to_string();
        assert!(error.contains("built without PNG") && error.contains(".svg"), "{error}");
    }
}

#[cfg(all(test, feature = "png"))]
mod tests {
    use super::*;

    /// Pixels that are not white.
    fn dark(svg: &str) -> usize {
        let png = png(svg).unwrap();
        let pixmap = tiny_skia::Pixmap::decode_png(&png).unwrap();
        assert_eq!((pixmap.width(), pixmap.height()), (200, 80));
        pixmap.pixels().iter().filter(|p| p.red() < 128).count()
    }

    #[test]
    fn words_and_shapes_reach_the_pixels() {
        let drawing = |inside: &str| {
            format!(
                "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 100 40\" font-family=\"sans-serif\">\
                 <rect width=\"100\" height=\"40\" fill=\"#fff\"/>{inside}</svg>"
            )
        };
        assert_eq!(dark(&drawing("")), 0);
        assert_eq!(dark(&drawing("<rect x=\"10\" y=\"10\" width=\"10\" height=\"10\"/>")), 400);
        assert!(dark(&drawing("<text x=\"5\" y=\"30\" font-size=\"20\">Sky</text>")) > 100);
    }
}
