//! Distribution functions and quantiles: normal, t, F, χ², noncentral t.
//!
//! Probabilities outside (0, 1), degrees of freedom that are not positive and non-finite arguments
//! give NaN. Quantiles invert the distribution function to about 1e-12 relative, because the
//! inversions that libraries offer often stop at five digits.
use statrs::function::beta::checked_beta_reg;
use statrs::function::erf::{erfc, erfc_inv};
use statrs::function::gamma::{checked_gamma_lr, checked_gamma_ur, ln_gamma};

use super::quadrature::{integrate, root};

/// Above this many degrees of freedom the series in 1/ν is more exact than the incomplete
/// gamma and beta functions.
const MANY: f64 = 2e4;

/// Normal distribution function Φ(z) = ½ erfc(−z/√2). Source: Abramowitz & Stegun 26.2.29.
pub fn normal_cdf(z: f64) -> f64 {
    0.5 * erfc(-z * std::f64::consts::FRAC_1_SQRT_2)
}

/// Normal quantile: z with Φ(z) = p. `normal_quantile(0.975)` = 1.959964.
pub fn normal_quantile(p: f64) -> f64 {
    if !inside(p) {
        return f64::NAN;
    }
    -std::f64::consts::SQRT_2 * erfc_inv(2.0 * p)
}

/// χ² distribution function with `nu` degrees of freedom: P(ν/2, x/2); 0 for x ≤ 0.
/// Source: Abramowitz & Stegun 26.4.19.
pub fn chi2_cdf(x: f64, nu: f64) -> f64 {
    match domain(x, nu) {
        Some(_) if x <= 0.0 => 0.0,
        Some(_) => checked_gamma_lr(0.5 * nu, 0.5 * x).unwrap_or(f64::NAN),
        None => f64::NAN,
    }
}

/// Upper tail of χ², exact where 1 − cdf would lose digits; 1 for x ≤ 0.
pub fn chi2_tail(x: f64, nu: f64) -> f64 {
    match domain(x, nu) {
        Some(_) if x <= 0.0 => 1.0,
        Some(_) => checked_gamma_ur(0.5 * nu, 0.5 * x).unwrap_or(f64::NAN),
        None => f64::NAN,
    }
}

/// χ² quantile: x with `chi2_cdf(x, nu)` = p. `chi2_quantile(0.95, 10.0)` = 18.307.
///
/// Above 20 000 degrees of freedom by the Cornish–Fisher series (error below 1e-9 relative).
pub fn chi2_quantile(p: f64, nu: f64) -> f64 {
    if !inside(p) || domain(0.0, nu).is_none() {
        return f64::NAN;
    }
    let z = normal_quantile(p);
    if nu > MANY {
        // Goldberg & Levine 1946, Abramowitz & Stegun 26.4.18 with the terms to ν⁻³ᐟ².
        let w = (2.0 * nu).sqrt();
        return nu + w * z + 2.0 / 3.0 * (z * z - 1.0) + (z.powi(3) - 7.0 * z) / (9.0 * w)
            - (6.0 * z.powi(4) + 14.0 * z * z - 32.0) / (405.0 * nu)
            + (9.0 * z.powi(5) + 256.0 * z.powi(3) - 433.0 * z) / (4860.0 * w * nu);
    }
    let a = 2.0 / (9.0 * nu);
    let guess = (nu * (1.0 - a + z * a.sqrt()).powi(3)).max(1e-3 * nu);
    invert_positive(p, guess, |x| chi2_cdf(x, nu), |x| chi2_tail(x, nu))
}

/// Student's t distribution function with `nu` degrees of freedom.
/// Source: Abramowitz & Stegun 26.7.1, by the incomplete beta function.
pub fn t_cdf(t: f64, nu: f64) -> f64 {
    if domain(t, nu).is_none() {
        return f64::NAN;
    }
    let tail = t_tail(t.abs(), nu);
    if t >= 0.0 { 1.0 - tail } else { tail }
}

/// Upper tail of t for t ≥ 0.
fn t_tail(t: f64, nu: f64) -> f64 {
    if nu > MANY {
        // Hill's normal approximation: Abramowitz & Stegun 26.7.8 with the next terms.
        let w = (nu * (t * t / nu).ln_1p() * (1.0 - 0.5 / nu)).sqrt();
        return normal_cdf(-w);
    }
    0.5 * checked_beta_reg(0.5 * nu, 0.5, nu / (nu + t * t)).unwrap_or(f64::NAN)
}

/// Two-sided probability that |T| exceeds |t|.
pub fn t_two_sided(t: f64, nu: f64) -> f64 {
    if domain(t, nu).is_none() {
        return f64::NAN;
    }
    2.0 * t_tail(t.abs(), nu)
}

/// Student's t quantile. `t_quantile(0.975, 10.0)` = 2.228139.
pub fn t_quantile(p: f64, nu: f64) -> f64 {
    if !inside(p) || domain(0.0, nu).is_none() {
        return f64::NAN;
    }
    if p == 0.5 {
        return 0.0;
    }
    let tail = p.min(1.0 - p);
    let z = -normal_quantile(tail);
    let size = invert_positive(1.0 - tail, z, |t| 1.0 - t_tail(t, nu), |t| t_tail(t, nu));
    if p < 0.5 { -size } else { size }
}

/// Upper tail of F with `nu1` and `nu2` degrees of freedom; 1 for f ≤ 0.
///
/// Formula: I_x(ν₂/2, ν₁/2) at x = ν₂/(ν₂ + ν₁f), I the regularised incomplete beta function; keeps its
/// digits far out. By hand, ν₁ = ν₂ = 2: 1/(1 + f). NaN for a NaN f or degrees of freedom that are not
/// above zero. Source: Abramowitz & Stegun 26.6.2.
pub fn f_tail(f: f64, nu1: f64, nu2: f64) -> f64 {
    match (domain(f, nu1), domain(f, nu2)) {
        (Some(()), Some(())) if f <= 0.0 => 1.0,
        (Some(()), Some(())) => {
            checked_beta_reg(0.5 * nu2, 0.5 * nu1, nu2 / (nu2 + nu1 * f)).unwrap_or(f64::NAN)
        }
        _ => f64::NAN,
    }
}

/// F distribution function: 1 − [`f_tail`], with its digits kept near 0.
///
/// Formula: I_x(ν₁/2, ν₂/2) at x = ν₁f/(ν₂ + ν₁f); 0 for f ≤ 0. By hand, ν₁ = ν₂ = 2: f/(1 + f). NaN as
/// for [`f_tail`]. Source: Abramowitz & Stegun 26.6.2.
pub fn f_cdf(f: f64, nu1: f64, nu2: f64) -> f64 {
    match (domain(f, nu1), domain(f, nu2)) {
        (Some(()), Some(())) if f <= 0.0 => 0.0,
        (Some(()), Some(())) => {
            checked_beta_reg(0.5 * nu1, 0.5 * nu2, nu1 * f / (nu2 + nu1 * f)).unwrap_or(f64::NAN)
        }
        _ => f64::NAN,
    }
}

/// F quantile. `f_quantile(0.95, 5.0, 10.0)` = 3.325835. For degrees of freedom up to 20 000.
pub fn f_quantile(p: f64, nu1: f64, nu2: f64) -> f64 {
    if !inside(p) || domain(0.0, nu1).is_none() || domain(0.0, nu2).is_none() {
        return f64::NAN;
    }
    invert_positive(p, 1.0, |f| f_cdf(f, nu1, nu2), |f| f_tail(f, nu1, nu2))
}

/// Chance of at least `k` successes in `n` trials of chance `p` each: I_p(k, n − k + 1).
///
/// 1 for k = 0, 0 for k > n, NaN for p outside [0, 1]. Source: Abramowitz & Stegun 26.5.24.
pub fn binomial_tail(k: u64, n: u64, p: f64) -> f64 {
    match p {
        _ if !(0.0..=1.0).contains(&p) => f64::NAN,
        _ if k == 0 || p == 1.0 && k <= n => 1.0,
        _ if k > n || p == 0.0 => 0.0,
        _ => checked_beta_reg(k as f64, (n - k) as f64 + 1.0, p).unwrap_or(f64::NAN),
    }
}

/// Noncentral t distribution function: P((Z + δ)/s ≤ t), s² = χ²_ν/ν.
///
/// Formula: ∫ Φ(t s − δ) f_ν(s) ds over the density of s, by Gauss–Legendre. Absolute error below
/// 1e-12 for ν ≤ 1e6. Cost: 640 normal distribution functions.
pub fn noncentral_t_cdf(t: f64, nu: f64, delta: f64) -> f64 {
    if domain(t, nu).is_none() || !delta.is_finite() {
        return f64::NAN;
    }
    over_sample_sd(nu, |s| normal_cdf(t * s - delta))
}

/// Noncentral t quantile. `noncentral_t_quantile(0.99, 42.0, 8.403696)` = 12.28834.
pub fn noncentral_t_quantile(p: f64, nu: f64, delta: f64) -> f64 {
    if !inside(p) || domain(delta, nu).is_none() {
        return f64::NAN;
    }
    let mut reach = 4.0 + delta.abs();
    while noncentral_t_cdf(reach, nu, delta) < p && reach < 1e12 {
        reach *= 2.0;
    }
    let mut floor = -4.0 - delta.abs();
    while noncentral_t_cdf(floor, nu, delta) > p && floor > -1e12 {
        floor *= 2.0;
    }
    root(floor, reach, |t| noncentral_t_cdf(t, nu, delta) - p)
}

/// Mean of `f(s)` over the distribution of a sample standard deviation s with σ = 1 and `nu`
/// degrees of freedom.
fn over_sample_sd(nu: f64, mut f: impl FnMut(f64) -> f64) -> f64 {
    let spread = 11.0 / (2.0 * nu).sqrt();
    let (low, high) = ((1.0 - spread).max(0.0), 1.0 + spread);
    let half = 0.5 * nu;
    let scale = std::f64::consts::LN_2 + half * half.ln() - ln_gamma(half);
    integrate(low, high, 40, |s| (scale + (nu - 1.0) * s.ln() - half * s * s).exp() * f(s))
}

/// Inverts a distribution on (0, ∞), by the tail that keeps its digits.
fn invert_positive(p: f64, guess: f64, cdf: impl Fn(f64) -> f64, tail: impl Fn(f64) -> f64) -> f64 {
    let lower = p <= 0.5;
    let miss = |x: f64| if lower { cdf(x) - p } else { (1.0 - p) - tail(x) };
    let (mut low, mut high) = (0.9 * guess, 1.1 * guess);
    while miss(low) > 0.0 && low > f64::MIN_POSITIVE {
        low *= 0.5;
    }
    while miss(high) < 0.0 && high < 1e300 {
        high *= 2.0;
    }
    root(low, high, miss)
}

fn inside(p: f64) -> bool {
    p > 0.0 && p < 1.0
}

fn domain(x: f64, nu: f64) -> Option<()> {
    (x.is_finite() && nu.is_finite() && nu > 0.0).then_some(())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn close(got: f64, want: f64, relative: f64) {
        assert!((got - want).abs() <= relative * want.abs(), "got {got}, want {want}");
    }

    #[test]
    fn quantiles_known_in_closed_form() {
        // χ² with two degrees of freedom is exponential; t with one is Cauchy; t with two has
        // t = (2p − 1)·√(2/(4p(1 − p))); F(2, 2) has f = p/(1 − p).
        for p in [1e-6, 0.01, 0.3, 0.5, 0.9, 0.975, 0.999_999] {
            close(chi2_quantile(p, 2.0), -2.0 * (-p).ln_1p(), 1e-11);
            let cauchy = (std::f64::consts::PI * (p - 0.5)).tan();
            assert!((t_quantile(p, 1.0) - cauchy).abs() <= 1e-10 * cauchy.abs().max(1e-3));
            let two = (2.0 * p - 1.0) * (2.0 / (4.0 * p * (1.0 - p))).sqrt();
            assert!((t_quantile(p, 2.0) - two).abs() <= 1e-10 * two.abs().max(1e-3));
            close(f_quantile(p, 2.0, 2.0), p / (1.0 - p), 1e-10);
        }
    }

    #[test]
    fn binomial_tails_are_sums_of_their_terms() {
        close(binomial_tail(2, 2, 0.006), 0.006f64.powi(2), 1e-12);
        // Three of four at ½: (4 + 1)/16. At least one of ten: 1 − (1 − p)¹⁰.
        close(binomial_tail(3, 4, 0.5), 5.0 / 16.0, 1e-12);
        close(binomial_tail(1, 10, 0.02), 1.0 - 0.98f64.powi(10), 1e-12);
        assert_eq!((binomial_tail(0, 9, 0.1), binomial_tail(9, 8, 0.1)), (1.0, 0.0));
        assert_eq!((binomial_tail(2, 8, 0.0), binomial_tail(8, 8, 1.0)), (0.0, 1.0));
        assert!(binomial_tail(2, 8, f64::NAN).is_nan() && binomial_tail(2, 8, 1.5).is_nan());
    }

    #[test]
    fn many_degrees_of_freedom_join_smoothly() {
        for p in [0.001, 0.025, 0.5, 0.975, 0.999] {
            let below = chi2_quantile(p, 19_999.9);
            let above = chi2_quantile(p, 20_000.1);
            close(above - below, 0.2, 0.02);
        }
        close(t_quantile(0.975, 19_999.0), t_quantile(0.975, 20_001.0), 1e-8);
        close(t_quantile(0.975, 1e7), 1.959_964_2, 1e-7);
    }

    #[test]
    fn noncentral_t_with_no_shift_is_t() {
        for nu in [1.0, 4.0, 30.0, 4000.0] {
            for t in [-2.0, 0.0, 0.7, 3.0] {
                let miss = noncentral_t_cdf(t, nu, 0.0) - t_cdf(t, nu);
                assert!(miss.abs() < 1e-11, "t {t} nu {nu} {miss}");
            }
        }
    }

    #[test]
    fn outside_the_domain_is_nan() {
        assert!(normal_quantile(1.0).is_nan());
        assert!(chi2_quantile(0.5, 0.0).is_nan());
        assert!(t_quantile(f64::NAN, 3.0).is_nan());
        assert!(noncentral_t_quantile(0.5, 3.0, f64::INFINITY).is_nan());
    }
}
