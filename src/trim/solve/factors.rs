//! Tolerance factors, 95 % sure, each computed once.
use crate::measure::tolerance::one_sided;

/// Shares of releases that the leak curve is given for.
pub(super) const COVERAGES: [f64; 9] = [0.5, 0.75, 0.9, 0.95, 0.975, 0.99, 0.995, 0.998, 0.999];

/// Confidence of every promise.
const CONFIDENCE: f64 = 0.95;

/// Factors by number of items and coverage.
#[derive(Default)]
pub(super) struct Factors {
    one: Known,
}

impl Factors {
    /// One-sided factor: mean + k·s lies above that share.
    pub(super) fn one(&mut self, n: usize, coverage: f64) -> f64 {
        self.one.factor(n, coverage, one_sided)
    }
}

/// What was computed before: items, coverage, factor.
#[derive(Default)]
struct Known(Vec<(usize, f64, f64)>);

impl Known {
    fn factor(&mut self, n: usize, coverage: f64, of: fn(usize, f64, f64) -> f64) -> f64 {
        let same = |k: &&(usize, f64, f64)| k.0 == n && k.1.to_bits() == coverage.to_bits();
        if let Some(known) = self.0.iter().find(same) {
            return known.2;
        }
        let factor = of(n, coverage, CONFIDENCE);
        self.0.push((n, coverage, factor));
        factor
    }
}
