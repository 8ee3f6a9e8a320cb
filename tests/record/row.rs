//! One row of a coverage table: how often an interval held the truth.
use std::ops::RangeInclusive;

use trimbench::measure::Estimate;

/// The share of the cases in which 95 % intervals should hold the truth.
pub const BAND: RangeInclusive<f64> = 0.93..=0.97;

/// How often an interval held the truth, and the mean of value − truth in half-widths.
#[derive(Default)]
pub struct Row {
    held: usize,
    seen: usize,
    bias: f64,
}

impl Row {
    /// Counts one estimate of a known truth.
    pub fn add(&mut self, estimate: Estimate, truth: f64) {
        self.seen += 1;
        self.held += usize::from(estimate.low <= truth && truth <= estimate.high);
        self.bias += (estimate.value - truth) / (0.5 * (estimate.high - estimate.low));
    }

    /// Prints the row and asserts its share.
    pub fn check(&self, name: &str, band: RangeInclusive<f64>) {
        let (share, bias) = (self.held as f64 / self.seen as f64, self.bias / self.seen as f64);
        println!(
            "{name:24} {:5.1} %  of {:4}   bias {bias:+.3} half-widths",
            100.0 * share,
            self.seen
        );
        assert!(band.contains(&share), "{name}: {share}");
    }
}
