//! Standard deviation of normal noise seen through whole codes.
use super::blocks::Block;
use crate::measure::distribution::{chi2_quantile, normal_cdf};
use crate::measure::{Estimate, Measured, Shortage};

/// Noise below this many counts cannot be told from the converter's steps.
pub const FLOOR_COUNTS: f64 = 0.3;

/// Variance of rounding to whole counts: 1/12.
const STEP: f64 = 1.0 / 12.0;

/// Above this total standard deviation Sheppard's correction is right to 1e-8.
const PLAIN: f64 = 1.5;

/// Bins a count in which residuals are tallied for the likelihood.
const FINE: f64 = 64.0;

const BELOW: &str = "noise of 0.3 counts or more (< 0.3 counts)";

/// Whether a figure is missing because the noise is too small for the converter to show, and not
/// because data are short. In words: "< 0.3 counts".
pub fn is_below_floor(shortage: &Shortage) -> bool {
    shortage.what == BELOW
}

/// σ from the residuals of the steady blocks.
pub(super) fn of(blocks: &[&Block]) -> Measured<Estimate> {
    let n = blocks.iter().map(|b| b.residuals.len()).sum::<usize>();
    let squares: f64 = blocks.iter().map(|b| b.squares).sum();
    let freedom: f64 = blocks.iter().map(|b| b.freedom).sum();
    if n == 0 || freedom < 30.0 {
        return Err(super::quiet_needed(n));
    }
    let total = squares / freedom;
    let (sigma, information) = if total > PLAIN * PLAIN {
        ((total - STEP).sqrt(), freedom * (1.0 - STEP / total).powi(2))
    } else {
        let (likely, information) = most_likely(&tally(blocks));
        // The parameters fitted in the blocks took some of the scatter with them.
        let share = n as f64 / freedom;
        let whole = ((likely * likely + STEP) * share - STEP).max(0.0);
        (whole.sqrt(), information / share)
    };
    if sigma < FLOOR_COUNTS {
        return Err(Shortage {
            what: BELOW.to_owned(),
            have: 0,
            need: 1,
            advice: "nothing to do: the converter's own steps are larger".to_owned(),
        });
    }
    let nu = information.max(1.0);
    let bound = |p: f64| sigma * (nu / chi2_quantile(p, nu)).sqrt();
    Ok(Estimate { value: sigma, low: bound(0.975), high: bound(0.025), n })
}

/// Sizes of the residuals in bins of 1/64 count with how often each came.
fn tally(blocks: &[&Block]) -> Vec<(f64, f64)> {
    let mut counts: Vec<u32> = Vec::new();
    for e in blocks.iter().flat_map(|b| &b.residuals) {
        // Residuals were cut at 4.5 σ with σ ≤ 1.5 overall; a single wild block stays bounded.
        let bin = (e.abs() * FINE).round().min(64.0 * FINE) as usize;
        if bin >= counts.len() {
            counts.resize(bin + 1, 0);
        }
        counts[bin] += 1;
    }
    let pairs = counts.iter().enumerate().filter(|(_, c)| **c > 0);
    pairs.map(|(bin, c)| (bin as f64 / FINE, f64::from(*c))).collect()
}

/// σ of greatest likelihood and its information as degrees of freedom of a plain sample (half the
/// curvature over ln σ).
///
/// Formula: max Σ c ln[Φ((d + ½)/σ) − Φ((d − ½)/σ)] over σ, d the distance of a code from the
/// model; golden section over ln σ in [0.05, 4] counts.
fn most_likely(tally: &[(f64, f64)]) -> (f64, f64) {
    let likelihood = |log_sigma: f64| {
        let sigma = log_sigma.exp();
        let term = |(d, count): &(f64, f64)| {
            let p = normal_cdf((0.5 - d) / sigma) - normal_cdf((-0.5 - d) / sigma);
            count * p.max(1e-300).ln()
        };
        tally.iter().map(term).sum::<f64>()
    };
    const GOLD: f64 = 0.618_033_988_749_895;
    let (mut low, mut high) = (0.05_f64.ln(), 4.0_f64.ln());
    let mut left = high - GOLD * (high - low);
    let mut right = low + GOLD * (high - low);
    let (mut at_left, mut at_right) = (likelihood(left), likelihood(right));
    while high - low > 1e-5 {
        if at_left > at_right {
            (high, right, at_right) = (right, left, at_left);
            left = high - GOLD * (high - low);
            at_left = likelihood(left);
        } else {
            (low, left, at_left) = (left, right, at_right);
            right = low + GOLD * (high - low);
            at_right = likelihood(right);
        }
    }
    let best = 0.5 * (low + high);
    let step = 0.02;
    let bend = 2.0 * likelihood(best) - likelihood(best - step) - likelihood(best + step);
    (best.exp(), 0.5 * bend / (step * step))
}
