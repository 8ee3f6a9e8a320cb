//! Slow change of a level: drift line, warm-up exponential.
use crate::measure::distribution::{f_tail, t_quantile};
use crate::measure::fit::dense::Normal;
use crate::measure::fit::line::straight;
use crate::measure::moments::mean;
use crate::measure::{Estimate, Measured, Shortage};

use super::longer;

/// Points to which a long record is averaged before a drift or a warm-up is fitted.
const POINTS: usize = 256;

/// Drift of a record: slope of its least-squares line, unit of the values a minute.
///
/// Up to 256 averages of neighbouring samples are fitted, so that noise which is alike over a few
/// samples does not make the interval too narrow. Times in seconds, ascending; all finite. n =
/// averages fitted. A [`Shortage`] below four samples or when time stands still. Cost: one pass.
pub fn drift_per_min(t_s: &[f64], values: &[f64]) -> Measured<Estimate> {
    let (t, y) = averaged(t_s, values);
    if t.len() < 4 {
        return Err(longer(t.len(), 4));
    }
    let slope = straight(&t, &y)?.estimate(1);
    let Estimate { value, low, high, n } = slope;
    Ok(Estimate { value: 60.0 * value, low: 60.0 * low, high: 60.0 * high, n })
}

/// A warm-up: value = cold + rise·(1 − e^{−t/τ}).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WarmUp {
    /// Value at the first sample.
    pub cold: Estimate,
    /// How far the value goes until warm.
    pub rise: Estimate,
    /// Time constant, s.
    pub tau_s: Estimate,
    /// Probability that a record without any warm-up fits as well.
    pub p: f64,
}

/// Exponential warm-up with its time constant.
///
/// Method: for a given τ the model is linear; τ is found by golden section over ln τ between 1/100
/// and twice the record; intervals from the linearised model, p from the F test against a constant
/// (2 further parameters for the search of τ). Times in seconds, ascending; values in any unit; all
/// finite. The record is averaged to 256 points first. A [`Shortage`] below 16 samples, or when the
/// record ends before the curve bends (best τ above its length): log longer. Cost: some 40 passes
/// over 256 points.
pub fn warm_up(t_s: &[f64], values: &[f64]) -> Measured<WarmUp> {
    let (t, y) = averaged(t_s, values);
    let start = t_s.first().copied().unwrap_or(0.0);
    let t: Vec<f64> = t.iter().map(|t| t - start).collect();
    let length = t.last().copied().unwrap_or(0.0);
    if t.len() < 16 || length.is_nan() || length <= 0.0 {
        return Err(longer(t.len(), 16));
    }
    let (low, high) = ((0.01 * length).ln(), (2.0 * length).ln());
    let log_tau = lowest(low, high, |log_tau| saturating(&t, &y, log_tau.exp()).2);
    let tau = log_tau.exp();
    if tau > length {
        return Err(Shortage {
            what: "seconds of warm-up until the curve bends".to_owned(),
            have: length as usize,
            need: (2.0 * tau) as usize,
            advice: "switch on cold and log for fifteen minutes".to_owned(),
        });
    }
    let (cold, rise, squares) = saturating(&t, &y, tau);
    let freedom = (t.len() - 3) as f64;
    let variance = squares / freedom;
    let mut normal = Normal::new(3);
    for (t, y) in t.iter().zip(&y) {
        let left = (-t / tau).exp();
        normal.add(&[1.0, 1.0 - left, -rise * t / (tau * tau) * left], *y);
    }
    let quantile = t_quantile(0.975, freedom);
    let half: Vec<f64> =
        normal.variances().iter().map(|v| quantile * (variance * v).sqrt()).collect();
    let n = t.len();
    let around =
        |value: f64, half: f64| Estimate { value, low: value - half, high: value + half, n };
    let level = mean(&y);
    let plain: f64 = y.iter().map(|v| (v - level).powi(2)).sum();
    let f = ((plain - squares).max(0.0) / 2.0) / variance;
    let tau_s = around(tau, half[2]);
    Ok(WarmUp {
        cold: around(cold, half[0]),
        rise: around(rise, half[1]),
        tau_s: Estimate { low: tau_s.low.max(0.0), ..tau_s },
        p: f_tail(f, 2.0, freedom),
    })
}

/// Best (cold, rise) for a given τ with the residual sum of squares.
fn saturating(t: &[f64], y: &[f64], tau: f64) -> (f64, f64, f64) {
    let mut normal = Normal::new(2);
    for (t, y) in t.iter().zip(y) {
        normal.add(&[1.0, 1.0 - (-t / tau).exp()], *y);
    }
    let c = normal.solve();
    let miss = |(t, y): (&f64, &f64)| (y - c[0] - c[1] * (1.0 - (-t / tau).exp())).powi(2);
    (c[0], c[1], t.iter().zip(y).map(miss).sum())
}

/// Golden-section minimum, after a coarse look over 24 places so that a side valley is not taken.
fn lowest(low: f64, high: f64, f: impl Fn(f64) -> f64) -> f64 {
    const GOLD: f64 = 0.618_033_988_749_895;
    let step = (high - low) / 24.0;
    let places = (0..=24).map(|k| low + step * f64::from(k));
    let best = places.map(|x| (x, f(x))).min_by(|a, b| a.1.total_cmp(&b.1));
    let centre = best.map_or(low, |(x, _)| x);
    let (mut low, mut high) = ((centre - step).max(low), (centre + step).min(high));
    while high - low > 1e-7 {
        let (left, right) = (high - GOLD * (high - low), low + GOLD * (high - low));
        if f(left) < f(right) { high = right } else { low = left }
    }
    0.5 * (low + high)
}

/// Neighbouring samples averaged to at most 256 points.
fn averaged(t_s: &[f64], values: &[f64]) -> (Vec<f64>, Vec<f64>) {
    let n = t_s.len().min(values.len());
    let each = n.div_ceil(POINTS).max(1);
    let points = |x: &[f64]| x[..n].chunks_exact(each).map(mean).collect();
    (points(t_s), points(values))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn drift_of_a_line_with_alternating_noise() {
        let t: Vec<f64> = (0..6000).map(|i| f64::from(i) * 0.01).collect();
        let y: Vec<f64> =
            t.iter().enumerate().map(|(i, t)| 500.0 + 0.05 * t + (i % 2) as f64).collect();
        let drift = drift_per_min(&t, &y).unwrap();
        assert!((drift.value - 3.0).abs() < 0.01, "{drift:?}");
        assert!(drift_per_min(&[0.0; 10], &[1.0; 10]).is_err());
        assert!(drift_per_min(&[], &[]).is_err());
    }

    #[test]
    fn warm_up_is_recovered_and_a_short_log_refused() {
        let t: Vec<f64> = (0..9000).map(|i| 100.0 + f64::from(i) * 0.1).collect();
        let wobble = |i: usize| ((i * 7919) % 13) as f64 / 13.0 - 0.5;
        let curve = |t: f64| 512.0 + 6.0 * (1.0 - (-(t - 100.0) / 240.0).exp());
        let y: Vec<f64> = t.iter().enumerate().map(|(i, t)| curve(*t) + wobble(i)).collect();
        let warm = warm_up(&t, &y).unwrap();
        assert!(warm.tau_s.low < 240.0 && 240.0 < warm.tau_s.high, "{warm:?}");
        assert!(
            warm.rise.low < 6.0 && 6.0 < warm.rise.high && (warm.tau_s.value - 240.0).abs() < 5.0
        );
        assert!(warm.p < 1e-12);
        let short = warm_up(&t[..600], &y[..600]);
        assert!(short.is_err() || short.is_ok_and(|w| w.rise.high - w.rise.low > 1.0));
        assert!(warm_up(&t[..10], &y[..10]).is_err());
    }
}
