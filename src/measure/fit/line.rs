//! Straight lines, polynomials and several regressors, with standard errors.
use super::dense::householder;
use crate::measure::distribution::t_quantile;
use crate::measure::{Estimate, Measured, Shortage};

/// A linear model fitted by least squares.
#[derive(Clone, Debug, PartialEq)]
pub struct LinearFit {
    /// Coefficients, in the order of the columns.
    pub coefficients: Vec<f64>,
    /// Their standard errors; NaN without spare samples.
    pub se: Vec<f64>,
    /// √(Σe²/(n − p)); NaN without spare samples.
    pub residual_sd: f64,
    /// Share of the scatter about the mean that the model explains.
    pub r_squared: f64,
    /// Number of samples.
    pub n: usize,
}

impl LinearFit {
    /// Coefficient `k` with its interval by t with n − p degrees of freedom; infinite without
    /// spare samples, NaN beyond the last.
    pub fn estimate(&self, k: usize) -> Estimate {
        let value = self.coefficients.get(k).copied().unwrap_or(f64::NAN);
        let spare = self.n.saturating_sub(self.coefficients.len());
        let half = if spare > 0 {
            t_quantile(0.975, spare as f64) * self.se.get(k).copied().unwrap_or(f64::NAN)
        } else {
            f64::INFINITY
        };
        Estimate { value, low: value - half, high: value + half, n: self.n }
    }
}

/// Least squares on any columns: y = Σ b_k·column_k.
///
/// Method: Householder QR with scaled columns; standard errors s√((XᵀX)⁻¹_kk). Give a column of ones
/// for a constant (R² is about the mean in any case). Values finite, columns as long as y. A
/// [`Shortage`] with fewer samples than columns or columns that depend on each other. Cost: 2np².
/// Source: Golub & Van Loan, Matrix Computations, section 5.3.
pub fn linear(columns: &[&[f64]], y: &[f64]) -> Measured<LinearFit> {
    let n = y.len();
    let solved = householder(columns, y).ok_or_else(|| Shortage {
        what: "independent samples for a fit".to_owned(),
        have: n.min(columns.len().saturating_sub(1)),
        need: columns.len(),
        advice: "record more, at different settings".to_owned(),
    })?;
    let spare = n - columns.len();
    let residual_sd = if spare > 0 { (solved.squares / spare as f64).sqrt() } else { f64::NAN };
    let mean = y.iter().sum::<f64>() / n as f64;
    let scatter: f64 = y.iter().map(|v| (v - mean).powi(2)).sum();
    Ok(LinearFit {
        se: solved.variances.iter().map(|v| residual_sd * v.sqrt()).collect(),
        coefficients: solved.coefficients,
        residual_sd,
        r_squared: 1.0 - solved.squares / scatter,
        n,
    })
}

/// Straight line y = b₀ + b₁x with standard errors.
///
/// Formula: b₁ = Σ(x − x̄)(y − ȳ)/Sxx, Sxx = Σ(x − x̄)², b₀ = ȳ − b₁x̄; s² = Σe²/(n − 2); standard errors
/// s/√Sxx of b₁ and s·√(1/n + x̄²/Sxx) of b₀. By hand, below: x̄ = 1.5, Sxx = 5, b₁ = 15/5 = 3, b₀ = 2,
/// residuals 1 −1 −1 1, s² = 4/2, standard errors √(2/5) and √(2·(1/4 + 2.25/5)) = √1.4. Units: b₀
/// that of y, b₁ that of y over x. Finite values of one length, else and below two different x a
/// [`Shortage`]; two points have no interval. Cost: a few passes. Source: NIST/SEMATECH e-Handbook
/// 4.1.4.1; as [`linear`] by QR.
///
/// ```
/// use trimbench::measure::fit::line;
/// let fit = line::straight(&[0.0, 1.0, 2.0, 3.0], &[3.0, 4.0, 7.0, 12.0]).unwrap();
/// assert!((fit.coefficients[1] - 3.0).abs() < 1e-12);
/// ```
pub fn straight(x: &[f64], y: &[f64]) -> Measured<LinearFit> {
    polynomial(x, y, 1)
}

/// Polynomial y = Σ b_k xᵏ up to `degree`. Loses digits when x is far from 0 against its range and
/// the degree is above one: shift x first. Otherwise as [`linear`].
pub fn polynomial(x: &[f64], y: &[f64], degree: u8) -> Measured<LinearFit> {
    let powers: Vec<Vec<f64>> =
        (0..=i32::from(degree)).map(|k| x.iter().map(|v| v.powi(k)).collect()).collect();
    let columns: Vec<&[f64]> = powers.iter().map(Vec::as_slice).collect();
    linear(&columns, y)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn line_by_hand() {
        // y = 2 + 3x with residuals +1 −1 −1 +1: s² = 4/2, se² = 2·0.7 and 2·0.2.
        let fit = straight(&[0.0, 1.0, 2.0, 3.0], &[3.0, 4.0, 7.0, 12.0]).unwrap();
        assert!((fit.residual_sd - 2f64.sqrt()).abs() < 1e-13);
        assert!((fit.se[0] - 1.4f64.sqrt()).abs() < 1e-13);
        assert!((fit.se[1] - 0.4f64.sqrt()).abs() < 1e-13);
        // Scatter 49 about the mean 6.5, 4 left.
        assert!((fit.r_squared - 45.0 / 49.0).abs() < 1e-13, "{}", fit.r_squared);
        let slope = fit.estimate(1);
        assert!((slope.high - (3.0 + 4.302_653 * 0.4f64.sqrt())).abs() < 1e-5);
    }

    #[test]
    fn exact_fits_have_no_interval_and_dependent_ones_no_answer() {
        let fit = straight(&[1.0, 2.0], &[5.0, 7.0]).unwrap();
        assert!((fit.coefficients[0] - 3.0).abs() < 1e-12);
        assert_eq!(fit.estimate(0).high, f64::INFINITY);
        assert!(straight(&[1.0, 1.0, 1.0], &[5.0, 7.0, 9.0]).is_err());
        assert!(straight(&[1.0], &[5.0]).is_err());
        assert!(straight(&[1.0, 2.0], &[5.0, 6.0, 7.0]).is_err());
    }
}
