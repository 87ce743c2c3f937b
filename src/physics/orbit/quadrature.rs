//! Numerical integration of functions that may grow like an inverse square root at the ends.

/// Nodes and weights on -1..1 for integrands with square-root behaviour at either end.
///
/// Gauss-Legendre in t, x = sin(t pi/2): the factor cos(t pi/2) of the substitution cancels an
/// inverse square root at an end, so that what is left is smooth.
#[derive(Debug, Clone)]
pub(super) struct EndRule {
    nodes: Vec<(f64, f64)>,
}

impl EndRule {
    /// A rule of `count` nodes.
    pub(super) fn new(count: usize) -> Self {
        let half_pi = std::f64::consts::FRAC_PI_2;
        let nodes = gauss_legendre(count)
            .into_iter()
            .map(|(t, w)| ((t * half_pi).sin(), w * half_pi * (t * half_pi).cos()))
            .collect();
        Self { nodes }
    }

    /// Abscissae and weights on the interval from `low` to `high`.
    pub(super) fn on(&self, low: f64, high: f64) -> impl Iterator<Item = (f64, f64)> + '_ {
        let (middle, half) = ((low + high) / 2.0, (high - low) / 2.0);
        self.nodes.iter().map(move |&(x, w)| (middle + half * x, half * w))
    }
}

/// Gauss-Legendre nodes and weights on -1..1: Newton's method on the Legendre recurrence
/// (Abramowitz and Stegun, 25.4.29 and 22.16.6).
fn gauss_legendre(count: usize) -> Vec<(f64, f64)> {
    (0..count).map(|k| legendre_node(count, k)).collect()
}

fn legendre_node(count: usize, k: usize) -> (f64, f64) {
    let n = count as f64;
    let mut x = ((k as f64 + 0.75) / (n + 0.5) * std::f64::consts::PI).cos();
    let mut slope = 1.0;
    // Newton doubles the digits; from this start five steps reach the last bit, ten are safe.
    for _ in 0..10 {
        let (mut before, mut value) = (1.0, x);
        for j in 2..=count {
            let j = j as f64;
            (before, value) = (value, ((2.0 * j - 1.0) * x * value - (j - 1.0) * before) / j);
        }
        slope = n * (x * value - before) / (x * x - 1.0);
        x -= value / slope;
    }
    (x, 2.0 / ((1.0 - x * x) * slope * slope))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn legendre_nodes_are_the_tabulated_ones() {
        // Abramowitz and Stegun, table 25.4, n = 4.
        let rule = gauss_legendre(4);
        let expected = [(0.861_136_311_594_053, 0.347_854_845_137_454), (0.339_981_043_584_856, 0.652_145_154_862_546)];
        for (got, want) in rule.iter().zip(expected) {
            assert!((got.0 - want.0).abs() < 1e-14 && (got.1 - want.1).abs() < 1e-14, "{got:?}");
        }
    }

    #[test]
    fn inverse_square_roots_at_both_ends_are_integrated() {
        // Closed form: the integral of 1/sqrt((x - a)(b - x)) from a to b is pi.
        let (a, b) = (0.3, 1.7);
        let sum: f64 = EndRule::new(12).on(a, b).map(|(x, w)| w / ((x - a) * (b - x)).sqrt()).sum();
        assert!((sum - std::f64::consts::PI).abs() < 1e-9, "{sum}");
    }
}
