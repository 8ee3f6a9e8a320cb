//! Tolerance factors and sample sizes: how far to go so that a stated share of all future cases is
//! covered with a stated confidence.
use super::distribution::{
    chi2_quantile, chi2_tail, noncentral_t_quantile, normal_cdf, normal_quantile,
};
use super::quadrature::{integrate, root};

/// Above this many samples Howe's factor agrees with the exact one to better than 1e-6.
const MANY: usize = 20_000;

/// Two-sided normal tolerance factor, exact: mean ± k·s holds at least the share `coverage` of
/// the population with probability `confidence`, for `n` samples.
///
/// Formula: k with √(n/2π) ∫ P(χ²_{n−1} ≥ (n−1) r(z)²/k²) e^{−n z²/2} dz = confidence, where r(z)
/// solves Φ(z + r) − Φ(z − r) = coverage. `two_sided(16, 0.99, 0.95)` = 3.82.
/// Domain: n ≥ 2, else ∞ (no factor is large enough); shares inside (0, 1), else NaN.
/// Cost: about 1 ms. Above 20 000 samples [`howe`] is used.
/// Source: Wald & Wolfowitz 1946; ISO 16269-6:2014.
pub fn two_sided(n: usize, coverage: f64, confidence: f64) -> f64 {
    let start = howe(n, coverage, confidence);
    if !start.is_finite() || n > MANY {
        return start;
    }
    let (size, nu) = (n as f64, (n - 1) as f64);
    let reach = 9.0 / size.sqrt();
    let panels = 4;
    let mut half_widths = Vec::with_capacity(64);
    integrate(0.0, reach, panels, |z| {
        half_widths.push(half_width(z, coverage));
        0.0
    });
    let confidence_of = |k: f64| {
        let mut next = half_widths.iter();
        integrate(0.0, reach, panels, |z| {
            let r = next.next().copied().unwrap_or(f64::NAN);
            chi2_tail(nu * (r / k).powi(2), nu) * (-0.5 * size * z * z).exp()
        }) * (2.0 * size / std::f64::consts::PI).sqrt()
    };
    root(0.5 * start, 2.0 * start, |k| confidence_of(k) - confidence)
}

/// r such that an interval of half-width r, centred z standard deviations off, holds `coverage`.
fn half_width(z: f64, coverage: f64) -> f64 {
    let z = z.abs();
    let wide = z + normal_quantile(0.5 + 0.5 * coverage);
    root(0.0, wide, |r| normal_cdf(z + r) - normal_cdf(z - r) - coverage)
}

/// Two-sided normal tolerance factor by Howe's approximation.
///
/// Formula: k = z_{(1+p)/2} √(ν(1 + 1/n)/χ²_{1−γ,ν}), ν = n − 1. Within 2 % of the exact factor
/// from n = 5. Domain as [`two_sided`]. Source: Howe 1969; NIST/SEMATECH e-Handbook 7.2.6.3.
pub fn howe(n: usize, coverage: f64, confidence: f64) -> f64 {
    if !shares(coverage, confidence) {
        return f64::NAN;
    }
    if n < 2 {
        return f64::INFINITY;
    }
    let (size, nu) = (n as f64, (n - 1) as f64);
    let z = normal_quantile(0.5 + 0.5 * coverage);
    z * (nu * (1.0 + 1.0 / size) / chi2_quantile(1.0 - confidence, nu)).sqrt()
}

/// Howe's factor with Guenther's correction for small samples.
///
/// Formula: k·√(1 + (n − 3 − χ²_{1−γ,n−1})/(2(n + 1)²)). Source: Guenther 1977, as given in the
/// NIST Dataplot help.
pub fn howe_guenther(n: usize, coverage: f64, confidence: f64) -> f64 {
    let plain = howe(n, coverage, confidence);
    if !plain.is_finite() {
        return plain;
    }
    let size = n as f64;
    let chi2 = chi2_quantile(1.0 - confidence, size - 1.0);
    plain * (1.0 + (size - 3.0 - chi2) / (2.0 * (size + 1.0).powi(2))).sqrt()
}

/// One-sided normal tolerance factor, exact: mean + k·s lies above the share `coverage` of the
/// population with probability `confidence`.
///
/// Formula: k = t'_{γ; n−1, z_p√n}/√n with the noncentral t quantile. `one_sided(16, 0.99, 0.95)`
/// = 3.46. Domain as [`two_sided`]. Cost: about 1 ms.
/// Source: NIST/SEMATECH e-Handbook 7.2.6.3; ISO 16269-6:2014.
pub fn one_sided(n: usize, coverage: f64, confidence: f64) -> f64 {
    if !shares(coverage, confidence) {
        return f64::NAN;
    }
    if n < 2 {
        return f64::INFINITY;
    }
    let size = n as f64;
    let shift = normal_quantile(coverage) * size.sqrt();
    noncentral_t_quantile(confidence, size - 1.0, shift) / size.sqrt()
}

/// One-sided factor by Natrella's approximation, for hand checks; NaN where it has no real value.
///
/// Formula: (z_p + √(z_p² − a b))/a, a = 1 − z_γ²/(2(n − 1)), b = z_p² − z_γ²/n.
/// Source: Natrella 1963; NIST/SEMATECH e-Handbook 7.2.6.3.
pub fn natrella(n: usize, coverage: f64, confidence: f64) -> f64 {
    if !shares(coverage, confidence) {
        return f64::NAN;
    }
    if n < 2 {
        return f64::INFINITY;
    }
    let size = n as f64;
    let (zp, zg) = (normal_quantile(coverage), normal_quantile(confidence));
    let a = 1.0 - zg * zg / (2.0 * (size - 1.0));
    let b = zp * zp - zg * zg / size;
    (zp + (zp * zp - a * b).sqrt()) / a
}

/// Fewest samples whose smallest and largest value span `coverage` of any continuous population
/// with `confidence`; `None` outside (0, 1).
///
/// Formula: smallest n with 1 − n p^(n−1) + (n − 1) p^n ≥ γ. Source: Wilks 1941. (0.95, 0.95): 93.
pub fn samples_between_extremes(coverage: f64, confidence: f64) -> Option<u64> {
    let sure = |n: u64| {
        let n = n as f64;
        1.0 - n * coverage.powf(n - 1.0) + (n - 1.0) * coverage.powf(n)
    };
    smallest(coverage, confidence, sure)
}

/// Fewest samples whose largest value lies above the share `coverage` of any continuous
/// population with `confidence`; `None` outside (0, 1).
///
/// Formula: smallest n with 1 − p^n ≥ γ. (0.99, 0.95): 299. Source: Wilks 1941.
pub fn samples_below_largest(coverage: f64, confidence: f64) -> Option<u64> {
    smallest(coverage, confidence, |n| 1.0 - coverage.powf(n as f64))
}

/// The share of any continuous population that lies below the largest of `n` samples, with
/// `confidence`: (1 − γ)^(1/n). Also the lower limit of a rate after n successes in n trials.
///
/// `covered_by_largest(16, 0.95)` = 0.829. n = 0 gives 0; a confidence outside (0, 1) NaN.
pub fn covered_by_largest(n: usize, confidence: f64) -> f64 {
    if !shares(0.5, confidence) {
        return f64::NAN;
    }
    if n == 0 { 0.0 } else { (1.0 - confidence).powf(1.0 / n as f64) }
}

fn smallest(coverage: f64, confidence: f64, sure: impl Fn(u64) -> f64) -> Option<u64> {
    if !shares(coverage, confidence) {
        return None;
    }
    let mut high = 2_u64;
    while sure(high) < confidence {
        high = high.checked_mul(2).filter(|n| *n < 1 << 53)?;
    }
    let mut low = 0;
    while high - low > 1 {
        let middle = low + (high - low) / 2;
        if sure(middle) < confidence { low = middle } else { high = middle }
    }
    Some(high)
}

fn shares(coverage: f64, confidence: f64) -> bool {
    coverage > 0.0 && coverage < 1.0 && confidence > 0.0 && confidence < 1.0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn factors_of_the_dead_zone_rule() {
        for (n, coverage, want) in [
            (8, 0.99, 4.89),
            (10, 0.99, 4.44),
            (16, 0.99, 3.82),
            (16, 0.995, 4.16),
            (20, 0.99, 3.62),
            (24, 0.99, 3.49),
            (30, 0.99, 3.35),
        ] {
            let k = two_sided(n, coverage, 0.95);
            assert!((k - want).abs() < 0.0051, "n {n}: {k} instead of {want}");
        }
        for (n, coverage, want) in
            [(8, 0.99, 4.35), (16, 0.99, 3.46), (6, 0.95, 3.71), (8, 0.95, 3.19)]
        {
            let k = one_sided(n, coverage, 0.95);
            assert!((k - want).abs() < 0.0051, "n {n}: {k} instead of {want}");
        }
    }

    #[test]
    fn exact_factor_meets_howe_for_many_samples() {
        let exact = two_sided(MANY, 0.99, 0.95);
        let howe = howe(MANY, 0.99, 0.95);
        assert!((exact / howe - 1.0).abs() < 1e-6, "{exact} {howe}");
        let endless = two_sided(100_000_000, 0.99, 0.95);
        assert!((endless - 2.575_829).abs() < 1e-3, "{endless}");
    }

    #[test]
    fn too_few_samples_have_no_finite_factor() {
        assert_eq!(two_sided(1, 0.99, 0.95), f64::INFINITY);
        assert_eq!(one_sided(0, 0.99, 0.95), f64::INFINITY);
        assert!(two_sided(16, 1.0, 0.95).is_nan());
        let k = two_sided(2, 0.99, 0.95);
        assert!((45.0..49.0).contains(&k), "{k}");
        assert_eq!(samples_below_largest(1.0, 0.95), None);
        assert_eq!(covered_by_largest(0, 0.95), 0.0);
        assert!((covered_by_largest(16, 0.95) - 0.829).abs() < 5e-4);
    }
}
