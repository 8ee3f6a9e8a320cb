//! Stability over time: Allan deviation, drift, warm-up.
use super::distribution::{chi2_quantile, f_tail, t_quantile};
use super::fit::dense::Normal;
use super::fit::line::straight;
use super::moments::mean;
use super::{Estimate, Measured, Shortage};

/// Points to which a long record is averaged before a drift or a warm-up is fitted.
const POINTS: usize = 256;

/// Allan deviation at one averaging time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AllanPoint {
    /// Averaging time, s.
    pub tau_s: f64,
    /// Deviation with its interval, which is right for white noise; n = samples.
    pub deviation: Estimate,
}

/// Allan deviation of neighbouring averages of `m` samples, not overlapping.
///
/// Formula: σ² = ½ mean (ȳ_{k+1} − ȳ_k)². Evenly spaced finite samples in any unit; left-over samples
/// at the end are not used. White noise of standard deviation σ gives σ/√m. A [`Shortage`] with
/// fewer than two averages or m = 0. Cost: one pass. Source: Riley, NIST SP 1065 (2008), 5.2.2.
pub fn allan(samples: &[f64], m: usize) -> Measured<f64> {
    if m == 0 || samples.len() < 2 * m {
        return Err(longer(samples.len(), 2 * m.max(1)));
    }
    let averages: Vec<f64> = samples.chunks_exact(m).map(mean).collect();
    let squares: f64 = averages.windows(2).map(|w| (w[1] - w[0]).powi(2)).sum();
    Ok((0.5 * squares / (averages.len() - 1) as f64).sqrt())
}

/// Running sum of samples, from which overlapping Allan deviations are read at any averaging time.
#[derive(Clone, Debug)]
pub struct AllanSums {
    sums: Vec<f64>,
}

impl AllanSums {
    /// Sums the samples less their mean, so that nothing is lost over millions of codes. Evenly
    /// spaced finite samples in any unit. Cost: two passes, eight bytes a sample.
    pub fn of<T: Copy + Into<f64>>(samples: &[T]) -> AllanSums {
        let total: f64 =
            samples.chunks(4096).map(|c| c.iter().map(|x| (*x).into()).sum::<f64>()).sum();
        let middle = total / samples.len().max(1) as f64;
        let mut sums = Vec::with_capacity(samples.len() + 1);
        let mut sum = 0.0;
        sums.push(sum);
        for sample in samples {
            sum += (*sample).into() - middle;
            sums.push(sum);
        }
        AllanSums { sums }
    }

    /// Number of samples.
    pub fn n(&self) -> usize {
        self.sums.len() - 1
    }

    /// Overlapping Allan deviation of averages of `m` samples.
    ///
    /// Formula, x the running sum: σ² = Σ (x_{i+2m} − 2x_{i+m} + x_i)²/(2m²(n − 2m + 1)). A
    /// [`Shortage`] with fewer than 2m samples or m = 0. Cost: one pass, about 1 ns a sample.
    /// Source: Riley, NIST SP 1065 (2008), 5.2.4.
    pub fn deviation(&self, m: usize) -> Measured<f64> {
        let n = self.n();
        if m == 0 || n < 2 * m {
            return Err(longer(n, 2 * m.max(1)));
        }
        let terms = n - 2 * m + 1;
        let first = &self.sums[..terms];
        let second = &self.sums[m..m + terms];
        let third = &self.sums[2 * m..2 * m + terms];
        let mut squares = 0.0;
        for ((a, b), c) in first.chunks(1024).zip(second.chunks(1024)).zip(third.chunks(1024)) {
            squares += squared_bends(a, b, c);
        }
        Ok((0.5 * squares / terms as f64).sqrt() / m as f64)
    }

    /// Overlapping Allan deviations at 1, 2, 4, … samples up to a third of the record, with
    /// intervals by χ².
    ///
    /// Degrees of freedom for white noise: [3(N − 1)/2m − 2(N − 2)/N]·4m²/(4m² + 5), N the number of
    /// running sums. `rate_hz` in samples a second. Cost: one pass an octave.
    /// Source: Riley, NIST SP 1065 (2008), 5.4.1 (from memory).
    pub fn octaves(&self, rate_hz: f64) -> Vec<AllanPoint> {
        let n = self.n();
        let octaves = std::iter::successors(Some(1_usize), |m| m.checked_mul(2));
        octaves
            .take_while(|m| 3 * m <= n)
            .filter_map(|m| {
                let value = self.deviation(m).ok()?;
                let (size, m) = (n as f64 + 1.0, m as f64);
                let freedom = (1.5 * (size - 1.0) / m - 2.0 * (size - 2.0) / size) * 4.0 * m * m
                    / (4.0 * m * m + 5.0);
                let bound = |p: f64| value * (freedom / chi2_quantile(p, freedom)).sqrt();
                let deviation = Estimate { value, low: bound(0.975), high: bound(0.025), n };
                Some(AllanPoint { tau_s: m / rate_hz, deviation })
            })
            .collect()
    }
}

/// Σ (a − 2b + c)² in eight lanes.
fn squared_bends(a: &[f64], b: &[f64], c: &[f64]) -> f64 {
    let mut lanes = [0.0; 8];
    let (a8, a_rest) = a.as_chunks::<8>();
    let (b8, b_rest) = b.as_chunks::<8>();
    let (c8, c_rest) = c.as_chunks::<8>();
    for ((a, b), c) in a8.iter().zip(b8).zip(c8) {
        for k in 0..8 {
            let bend = a[k] - 2.0 * b[k] + c[k];
            lanes[k] += bend * bend;
        }
    }
    let rest = a_rest.iter().zip(b_rest).zip(c_rest);
    let rest: f64 = rest.map(|((a, b), c)| (a - 2.0 * b + c).powi(2)).sum();
    lanes.iter().sum::<f64>() + rest
}

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

fn longer(have: usize, need: usize) -> Shortage {
    Shortage {
        what: "samples in a row".to_owned(),
        have,
        need,
        advice: "record a longer stretch".to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn alternating_values_by_hand() {
        // 0 1 0 1 …: neighbours differ by 1 → √½; pairs average alike → 0.
        let y: Vec<f64> = (0..100).map(|i| f64::from(i % 2)).collect();
        assert!((allan(&y, 1).unwrap() - 0.5f64.sqrt()).abs() < 1e-15);
        assert!(allan(&y, 2).unwrap() < 1e-15);
        let sums = AllanSums::of(&y);
        assert!((sums.deviation(1).unwrap() - 0.5f64.sqrt()).abs() < 1e-12);
        assert!(sums.deviation(2).unwrap() < 1e-12);
        assert!(
            sums.deviation(51).is_err() && sums.deviation(0).is_err() && allan(&y, 51).is_err()
        );
        assert!(AllanSums::of::<f64>(&[]).octaves(250.0).is_empty());
    }

    #[test]
    fn a_drift_shows_as_tau_over_root_two() {
        let codes: Vec<i32> = (0..30_000).map(|i| 3 * i).collect();
        for point in AllanSums::of(&codes).octaves(1.0) {
            let want = 3.0 * point.tau_s / 2f64.sqrt();
            assert!((point.deviation.value / want - 1.0).abs() < 1e-9, "{point:?}");
        }
    }

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
