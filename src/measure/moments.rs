//! Mean, variance and lag-one autocorrelation that keep their digits on hard data.

/// Mean and variance of a set of values.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Moments {
    /// Number of values.
    pub n: usize,
    /// Arithmetic mean.
    pub mean: f64,
    /// Sample variance, denominator n − 1; NaN for one value.
    pub variance: f64,
}

impl Moments {
    /// Sample standard deviation.
    pub fn sd(self) -> f64 {
        self.variance.sqrt()
    }

    /// Standard error of the mean of independent values: s/√n.
    pub fn standard_error(self) -> f64 {
        (self.variance / self.n as f64).sqrt()
    }
}

/// Mean and variance in two passes with the correction of Björck.
///
/// Formula: m₀ = Σx/n; m = m₀ + Σ(x − m₀)/n; s² = [Σ(x − m₀)² − (Σ(x − m₀))²/n]/(n − 1). Unit: that
/// of x, and its square. `None` without values; any NaN or infinity makes the result NaN.
/// Cost: two passes, about 1 ns a value. Source: Chan, Golub & LeVeque 1983.
pub fn moments(values: &[f64]) -> Option<Moments> {
    if values.is_empty() {
        return None;
    }
    let n = values.len() as f64;
    let first = sum(values, |x| x) / n;
    let slip = sum(values, |x| x - first);
    let squares = sum(values, |x| (x - first) * (x - first));
    let variance = if values.len() < 2 {
        f64::NAN
    } else {
        ((squares - slip * slip / n) / (n - 1.0)).max(0.0)
    };
    Some(Moments { n: values.len(), mean: first + slip / n, variance })
}

/// Mean and variance from sums of whole numbers that are exact.
///
/// Formula: m = Σx/n; s² = [n·Σx² − (Σx)²]/[n·(n − 1)], the bracket in whole numbers, so that no digit
/// is lost to the cancellation. Unit: that of x, and its square. `None` without values, and for sums
/// that no `n` values below 2³² of 32 bits have. Cost: constant.
pub fn moments_of_sums(n: u64, sum: i128, squares: i128) -> Option<Moments> {
    let count = i128::from(n);
    let spread = count.checked_mul(squares)?.checked_sub(sum.checked_mul(sum)?)?;
    let (Ok(n), 0..) = (usize::try_from(n), spread) else { return None };
    if n == 0 {
        return None;
    }
    let pairs = n as f64 * (n as f64 - 1.0);
    Some(Moments { n, mean: sum as f64 / n as f64, variance: spread as f64 / pairs })
}

/// Mean; NaN without values.
pub fn mean(values: &[f64]) -> f64 {
    moments(values).map_or(f64::NAN, |m| m.mean)
}

/// Sample standard deviation, denominator n − 1; NaN below two values.
pub fn sd(values: &[f64]) -> f64 {
    moments(values).map_or(f64::NAN, Moments::sd)
}

/// Lag-one autocorrelation, the biased estimator of the certified data sets.
///
/// Formula: r₁ = Σᵢ₌₁ⁿ⁻¹ (xᵢ − m)(xᵢ₊₁ − m) / Σᵢ₌₁ⁿ (xᵢ − m)². NaN below two values or for a constant
/// set. Cost: three passes. Source: NIST StRD, definition of the univariate sets.
pub fn autocorrelation(values: &[f64]) -> f64 {
    let Some(m) = moments(values) else { return f64::NAN };
    let products: f64 = values.windows(2).map(|w| (w[0] - m.mean) * (w[1] - m.mean)).sum();
    let squares: f64 = values.iter().map(|x| (x - m.mean).powi(2)).sum();
    if squares > 0.0 { products / squares } else { f64::NAN }
}

/// Sum of `f(x)` in eight lanes and blocks of 4 096, so that rounding grows with the block and not
/// with the length, and the processor adds several at once.
pub(super) fn sum<T: Copy + Into<f64>>(values: &[T], f: impl Fn(f64) -> f64) -> f64 {
    values
        .chunks(4096)
        .map(|block| {
            let mut lanes = [0.0; 8];
            let (eights, rest) = block.as_chunks::<8>();
            for eight in eights {
                for (lane, x) in lanes.iter_mut().zip(eight) {
                    *lane += f((*x).into());
                }
            }
            let tail: f64 = rest.iter().map(|x| f((*x).into())).sum();
            lanes.iter().sum::<f64>() + tail
        })
        .sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn four_values_by_hand() {
        // Mean 5; squares 9 + 1 + 1 + 9 = 20; variance 20/3; r₁ = (3 − 1 + 3)/20.
        let m = moments(&[2.0, 4.0, 6.0, 8.0]).unwrap();
        assert_eq!(m.mean, 5.0);
        assert!((m.variance - 20.0 / 3.0).abs() < 1e-15);
        assert!((m.standard_error() - (20.0 / 12.0f64).sqrt()).abs() < 1e-15);
        assert!((autocorrelation(&[2.0, 4.0, 6.0, 8.0]) - 0.25).abs() < 1e-15);
    }

    #[test]
    fn shift_and_scale_carry_over() {
        let base: Vec<f64> = (0..1000).map(|i| f64::from(i * i % 97)).collect();
        let moved: Vec<f64> = base.iter().map(|x| 3.0 * x + 1e6).collect();
        let (a, b) = (moments(&base).unwrap(), moments(&moved).unwrap());
        assert!((b.mean - (3.0 * a.mean + 1e6)).abs() < 1e-8);
        assert!((b.variance / a.variance - 9.0).abs() < 1e-12);
    }

    #[test]
    fn exact_sums_keep_a_small_spread_on_a_large_mean() {
        // Codes 2³⁰ and 2³⁰ + 1 in turn: the squares agree in their first nine digits.
        let base = i128::from(1 << 30);
        let (n, sum) = (1_000_000_i128, 1_000_000 * base + 500_000);
        let squares = 500_000 * (base * base + (base + 1) * (base + 1));
        let m = moments_of_sums(n as u64, sum, squares).unwrap();
        assert_eq!(m.mean, base as f64 + 0.5);
        assert!((m.variance - 250_000.0 / 999_999.0).abs() < 1e-15);
        assert_eq!(moments_of_sums(4, 20, 120), moments(&[2.0, 4.0, 6.0, 8.0]));
    }

    #[test]
    fn sums_that_no_values_have_give_nothing() {
        assert_eq!(moments_of_sums(0, 0, 0), None);
        assert!(moments_of_sums(1, 7, 49).unwrap().variance.is_nan());
        assert_eq!(moments_of_sums(2, 10, 3), None, "squares below those of the mean");
        assert_eq!(moments_of_sums(u64::MAX, i128::MAX, i128::MAX), None);
    }

    #[test]
    fn nothing_and_nonsense() {
        assert_eq!(moments(&[]), None);
        assert!(moments(&[1.0]).unwrap().variance.is_nan());
        assert!(mean(&[1.0, f64::NAN]).is_nan());
        assert!(autocorrelation(&[3.0, 3.0]).is_nan());
    }
}
