//! How ratings are drawn, wherever they are drawn: styles of the layer, the map of a brief.
//!
//! Colours: five steps of viridis (S. van der Walt and N. Smith, matplotlib 1.5, CC0), the six-step form
//! without its yellow end, which is too pale on white. It is readable with every common kind of colour
//! blindness and in grey; width grows with the rating as well, so that colour is never the only sign.

use super::words::Rating;

/// How one rating is drawn.
pub struct RatingLook {
    /// Colour, red, green, blue.
    pub colour: [u8; 3],
    /// Width of the line, pixels at any scale.
    pub width_px: f64,
}

/// The look of a rating.
pub const fn look(rating: Rating) -> RatingLook {
    match rating {
        Rating::Steady => RatingLook { colour: [0x7A, 0xD1, 0x51], width_px: 1.8 },
        Rating::Blips => RatingLook { colour: [0x22, 0xA8, 0x84], width_px: 2.6 },
        Rating::Gaps => RatingLook { colour: [0x2A, 0x78, 0x8E], width_px: 3.6 },
        Rating::Drops => RatingLook { colour: [0x41, 0x44, 0x87], width_px: 4.8 },
        Rating::Dark => RatingLook { colour: [0x44, 0x01, 0x54], width_px: 6.2 },
    }
}

/// The colour of a rating on dark ground. The hues are those of the day; lightness runs the other way, so that the worse still
/// stands out more. Own colours.
pub const fn look_at_night(rating: Rating) -> [u8; 3] {
    match rating {
        Rating::Steady => [0x3E, 0x7D, 0x2B],
        Rating::Blips => [0x23, 0x9B, 0x7A],
        Rating::Gaps => [0x5C, 0xB0, 0xD2],
        Rating::Drops => [0xBF, 0xC5, 0xFF],
        Rating::Dark => [0xFB, 0xE4, 0xFF],
    }
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
        for pair in Rating::ALL.windows(2) {
            let (better, worse) = (look(pair[0]), look(pair[1]));
            // Ten steps of L* are plainly seen even between thin lines (common practice, no source).
            let steps = lightness(better.colour) - lightness(worse.colour);
            assert!(steps >= 10.0, "{} to {}: {steps}", pair[0], pair[1]);
            assert!(worse.width_px >= 1.25 * better.width_px);
        }
    }

    /// The ground of pages at night.
    const NIGHT: [u8; 3] = [0x1B, 0x1D, 0x20];

    #[test]
    fn at_night_worse_is_lighter_at_every_step_and_all_stand_out() {
        for pair in Rating::ALL.windows(2) {
            let (better, worse) = (look_at_night(pair[0]), look_at_night(pair[1]));
            let steps = lightness(worse) - lightness(better);
            assert!(steps >= 10.0, "{} to {}: {steps}", pair[0], pair[1]);
        }
        // WCAG 2.1, 1.4.11: graphical objects contrast by 3 to 1 with what is next to them.
        for &rating in Rating::ALL {
            let contrast = (luminance(look_at_night(rating)) + 0.05) / (luminance(NIGHT) + 0.05);
            assert!(contrast >= 3.0, "{rating}: {contrast}");
        }
    }

    #[test]
    fn colours_are_written_as_pages_read_them() {
        assert_eq!(hex(look(Rating::Blips).colour), "#22a884");
    }
}
