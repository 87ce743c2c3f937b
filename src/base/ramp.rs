//! How ratings are drawn, wherever they are drawn: styles of the layer, the map of a brief.
//!
//! Colours: five steps of viridis (S. van der Walt and N. Smith, matplotlib 1.5, CC0), the six-step form
//! without its yellow end, which is too pale on white. It is readable with every common kind of colour
//! blindness and in grey; width grows with the rating as well, so that colour is never the only sign.

/// How one rating is drawn.
pub struct RatingLook {
    /// Name of the rating.
    pub name: &'static str,
    /// Colour, red, green, blue.
    pub colour: [u8; 3],
    /// Width of the line, pixels at any scale.
    pub width_px: f64,
}

/// Ratings 0..=4.
pub const RAMP: [RatingLook; 5] = [
    RatingLook { name: "steady", colour: [0x7A, 0xD1, 0x51], width_px: 1.8 },
    RatingLook { name: "blips", colour: [0x22, 0xA8, 0x84], width_px: 2.6 },
    RatingLook { name: "gaps", colour: [0x2A, 0x78, 0x8E], width_px: 3.6 },
    RatingLook { name: "drops", colour: [0x41, 0x44, 0x87], width_px: 4.8 },
    RatingLook { name: "dark", colour: [0x44, 0x01, 0x54], width_px: 6.2 },
];

/// The look of a rating; codes beyond the last are as bad as that.
pub fn look(rating: u8) -> &'static RatingLook {
    &RAMP[usize::from(rating).min(RAMP.len() - 1)]
}

/// A colour as styles and pages write it, `#22a884`.
pub fn hex([r, g, b]: [u8; 3]) -> String {
    format!("#{r:02x}{g:02x}{b:02x}")
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Relative luminance, WCAG 2.1.
    fn luminance(colour: [u8; 3]) -> f64 {
        let linear = |c: u8| {
            let c = f64::from(c) / 255.0;
            if c <= 0.040_45 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) }
        };
        0.2126 * linear(colour[0]) + 0.7152 * linear(colour[1]) + 0.0722 * linear(colour[2])
    }

    /// Lightness L* of CIE 1976, 0..=100.
    fn lightness(colour: [u8; 3]) -> f64 {
        116.0 * luminance(colour).cbrt() - 16.0
    }

    #[test]
    fn worse_is_darker_and_wider_at_every_step() {
        for pair in RAMP.windows(2) {
            // Ten steps of L* are plainly seen even between thin lines (common practice, no source).
            assert!(
                lightness(pair[0].colour) - lightness(pair[1].colour) >= 10.0,
                "{} to {}",
                pair[0].name,
                pair[1].name
            );
            assert!(pair[1].width_px >= 1.25 * pair[0].width_px);
        }
    }

    #[test]
    fn codes_beyond_the_last_look_like_it() {
        assert_eq!((look(0).name, look(4).name, look(200).name), ("steady", "dark", "dark"));
        assert_eq!(hex(RAMP[1].colour), "#22a884");
    }
}
