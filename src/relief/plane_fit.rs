//! The offset between two sources from scattered differences: a trimmed plane, or a level that most lie above.

/// Samples farther from the median than this many times the median distance are left out, and a little more, metres.
const TRIM: f64 = 3.0;
const TRIM_M: f64 = 0.5;
/// Fewer samples than this make no plane.
const LEAST_FOR_PLANE: usize = 12;

/// A difference at a place: in blocks from the middle of the block asked for, metres.
#[derive(Debug, Clone, Copy)]
pub(super) struct Sample {
    pub x: f64,
    pub y: f64,
    pub z_m: f64,
    /// The better source shows a surface.
    pub surface: bool,
}

/// The height that a share of the samples lies below, metres. At least one sample.
pub(super) fn level_of(samples: &mut [Sample], share: f64) -> f64 {
    samples.sort_by(|a, b| a.z_m.total_cmp(&b.z_m));
    let at = (share * (samples.len() - 1) as f64).round() as usize;
    samples[at].z_m
}

/// Offset at the origin: a plane through the samples near their median, no steeper than `most_m` per block; the median where
/// they are few. At least one sample.
pub(super) fn offset_at_centre(samples: &mut Vec<Sample>, most_m: f64) -> f64 {
    let median = level_of(samples, 0.5);
    let mut off: Vec<f64> = samples.iter().map(|s| (s.z_m - median).abs()).collect();
    off.sort_by(f64::total_cmp);
    let near_m = TRIM * off[off.len() / 2] + TRIM_M;
    samples.retain(|s| (s.z_m - median).abs() <= near_m);
    if samples.len() < LEAST_FOR_PLANE {
        return median;
    }
    let n = samples.len() as f64;
    let mean = |f: &dyn Fn(&Sample) -> f64| samples.iter().map(f).sum::<f64>() / n;
    let (x, y, z) = (mean(&|s| s.x), mean(&|s| s.y), mean(&|s| s.z_m));
    let (xx, yy) = (mean(&|s| (s.x - x).powi(2)), mean(&|s| (s.y - y).powi(2)));
    let xy = mean(&|s| (s.x - x) * (s.y - y));
    let (xz, yz) = (mean(&|s| (s.x - x) * (s.z_m - z)), mean(&|s| (s.y - y) * (s.z_m - z)));
    let det = xx * yy - xy * xy;
    // Samples in one line tell no slope across it.
    if det <= 1e-6 {
        return z;
    }
    let (east, north) = ((xz * yy - yz * xy) / det, (yz * xx - xz * xy) / det);
    let steep = (east.hypot(north) / most_m).max(1.0);
    z - (east * x + north * y) / steep
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(x: f64, y: f64, z_m: f64) -> Sample {
        Sample { x, y, z_m, surface: false }
    }

    #[test]
    fn a_tilted_offset_is_carried_on_and_a_cliff_is_passed_over() {
        // 18 m at the origin, 2 m more per block east; every ninth sample stands on a cliff of 80 m.
        let samples = |cliff_m: f64| -> Vec<Sample> {
            (0..81)
                .map(|i| {
                    let (x, y) = (f64::from(i % 9) / 9.0 + 0.5, f64::from(i / 9) / 9.0 - 0.5);
                    at(x, y, 18.0 + 2.0 * x + if i % 9 == 8 { cliff_m } else { 0.0 })
                })
                .collect()
        };
        for cliff_m in [0.0, 80.0] {
            let found = offset_at_centre(&mut samples(cliff_m), 17.0);
            assert!((found - 18.0).abs() < 1e-6, "{cliff_m}: {found}");
        }
        // A plane steeper than allowed is laid flatter, about the middle of the samples (one block east).
        let found = offset_at_centre(&mut samples(0.0), 1.0);
        let middle = samples(0.0).iter().map(|s| s.x).sum::<f64>() / 81.0;
        assert!((found - (18.0 + 2.0 * middle - middle)).abs() < 1e-6, "{found}");
    }

    #[test]
    fn few_samples_give_their_median() {
        let mut few = vec![at(0.0, 0.0, 5.0), at(1.0, 0.0, 7.0), at(0.0, 1.0, 90.0)];
        assert!((offset_at_centre(&mut few, 10.0) - 7.0).abs() < 1e-12);
    }
}
