//! Tolerance factors, each computed once a solve.
use crate::measure::tolerance::{one_sided, two_sided};

/// Shares of releases that the leak curve is given for.
pub(super) const COVERAGES: [f64; 9] = [0.5, 0.75, 0.9, 0.95, 0.975, 0.99, 0.995, 0.998, 0.999];

/// Confidence of every promise.
pub(super) const CONFIDENCE: f64 = 0.95;

/// Two-sided factors by number of items and coverage.
#[derive(Default)]
pub(super) struct Factors {
    known: Vec<(usize, f64, f64)>,
}

impl Factors {
    /// Two-sided factor for that coverage, 95 % sure.
    pub(super) fn two(&mut self, n: usize, coverage: f64) -> f64 {
        let same = |k: &&(usize, f64, f64)| k.0 == n && k.1.to_bits() == coverage.to_bits();
        if let Some(known) = self.known.iter().find(same) {
            return known.2;
        }
        let factor = two_sided(n, coverage, CONFIDENCE);
        self.known.push((n, coverage, factor));
        factor
    }
}

/// One-sided factor, 95 % sure.
pub(super) fn one(n: usize, coverage: f64) -> f64 {
    one_sided(n, coverage, CONFIDENCE)
}
