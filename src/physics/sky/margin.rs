//! Stored canopy probabilities under another link margin, without casting a ray.
use super::foliage::exceeds_margin;

/// Margin and spread under which a probability was computed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Margin {
    /// Attenuation the link survives, dB.
    pub margin_db: f64,
    /// Standard deviation of the natural logarithm of attenuation.
    pub spread_ln: f64,
}

/// Steps of the bisection: 60 halvings of the logarithm reach the last bit.
const HALVINGS: u32 = 60;
/// Medians between which the one behind a probability is looked for, dB.
const MEDIANS_DB: (f64, f64) = (1e-9, 1e9);

/// For every stored probability (in 1/255) the one under another margin and spread.
///
/// A probability stands for the median attenuation that gives it (derived here: [`exceeds_margin`] grows with the
/// median, so there is one), and that median gives another probability under another margin. Never and always stay
/// what they are; stored probabilities are coarse, so this is close to a new build, not equal to it.
pub(crate) fn under_margin(from: Margin, to: Margin) -> [u8; 256] {
    let mut table = [0_u8; 256];
    for (canopy, out) in table.iter_mut().enumerate() {
        *out = match canopy {
            0 | 255 => canopy as u8,
            _ if from == to => canopy as u8,
            _ => {
                let median_db = median_db(canopy as f64 / 255.0, from);
                (exceeds_margin(median_db, to.margin_db, to.spread_ln) * 255.0).round() as u8
            }
        };
    }
    table
}

/// The median attenuation that exceeds a margin with a probability, dB.
fn median_db(probability: f64, under: Margin) -> f64 {
    let (mut low, mut high) = (MEDIANS_DB.0.ln(), MEDIANS_DB.1.ln());
    for _ in 0..HALVINGS {
        let middle = (low + high) / 2.0;
        if exceeds_margin(middle.exp(), under.margin_db, under.spread_ln) < probability {
            low = middle;
        } else {
            high = middle;
        }
    }
    ((low + high) / 2.0).exp()
}

#[cfg(test)]
mod tests {
    use super::*;

    const FIVE: Margin = Margin { margin_db: 5.0, spread_ln: 0.8 };

    #[test]
    fn the_same_margin_changes_nothing_and_a_larger_one_blocks_less() {
        let same = under_margin(FIVE, FIVE);
        assert!(same.iter().enumerate().all(|(i, c)| i == usize::from(*c)));
        let more = under_margin(FIVE, Margin { margin_db: 8.0, ..FIVE });
        assert!((1..255).all(|i| usize::from(more[i]) <= i) && more[128] < 100);
        assert_eq!((more[0], more[255]), (0, 255));
        assert!(more.windows(2).all(|w| w[0] <= w[1]));
    }

    #[test]
    fn a_path_gets_the_probability_a_build_would_give_it() {
        let to = Margin { margin_db: 9.0, spread_ln: 0.6 };
        let table = under_margin(FIVE, to);
        for median_db in [2.0, 4.0, 6.0, 10.0, 15.0] {
            let stored = (exceeds_margin(median_db, FIVE.margin_db, FIVE.spread_ln) * 255.0).round();
            let want = exceeds_margin(median_db, to.margin_db, to.spread_ln) * 255.0;
            // Rounding of the stored value, times the steepest slope of one relation over the other.
            assert!((f64::from(table[stored as usize]) - want).abs() < 2.0, "{median_db} dB: {want}");
        }
    }
}
