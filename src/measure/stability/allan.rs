//! Allan deviation, plain and overlapping, over millions of samples at once.
use crate::measure::distribution::chi2_quantile;
use crate::measure::moments::{mean, sum};
use crate::measure::{Estimate, Measured};

use super::longer;

/// Places of the running sum that are worked through before moving on: the streams of all averaging
/// times then stay in the second-level cache.
const BLOCK: usize = 1024;

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
    /// Sum of the samples before each place, less their mean: one longer than the samples.
    pub(super) sums: Vec<f64>,
}

impl AllanSums {
    /// Sums the samples less their mean, so that nothing is lost over millions of codes. Evenly
    /// spaced finite samples in any unit. Cost: two passes, eight bytes a sample.
    pub fn of<T: Copy + Into<f64>>(samples: &[T]) -> AllanSums {
        let middle = sum(samples, |x| x) / samples.len().max(1) as f64;
        let mut sums = vec![0.0; samples.len() + 1];
        let mut total = 0.0;
        // Four at a time, so that an addition need not wait for the one before it.
        let (fours, rest) = samples.as_chunks::<4>();
        let (places, last) = sums[1..].as_chunks_mut::<4>();
        for (place, four) in places.iter_mut().zip(fours) {
            let [a, b, c, d] = four.map(|x| x.into() - middle);
            let (ab, cd) = (a + b, c + d);
            *place = [total + a, total + ab, total + (ab + c), total + (ab + cd)];
            total = place[3];
        }
        for (place, sample) in last.iter_mut().zip(rest) {
            total += (*sample).into() - middle;
            *place = total;
        }
        AllanSums { sums }
    }

    /// Number of samples.
    pub fn n(&self) -> usize {
        self.sums.len() - 1
    }

    /// Overlapping Allan deviation of averages of `m` samples.
    ///
    /// Formula, x the running sum: σ² = Σ (x_{i+2m} − 2x_{i+m} + x_i)²/(2m²(n − 2m + 1)). By hand:
    /// samples 0 1 0 1 0 1 have x = 0 0 1 1 2 2 3 (the mean may be left in); at m = 1 the five bends
    /// are ±1, so that σ² = 5/(2·5) and σ = 0.7071; at m = 2 they are 0. A [`Shortage`] with fewer
    /// than 2m samples or m = 0. Cost: one pass, about 1 ns a sample.
    /// Source: Riley, NIST SP 1065 (2008), 5.2.4.
    ///
    /// [`Shortage`]: crate::measure::Shortage
    pub fn deviation(&self, m: usize) -> Measured<f64> {
        let n = self.n();
        if m == 0 || n < 2 * m {
            return Err(longer(n, 2 * m.max(1)));
        }
        Ok(self.deviations(&[m])[0])
    }

    /// Overlapping Allan deviations at 1, 2, 4, … samples up to a third of the record, with
    /// intervals by χ².
    ///
    /// Degrees of freedom for white noise: [3(N − 1)/2m − 2(N − 2)/N]·4m²/(4m² + 5), N the number of
    /// running sums. `rate_hz` in samples a second. Cost: one pass over the running sum, some 0.5 ns
    /// a sample and octave. Source: Riley, NIST SP 1065 (2008), 5.4.1 (from memory).
    pub fn octaves(&self, rate_hz: f64) -> Vec<AllanPoint> {
        let n = self.n();
        let octaves = std::iter::successors(Some(1_usize), |m| m.checked_mul(2));
        let taus: Vec<usize> = octaves.take_while(|m| 3 * m <= n).collect();
        let values = self.deviations(&taus);
        taus.into_iter()
            .zip(values)
            .map(|(m, value)| {
                let (size, m) = (n as f64 + 1.0, m as f64);
                let freedom = (1.5 * (size - 1.0) / m - 2.0 * (size - 2.0) / size) * 4.0 * m * m
                    / (4.0 * m * m + 5.0);
                let bound = |p: f64| value * (freedom / chi2_quantile(p, freedom)).sqrt();
                let deviation = Estimate { value, low: bound(0.975), high: bound(0.025), n };
                AllanPoint { tau_s: m / rate_hz, deviation }
            })
            .collect()
    }

    /// Deviations at several averaging times, each from 1 to half the samples, in one walk over the
    /// sums: the place that one averaging time reads last is the one that its double reads next.
    fn deviations(&self, taus: &[usize]) -> Vec<f64> {
        let terms = |m: usize| self.n() - 2 * m + 1;
        let mut squares = vec![0.0; taus.len()];
        for start in (0..self.n()).step_by(BLOCK) {
            for (sum, &m) in squares.iter_mut().zip(taus) {
                let end = (start + BLOCK).min(terms(m));
                if start < end {
                    let part = |ahead: usize| &self.sums[start + ahead..end + ahead];
                    *sum += squared_bends(part(0), part(m), part(2 * m));
                }
            }
        }
        let deviation = |(sum, &m): (f64, &usize)| (0.5 * sum / terms(m) as f64).sqrt() / m as f64;
        squares.into_iter().zip(taus).map(deviation).collect()
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
    fn blocks_and_octaves_agree_with_the_plain_sum() {
        let y: Vec<f64> = (0..5003_u32).map(|i| f64::from(i * i * 31 % 97)).collect();
        let sums = AllanSums::of(&y);
        for point in sums.octaves(1.0) {
            let m = point.tau_s as usize;
            let x = &sums.sums;
            let terms = x.len() - 2 * m;
            let bend = |i: usize| (x[i + 2 * m] - 2.0 * x[i + m] + x[i]).powi(2);
            let plain = (0.5 * (0..terms).map(bend).sum::<f64>() / terms as f64).sqrt() / m as f64;
            assert!((point.deviation.value / plain - 1.0).abs() < 1e-12, "{point:?} {plain}");
            assert_eq!(sums.deviation(m).unwrap(), point.deviation.value);
        }
    }
}
