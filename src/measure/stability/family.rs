//! The relatives of the Allan deviation: modified, time, Hadamard, total.
use super::{AllanSums, longer};
use crate::measure::Measured;
use crate::measure::moments::mean;

/// Hadamard deviation of neighbouring averages of `m` samples, not overlapping: blind to a steady
/// drift.
///
/// Formula: σ² = Σ (ȳ_{k+2} − 2ȳ_{k+1} + ȳ_k)²/(6(M − 2)), M averages. Evenly spaced finite samples;
/// left-over samples at the end are not used. By hand: averages 0 0 3 0 have bends 3 and −6, so that
/// σ² = 45/12. A [`Shortage`](crate::measure::Shortage) below three averages or for m = 0. Cost: one
/// pass. Source: Riley, NIST SP 1065 (2008), 5.2.9.
pub fn hadamard(samples: &[f64], m: usize) -> Measured<f64> {
    if m == 0 || samples.len() < 3 * m {
        return Err(longer(samples.len(), 3 * m.max(1)));
    }
    let averages: Vec<f64> = samples.chunks_exact(m).map(mean).collect();
    let squares: f64 = averages.windows(3).map(|w| (w[2] - 2.0 * w[1] + w[0]).powi(2)).sum();
    Ok((squares / (6.0 * (averages.len() - 2) as f64)).sqrt())
}

/// x is the running sum, N its length (samples + 1), m the averaging time in samples.
impl AllanSums {
    /// Modified Allan deviation: tells white from flicker noise of a phase, which the plain one does
    /// not.
    ///
    /// Formula: σ² = Σ_j [Σ_{i=j}^{j+m−1} (x_{i+2m} − 2x_{i+m} + x_i)]²/(2m⁴(N − 3m + 1)). At m = 1 it
    /// is the Allan deviation. A [`Shortage`](crate::measure::Shortage) below 3m − 1 samples or for
    /// m = 0. Cost: one pass. Source: Riley, NIST SP 1065 (2008), 5.2.5.
    pub fn modified(&self, m: usize) -> Measured<f64> {
        let x = &self.sums;
        if m == 0 || x.len() < 3 * m {
            return Err(longer(self.n(), 3 * m.max(1) - 1));
        }
        let bend = |i: usize| x[i + 2 * m] - 2.0 * x[i + m] + x[i];
        let mut run: f64 = (0..m).map(bend).sum();
        let terms = x.len() - 3 * m + 1;
        let mut squares = run * run;
        for j in 1..terms {
            run += bend(j + m - 1) - bend(j - 1);
            squares += run * run;
        }
        Ok((0.5 * squares / terms as f64).sqrt() / (m * m) as f64)
    }

    /// Time deviation, s times the unit of the samples: τ/√3 of the modified Allan deviation.
    ///
    /// `rate_hz` samples a second, τ = m/rate. Shortage as [`AllanSums::modified`].
    /// Source: Riley, NIST SP 1065 (2008), 5.2.6.
    pub fn time(&self, m: usize, rate_hz: f64) -> Measured<f64> {
        Ok(self.modified(m)? * m as f64 / rate_hz / 3f64.sqrt())
    }

    /// Overlapping Hadamard deviation.
    ///
    /// Formula: σ² = Σ (x_{i+3m} − 3x_{i+2m} + 3x_{i+m} − x_i)²/(6m²(N − 3m)). A
    /// [`Shortage`](crate::measure::Shortage) below 3m samples or for m = 0. Cost: one pass.
    /// Source: Riley, NIST SP 1065 (2008), 5.2.10.
    pub fn overlapping_hadamard(&self, m: usize) -> Measured<f64> {
        let x = &self.sums;
        if m == 0 || self.n() < 3 * m {
            return Err(longer(self.n(), 3 * m.max(1)));
        }
        let terms = x.len() - 3 * m;
        let bend = |i: usize| x[i + 3 * m] - 3.0 * (x[i + 2 * m] - x[i + m]) - x[i];
        let squares: f64 = (0..terms).map(|i| bend(i).powi(2)).sum();
        Ok((squares / (6.0 * terms as f64)).sqrt() / m as f64)
    }

    /// Total deviation: the running sum is mirrored at both ends, so that long averaging times keep
    /// more terms than the Allan deviation has.
    ///
    /// Formula: σ² = Σ_{i=2}^{N−1} (x*_{i−m} − 2x_i + x*_{i+m})²/(2m²(N − 2)), with x*_{1−j} = 2x_1 −
    /// x_{1+j} and x*_{N+j} = 2x_N − x_{N−j}. A [`Shortage`](crate::measure::Shortage) for m = 0, m
    /// above N − 1 or below two samples. Cost: one pass. Source: Riley, NIST SP 1065 (2008), 5.2.11.
    pub fn total(&self, m: usize) -> Measured<f64> {
        let x = &self.sums;
        let last = self.n();
        if m == 0 || last < 2 || m > last {
            return Err(longer(last, m.max(2)));
        }
        let mirrored = |i: isize| {
            let end = last as isize;
            match i {
                i if i < 0 => 2.0 * x[0] - x[i.unsigned_abs()],
                i if i > end => 2.0 * x[last] - x[(2 * end - i) as usize],
                i => x[i as usize],
            }
        };
        let bend =
            |i: usize| mirrored(i as isize - m as isize) - 2.0 * x[i] + mirrored((i + m) as isize);
        let squares: f64 = (1..last).map(|i| bend(i).powi(2)).sum();
        Ok((0.5 * squares / (last - 1) as f64).sqrt() / m as f64)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn by_hand() {
        assert!((hadamard(&[0.0, 0.0, 3.0, 0.0], 1).unwrap() - 3.75f64.sqrt()).abs() < 1e-15);
        let ramp: Vec<f64> = (0..40).map(|i| 0.5 * f64::from(i)).collect();
        let sums = AllanSums::of(&ramp);
        // A steady drift is what Hadamard does not see and the others show as slope·τ/√2.
        assert!(hadamard(&ramp, 3).unwrap() < 1e-12);
        assert!(sums.overlapping_hadamard(5).unwrap() < 1e-12);
        let want = 0.5 * 4.0 / 2f64.sqrt();
        assert!((sums.modified(4).unwrap() - want).abs() < 1e-12);
        assert!((sums.time(4, 2.0).unwrap() - want * 2.0 / 3f64.sqrt()).abs() < 1e-12);
    }

    #[test]
    fn too_little_is_a_shortage() {
        let sums = AllanSums::of(&[1.0, 2.0, 4.0]);
        assert!(sums.modified(2).is_err() && sums.modified(0).is_err());
        assert!(sums.overlapping_hadamard(2).is_err() && sums.time(2, 1.0).is_err());
        assert!(sums.total(4).is_err() && sums.total(0).is_err() && sums.total(3).is_ok());
        assert!(AllanSums::of::<f64>(&[]).total(1).is_err() && hadamard(&[], 1).is_err());
    }
}
